"""How much fresh air a release needs: to stay at a quarter of what can burn, and under the limits of breath.

Doors: core/solvents/room_judgement.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

from typing import Final

from service.core.findings import Invalid
from service.core.solvents.burning_limits import HOT_C

QUARTER: Final = 0.25
"""The part of the lower limit at which spray finishing, dip tanks and dangerous amounts are drawn."""

CUBIC_FEET_PER_PINT: Final = 403.0
"""Of vapour at 70 F from a US pint of specific gravity 1 and molar mass 1, as the manuals round it."""

_PPM: Final = 1_000_000.0


def air_to_quarter(vapour: float, lower_limit: float) -> float:
    """Air that brings an amount (or flow) of vapour to 25 % of its lower limit, in the unit of the vapour.

    Source: 29 CFR 1910.94(c)(6)(ii), from memory: 4 (100 - LEL)/LEL. Limit in vol%, above 0 to 100.

    >>> round(air_to_quarter(30.4, 1.4))
    8564
    """
    if not 0 < lower_limit <= 100:
        raise Invalid("A lower limit is above 0 and at most 100 vol%.")
    return 4 * (100 - lower_limit) / lower_limit * vapour


def air_to_level(vapour: float, level_ppm: float, mixing_factor: float = 1.0) -> float:
    """Air that thins an amount (or flow) of vapour to a level, in the unit of the vapour. Level above 0.

    Source: dilution for health, ventilation manuals: Q = K G / C.

    >>> round(air_to_level(0.3289, 0.25 * 25_000), 1)
    52.6
    """
    if not level_ppm > 0:
        raise Invalid("The level to thin to is above zero.")
    return vapour * _PPM * mixing_factor / level_ppm


def vapour_cfm(specific_gravity: float, pints_per_minute: float, molar_mass: float) -> float:
    """Vapour in ft3/min from US pints a minute: 403 SG ER / MW. Molar mass above 0.

    >>> round(vapour_cfm(1.32, 0.025, 133.4), 4)
    0.0997
    """
    return CUBIC_FEET_PER_PINT * specific_gravity * pints_per_minute / molar_mass


def health_cfm(
    specific_gravity: float, pints_per_minute: float, molar_mass: float, ppm: float, mixing_factor: float
) -> float:
    """Dilution air in ft3/min for a limit in ppm, as the manuals write it; of vapours that act alike the sum.

    >>> round(health_cfm(1.32, 0.025, 133.4, 350, 5))
    1424
    """
    return air_to_level(vapour_cfm(specific_gravity, pints_per_minute, molar_mass), ppm, mixing_factor)


def fire_cfm(
    vapour_flow_cfm: float, lower_limit: float, *, safety: float = 4.0, celsius: float = 21.1
) -> float:
    """Dilution air in ft3/min against fire, at the temperature it is hot: safety 4 for 25 % of the limit.

    Source: ACGIH manual, from memory: above 121 C the limit counts 0.7, and hot air needs more volume.

    >>> round(fire_cfm(1.0, 1.0)), round(fire_cfm(1.0, 1.0, celsius=176.67))
    (400, 873)
    """
    held = 0.7 if celsius > HOT_C else 1.0
    fahrenheit = celsius * 1.8 + 32
    return vapour_flow_cfm * 100 * safety / (lower_limit * held) * (460 + fahrenheit) / 530
