"""The lower limit above which vapour in air can burn: of a mix, at a temperature, and estimated if asked.

Doors: core/solvents/vapour_of_mix.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from service.core.findings import Invalid

HOT_C: Final = 121.0
"""250 F. Above it the ventilation manuals take 0.7 of the limit."""

ESTIMATED: Final = "estimated"
_HOT_FACTOR: Final = 0.7
_TESTED_AT_C: Final = 25.0
_BURGESS_WHEELER: Final = 0.000721
_ZABETAKIS: Final = 0.75
_LEAST: Final = 0.05
_FORMULA: Final = re.compile(r"(?:C[0-9]{0,3}|H[0-9]{0,3}|O[0-9]{0,3}){1,12}", re.ASCII)


def limit_of_mix(shares: Sequence[float], limits: Sequence[float]) -> float:
    """The lower limit, vol%, of vapours that burn, by their shares in the vapour (brought to a whole here).

    Source: Le Chatelier 1891; Mashuga and Crowl, Process Safety Progress 19 (2000). Raises Invalid for no
    share above zero, a share below it, or a limit that is not above zero.

    >>> round(limit_of_mix([0.5, 0.5], [1.0, 3.1]), 4)
    1.5122
    """
    total = sum(shares)
    if not shares or min(shares) < 0 or total <= 0 or any(not limit > 0 for limit in limits):
        raise Invalid("A lower limit of a mix needs shares of zero or more and limits above zero.")
    return total / sum(share / limit for share, limit in zip(shares, limits, strict=True))


def share_of_limit(vol_percents: Sequence[float], limits: Sequence[float]) -> float:
    """How far actual air is on the way to burning: 1 and more can burn. Vol% in the air, limits in vol%.

    >>> round(share_of_limit([0.6, 1.0], [1.0, 3.1]), 4)
    0.9226
    """
    return sum(level / limit for level, limit in zip(vol_percents, limits, strict=True))


def limit_at(limit_25c: float, celsius: float, heat_kcal_mol: float | None = None) -> float:
    """A lower limit known at 25 C (vol%), at another temperature in C.

    Falls by the net heat of combustion where it is known (Zabetakis), else by 0.0721 % for each degree
    (Burgess and Wheeler); above 121 C it is at most 0.7 of it. In the cold it is not raised: figures at
    25 C are no surer than that. Never below a twentieth of it. Formulas from memory.

    >>> round(limit_at(1.1, 60, 901.6), 3), round(limit_at(1.0, 176.7), 1), limit_at(1.1, 0)
    (1.068, 0.7, 1.1)
    """
    warmer = max(0.0, celsius - _TESTED_AT_C)
    fall = _BURGESS_WHEELER * warmer if heat_kcal_mol is None else _ZABETAKIS * warmer / heat_kcal_mol
    factor = max(_LEAST, 1 - fall)
    return limit_25c * (min(factor, _HOT_FACTOR) if celsius > HOT_C else factor)


def estimated_limits(carbon: int, hydrogen: int, oxygen: int) -> tuple[float, float]:
    """Lower and upper limit, vol%, guessed from a formula of carbon, hydrogen and oxygen. Mark it estimated.

    Source: Jones, as in Crowl and Louvar; from memory. Raises Invalid for a formula that does not burn.

    >>> [round(limit, 2) for limit in estimated_limits(6, 14, 0)]
    [1.19, 7.57]
    """
    needed = 4.76 * carbon + 1.19 * hydrogen - 2.38 * oxygen + 1
    if carbon < 1 or hydrogen < 0 or oxygen < 0 or needed <= 1:
        raise Invalid(
            "No lower limit can be estimated from this formula: it needs carbon that is not burnt yet."
        )
    return 55 / needed, min(100.0, 350 / needed)


def atoms_of(formula: str) -> tuple[int, int, int]:
    """Carbon, hydrogen and oxygen of a formula such as C6H14O2. Raises Invalid for any other element.

    >>> atoms_of("C3H6O")
    (3, 6, 1)
    """
    if not _FORMULA.fullmatch(formula):
        raise Invalid(f"{formula[:40]} is no formula of carbon, hydrogen and oxygen alone, like C3H6O.")
    counted = {"C": 0, "H": 0, "O": 0}
    for sign, count in re.findall(r"([CHO])([0-9]*)", formula):
        counted[sign] += int(count) if count else 1
    return counted["C"], counted["H"], counted["O"]
