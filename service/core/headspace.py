"""Oxygen in the air above an oil in a closed can, and how much oil it can skin.

Doors: web/api/calc_oxygen.py, core/second_clock.py.

Gas law with 20.95 % oxygen in dry air. A linseed oil takes up about 16 % of its own mass (Gardner, 1911,
p. 17); a later study of seven drying oils on steel found at most 12 % within seven days. Less uptake skins
more oil, so the low figure is the worse one. An estimate that never makes a date later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.core.film_ranges import Span

OXYGEN_SHARE: Final = 0.2095
OXYGEN_G_MOL: Final = 31.998
GAS_J_MOL_K: Final = 8.314462618
UPTAKE: Final = 0.16
OIL_G_ML: Final = 0.93
USUAL_C: Final = 20.0


@dataclass(frozen=True)
class SourcedFigure:
    """A figure of this estimate with whose word it is; grades as in core/sources.py."""

    name: str
    value: float
    unit: str
    source: str
    grade: str


UPTAKES: Final = (
    SourcedFigure(
        "oxygen uptake, least", 0.12, "share",
        "seven drying oils on steel, Surface Coatings International B: at most, within 7 days", "J",
    ),
    SourcedFigure(
        "oxygen uptake, most", UPTAKE, "share", "Gardner, Paint Technology and Tests, 1911, p. 17", "H"
    ),
)  # fmt: skip
UPTAKE_RANGE: Final[Span] = (0.12, UPTAKE)
FASTER_BY_10_C: Final = (
    SourcedFigure(
        "faster for each 10 °C, least", 2.0, "times", "rule of thumb: doubling for each 10 °C", "W"
    ),
    SourcedFigure(
        "faster for each 10 °C, most", 3.0, "times",
        "own arithmetic: linseed oil, 9.7 h at 90 °C to 229 days at about 25 °C gives 2.65, rounded up",
        "derived",
    ),
)  # fmt: skip


def oxygen_g(litres_of_air: float, celsius: float = USUAL_C, pascal: float = 101325.0) -> float:
    """Grams of oxygen in so much air.

    >>> round(oxygen_g(1), 4)
    0.2787
    """
    moles = pascal * litres_of_air * 1e-3 / (GAS_J_MOL_K * (celsius + 273.15))
    return moles * OXYGEN_SHARE * OXYGEN_G_MOL


def oil_spent_g(oxygen: float, uptake: float = UPTAKE) -> float:
    """Grams of oil that so much oxygen can dry at most.

    >>> round(oil_spent_g(0.2787), 2)
    1.74
    """
    return oxygen / uptake


def oil_spent_range_g(oxygen: Span, uptake: Span = UPTAKE_RANGE) -> Span:
    """Grams of oil that oxygen from so much to so much can dry, least and most: most with the least uptake.

    >>> [round(end, 2) for end in oil_spent_range_g((0.2787, 0.2787))]
    [1.74, 2.32]
    """
    return oxygen[0] / uptake[1], oxygen[1] / uptake[0]


def mass_gain_g(oil_g: float, gain_percent: float) -> float:
    """What a drying film takes on.

    >>> round(mass_gain_g(0.1997, 13.1) * 1000, 2)
    26.16
    """
    return oil_g * gain_percent / 100


def skin_um(oil_g: float, surface_cm2: float, oil_g_ml: float = OIL_G_ML) -> float:
    """Micrometres of skin if all of it forms on the free surface.

    >>> round(skin_um(0.93, 100), 6)
    100.0
    """
    return oil_g / oil_g_ml / surface_cm2 * 1e4


def faster_when_warm(celsius: float) -> Span:
    """How many times as fast as at 20 °C, least and most, by the rules of thumb; never less than once.

    A cool shelf slows it, and nothing here counts on that. Meant below about 60 °C.

    >>> faster_when_warm(30), faster_when_warm(5)
    ((2.0, 3.0), (1.0, 1.0))
    """
    tens = max(0.0, (celsius - USUAL_C) / 10)
    least, most = (one.value for one in FASTER_BY_10_C)
    return float(least**tens), float(most**tens)
