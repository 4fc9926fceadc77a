"""How liquids of a mix influence each other's vapour, for the air above an open can: both variants of UNIFAC.

Doors: core/solvents/room_judgement.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from service.core.solvents.activity import Variant, coefficients, missing_for
from service.core.solvents.properties import Component
from service.core.solvents.vapour_of_mix import Gammas
from service.core.solvents.vapour_pressure import ZERO_C_K

_Asked = tuple[tuple[int, ...], tuple[float, ...], float]
_TRACE: Final = 1e-12


def unifac(variant: Variant) -> Gammas:
    """One variant as a function of liquids, mole fractions and C; ``None`` where it cannot be used.

    What was asked once of the same liquids is remembered as long as the function is.
    """
    told: dict[_Asked, list[float] | None] = {}
    lacking: dict[tuple[int, ...], str] = {}

    def gammas(
        liquids: Sequence[Component], fractions: Sequence[float], celsius: float
    ) -> list[float] | None:
        which = tuple(id(one) for one in liquids)
        if which not in lacking:
            lacking[which] = missing_for(liquids, variant)
        asked = (which, tuple(fractions), celsius)
        if asked not in told:
            told[asked] = None if lacking[which] else _at(liquids, fractions, celsius, variant)
        return told[asked]

    return gammas


def both_variants() -> tuple[Gammas, ...]:
    """Both, of which the worse figures count."""
    return tuple(unifac(variant) for variant in Variant)


def _at(
    liquids: Sequence[Component], fractions: Sequence[float], celsius: float, variant: Variant
) -> list[float] | None:
    # A trace below this is as thin as thin can be; the library divides by what it is given.
    shares = [max(x, _TRACE) for x in fractions]
    whole = math.fsum(shares)
    try:
        made = coefficients(liquids, [x / whole for x in shares], variant)(celsius + ZERO_C_K)
    except (OverflowError, ValueError, ZeroDivisionError):
        return None
    factors = [float(one) for one in made]
    return factors if all(0 < one < math.inf for one in factors) else None
