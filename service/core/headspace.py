"""Oxygen in the air above an oil in a closed can, and how much oil it can skin.

Doors: web/api/calc_oxygen.py.

Gas law with 20.95 % oxygen in dry air; a linseed oil takes up about 16 % of its own mass (Gardner, 1911,
p.17; later work: at most 12 %). Less uptake skins more oil, so the low figure is the worse one. An estimate
that never makes a date later.
"""

from __future__ import annotations

from typing import Final

OXYGEN_SHARE: Final = 0.2095
OXYGEN_G_MOL: Final = 31.998
GAS_J_MOL_K: Final = 8.314462618
UPTAKE: Final = 0.16
OIL_G_ML: Final = 0.93


def oxygen_g(litres_of_air: float, celsius: float = 20.0, pascal: float = 101325.0) -> float:
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
