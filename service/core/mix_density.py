"""The density of a mix from the masses and densities of its materials, as a range; volumes add up.

Doors: actions/meet_amount.py.

Volumes of liquids that mix add up to within some per cent (common practice, no source); a powder takes the
room of its grains, so its true density counts here and never its loose one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

_MOST_ROUNDS: Final = 200


@dataclass(frozen=True)
class PartOfMix:
    """From ``low`` to ``high`` of a mass (any unit, the same for all), and the true density in g/ml."""

    low: Fraction
    high: Fraction
    g_ml: Fraction


def density_of(parts: Sequence[PartOfMix]) -> tuple[Fraction, Fraction] | None:
    """The lowest and highest density in g/ml that the mix can have; None for nothing at all.

    >>> one, two = Fraction(1), Fraction(2)
    >>> density_of([PartOfMix(one, one, one), PartOfMix(two, two, two)])
    (Fraction(3, 2), Fraction(3, 2))
    """
    told = [part for part in parts if part.high > 0]
    if not told:
        return None
    return _extreme(told, heavy=False), _extreme(told, heavy=True)


def _extreme(parts: Sequence[PartOfMix], *, heavy: bool) -> Fraction:
    """For the heaviest mix what is heavier than it takes its upper end, all else its lower one."""
    at = max(part.g_ml for part in parts) if heavy else min(part.g_ml for part in parts)
    for _ in range(_MOST_ROUNDS):
        masses = [part.high if (part.g_ml >= at) is heavy or part.g_ml == at else part.low for part in parts]
        volume = sum((m / part.g_ml for m, part in zip(masses, parts, strict=True)), Fraction(0))
        if volume == 0:
            return at
        now = sum(masses, Fraction(0)) / volume
        if now == at:
            break
        at = now
    return at
