"""Vapour pressure of a pure liquid at a temperature, by published curves. Nothing is estimated in silence.

Doors: core/solvents/vapour_of_mix.py, records/solvent_facts.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

ZERO_C_K: Final = 273.15
ATMOSPHERE_KPA: Final = 101.325
GAS_CONSTANT: Final = 8.314462618
"""J/(mol K), exact since 2019 (SI)."""


class CurveForm(StrEnum):
    """How a curve is written.

    ``perry``: ln(p/Pa) = c1 + c2/T + c3 ln T + c4 T^c5. ``antoine``: log10(p/Pa) = c1 - c2/(T + c3).
    ``two_points``: ln(p/Pa) = c1 - c2/T through two known points (Clausius and Clapeyron).
    """

    PERRY = "perry"
    ANTOINE = "antoine"
    TWO_POINTS = "two_points"


@dataclass(frozen=True)
class Curve:
    """A vapour-pressure curve, T in K, p in Pa, and the range in which its source vouches for it."""

    form: CurveForm
    constants: tuple[float, ...]
    min_k: float
    max_k: float
    source: str
    grade: str
    shift: float = 0.0

    def ln_pa(self, kelvin: float) -> float:
        """Natural logarithm of the pressure in pascal. ``kelvin`` above 0; outside the range it is still
        computed: ask ``covers``.

        Source: forms as in Perry 8th ed. Table 2-8 and Poling 5th ed., appendix A.
        """
        c = self.constants
        if self.form is CurveForm.PERRY:
            return self.shift + c[0] + c[1] / kelvin + c[2] * math.log(kelvin) + c[3] * math.pow(kelvin, c[4])
        if self.form is CurveForm.ANTOINE:
            return self.shift + math.log(10) * (c[0] - c[1] / (kelvin + c[2]))
        return self.shift + c[0] - c[1] / kelvin

    def kpa(self, celsius: float) -> float:
        """Pressure in kPa at a temperature in C.

        >>> water = Curve(CurveForm.ANTOINE, (10.11564, 1687.537, -42.98), 273.2, 473.2, "POLING", "H")
        >>> round(water.kpa(100), 1)
        101.0
        """
        return math.exp(self.ln_pa(celsius + ZERO_C_K)) / 1000

    def through(self, celsius: float, kpa: float, source: str, grade: str) -> Curve:
        """The same curve moved so that it passes through one point: same slope, another height."""
        moved = self.shift + math.log(kpa * 1000) - self.ln_pa(celsius + ZERO_C_K)
        return replace(self, shift=moved, source=f"{source}; {self.source}", grade=grade)

    def covers(self, celsius: float) -> bool:
        """Whether the source vouches for that temperature."""
        return self.min_k <= celsius + ZERO_C_K <= self.max_k


def through_two_points(
    first: tuple[float, float], second: tuple[float, float], source: str, grade: str
) -> Curve:
    """A curve through two points (C, kPa), of different temperature and pressure above zero.

    Source: Clausius and Clapeyron with a constant heat of vaporisation; good near and between the points,
    so the range it vouches for ends 30 C beyond them. Raises ValueError for points that give no rising curve.

    >>> through_two_points((25, 6.3), (97.9, 101.325), "MEM; CRC", "memory").kpa(97.9)  # doctest: +ELLIPSIS
    101.32...
    """
    (t1, p1), (t2, p2) = sorted((first, second))
    if not (0 < p1 < p2 and -ZERO_C_K < t1 < t2):
        raise ValueError("Two points of a vapour-pressure curve rise with temperature.")
    k1, k2 = t1 + ZERO_C_K, t2 + ZERO_C_K
    slope = math.log(p2 / p1) / (1 / k1 - 1 / k2)
    start = math.log(p1 * 1000) + slope / k1
    return Curve(CurveForm.TWO_POINTS, (start, slope), k1 - 30, k2 + 30, source, grade)
