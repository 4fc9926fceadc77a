"""How much vapour a liquid gives, and how much of it the air above it can hold.

Doors: core/solvents/vapour_of_mix.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

from typing import Final

from service.core.findings import Invalid
from service.core.solvents.vapour_pressure import ATMOSPHERE_KPA, ZERO_C_K

LITRES_PER_MOLE_25C: Final = 24.45
"""Of any gas at 25 C and 101.325 kPa, as the bodies that set exposure limits round it."""

CUBIC_FEET_PER_POUND_MOLE_70F: Final = 386.8
_POUNDS_PER_GALLON: Final = 8.345404
_PPM: Final = 1_000_000.0


def molar_volume_l(celsius: float) -> float:
    """Litres of one mole of vapour at a temperature in C, above -273, at 101.325 kPa.

    Raises Invalid at or below absolute zero.

    >>> molar_volume_l(25), round(molar_volume_l(20), 2)
    (24.45, 24.04)
    """
    if celsius <= -ZERO_C_K:
        raise Invalid(f"The air cannot be at {celsius:g} C. Correct the temperature.")
    return LITRES_PER_MOLE_25C * (celsius + ZERO_C_K) / (25 + ZERO_C_K)


def vapour_litres_per_litre(density_g_ml: float, molar_mass: float) -> float:
    """Litres of vapour at 25 C from one litre of liquid. Density in g/ml and molar mass in g/mol, above 0.

    Source: formula F1 of the reference, from the ideal gas.

    >>> round(vapour_litres_per_litre(0.8669, 92.138))
    230
    """
    _above_zero(density_g_ml=density_g_ml, molar_mass=molar_mass)
    return LITRES_PER_MOLE_25C * density_g_ml * 1000 / molar_mass


def vapour_cubic_feet_per_gallon(density_g_ml: float, molar_mass: float) -> float:
    """Cubic feet of vapour at 70 F from one US gallon, as 29 CFR 1910.94 Table G-11 lists it.

    >>> round(vapour_cubic_feet_per_gallon(0.8669, 92.138), 1)
    30.4
    """
    _above_zero(density_g_ml=density_g_ml, molar_mass=molar_mass)
    return density_g_ml * _POUNDS_PER_GALLON * CUBIC_FEET_PER_POUND_MOLE_70F / molar_mass


def litres_per_litre_as_cubic_feet_per_gallon(litres: float) -> float:
    """Litres of vapour at 25 C per litre of liquid, as cubic feet at 70 F per US gallon.

    >>> round(litres_per_litre_as_cubic_feet_per_gallon(vapour_litres_per_litre(0.8669, 92.138)), 1)
    30.4
    """
    return litres * _POUNDS_PER_GALLON * CUBIC_FEET_PER_POUND_MOLE_70F / (LITRES_PER_MOLE_25C * 1000)


def mg_per_m3(ppm: float, molar_mass: float, celsius: float = 25.0) -> float:
    """Parts per million by volume as mg in a cubic metre of air at that temperature.

    Source: the conversion lines of the NIOSH Pocket Guide, at 25 C.

    >>> round(mg_per_m3(1, 136), 2)
    5.56
    """
    return ppm * molar_mass / molar_volume_l(celsius)


def ppm_of(mg_m3: float, molar_mass: float, celsius: float = 25.0) -> float:
    """mg/m3 as parts per million by volume. ``molar_mass`` in g/mol, above 0.

    >>> round(ppm_of(188.5, 46.1))
    100
    """
    _above_zero(molar_mass=molar_mass)
    return mg_m3 * molar_volume_l(celsius) / molar_mass


def saturation_ppm(kpa: float) -> float:
    """What the air just above a liquid holds, from its vapour pressure in kPa (0 or more), at 101.325 kPa.

    Of a component of a mix give its partial pressure: mole fraction times activity coefficient times that of
    the pure liquid. Never more than all of the air.

    >>> round(saturation_ppm(24.66))
    243375
    """
    if kpa < 0:
        raise Invalid("A vapour pressure is zero or more.")
    return _PPM * min(1.0, kpa / ATMOSPHERE_KPA)


def vapour_hazard_ratio(kpa: float, limit_ppm: float) -> float:
    """How many times the air above an open can is over the limit of what people breathe. Limit above 0.

    >>> round(vapour_hazard_ratio(24.66, 500), 1)
    486.8
    """
    _above_zero(limit=limit_ppm)
    return saturation_ppm(kpa) / limit_ppm


def grams_to_fill(
    level_vol_percent: float, molar_mass: float, litres_per_mole: float = LITRES_PER_MOLE_25C
) -> float:
    """Grams of vapour in a cubic metre of air at a level in per cent by volume, such as the lower limit.

    >>> round(grams_to_fill(0.7, 144))
    41
    """
    _above_zero(litres_per_mole=litres_per_mole)
    return level_vol_percent / 100 * molar_mass / litres_per_mole * 1000


def _above_zero(**figures: float) -> None:
    for name, value in figures.items():
        if not value > 0:
            words = name.replace("_", " ").removesuffix(" g ml")
            raise Invalid(f"The {words} is {value:g}; it must be above zero.")
