"""Kinematic viscosity of a blend at 40 °C, for the test of aspiration hazard. Rough: a measured value wins.

Doors: web/api/calc_flash_point.py.

Source: viscosity blending numbers after Maples, Petroleum Refinery Process Economics, 2nd ed., with mass
fractions (other pages take volume fractions; little differs where densities are close).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

THINNEST_MM2_S: Final = 0.2
"""The double logarithm ends here: nothing thinner can be blended."""


@dataclass(frozen=True)
class Blend:
    """The blending number and the viscosity in mm2/s at 40 C."""

    number: float
    mm2_s: float


def blend_viscosity(mass_fractions: Sequence[float], mm2_s: Sequence[float]) -> Blend:
    """The viscosity of a blend from mass fractions (they are brought to 1) and viscosities in mm2/s at 40 C.

    Raises ValueError for nothing, a sum of zero, or a viscosity of 0.2 mm2/s and less.

    >>> b = blend_viscosity([0.6, 0.4], [5.0, 20.0])
    >>> round(b.number, 3), round(b.mm2_s, 3)
    (22.348, 8.109)
    """
    whole = sum(mass_fractions)
    if not mm2_s or whole <= 0 or any(one <= THINNEST_MM2_S for one in mm2_s):
        raise ValueError("A blend needs masses above zero and viscosities above 0.2 mm²/s.")
    number = sum(w / whole * _number(v) for w, v in zip(mass_fractions, mm2_s, strict=True))
    return Blend(number, math.exp(math.exp((number - 10.975) / 14.534)) - 0.8)


def _number(mm2_s: float) -> float:
    return 14.534 * math.log(math.log(mm2_s + 0.8)) + 10.975
