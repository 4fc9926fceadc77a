"""How fast an open liquid evaporates, by two published models and a coefficient. All are upper bounds.

The liquid cools itself while it evaporates; the models take it to be as warm as the room.

Doors: core/solvents/room_judgement.py (an open surface), web/api/calc_vapour.py (words for a relative rate).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Invalid
from service.core.solvents.vapour_pressure import GAS_CONSTANT, ZERO_C_K

PASCAL_PER_MMHG: Final = 133.322
_SLOW_AIR_M_S: Final = 0.508


def by_coefficient(k_m_s: float, molar_mass: float, area_m2: float, kpa: float, celsius: float) -> float:
    """g/s from a mass-transfer coefficient in m/s: k M A p / (R T).

    >>> round(by_coefficient(0.949 * 0.3048 / 60, 92.14, 1.824, 28.2 * 0.133322, 25), 2)
    1.23
    """
    _check(area_m2, kpa, celsius)
    return k_m_s * molar_mass * area_m2 * kpa * 1000 / (GAS_CONSTANT * (celsius + ZERO_C_K))


def from_pool(molar_mass: float, area_m2: float, kpa: float, celsius: float, air_m_s: float) -> float:
    """g/s from a pool in moving air (m/s), area in m2, pressure in kPa.

    Source: EPA risk management guidance, from memory; k = 0.0067 U^0.78 (18/M)^(1/3) m/s, derived again.

    >>> round(from_pool(92.14, 1.0, 28.5 * 0.133322, 25, 0.508), 3)
    0.324
    """
    if not (molar_mass > 0 and air_m_s >= 0):
        raise Invalid("A pool needs a molar mass above zero and a speed of air of zero or more.")
    return by_coefficient(
        0.0067 * math.pow(air_m_s, 0.78) * math.pow(18 / molar_mass, 1 / 3), molar_mass, area_m2, kpa, celsius
    )


def from_open_surface(
    molar_mass: float, area_m2: float, length_m: float, kpa: float, celsius: float, air_m_s: float
) -> float:
    """g/s from an open surface in slow air, to 0.508 m/s (100 ft/min); ``length_m`` along the air.

    Source: EPA open-surface model, from memory. Raises Invalid for faster air: use ``from_pool``.

    >>> round(from_open_surface(92.14, 1.0, 1.0, 28.5 * 0.133322, 25, 0.508), 3)
    0.356
    """
    _check(area_m2, kpa, celsius)
    if not 0 <= air_m_s <= _SLOW_AIR_M_S + 1e-9:
        raise Invalid("This model holds for air up to 0.508 m/s. Take the one of a pool for faster air.")
    if not (molar_mass > 0 and length_m > 0):
        raise Invalid("An open surface needs a molar mass and a length above zero.")
    mmhg = kpa * 1000 / PASCAL_PER_MMHG
    feet_per_minute = air_m_s / 0.3048 * 60
    kelvin = celsius + ZERO_C_K
    moving = math.pow(molar_mass, 0.835) * mmhg * math.pow(1 / 29 + 1 / molar_mass, 0.25)
    return (
        8.24e-8 * moving * math.sqrt(feet_per_minute) * area_m2 * 10_000
        / (math.pow(kelvin, 0.05) * math.sqrt(length_m * 100))
    )  # fmt: skip


@dataclass(frozen=True)
class Surface:
    """An open liquid: m2, its length along the air in m, and the speed of the air over it in m/s."""

    area_m2: float
    length_m: float
    air_m_s: float


def from_surface(surface: Surface, molar_mass: float, kpa: float, celsius: float) -> float:
    """g/s, the higher of the two models; of faster air than 0.508 m/s the one of a pool.

    >>> round(from_surface(Surface(1.0, 1.0, 0.508), 92.14, 28.5 * 0.133322, 25), 3)
    0.356
    """
    pool = from_pool(molar_mass, surface.area_m2, kpa, celsius, surface.air_m_s)
    if surface.air_m_s > _SLOW_AIR_M_S:
        return pool
    slow = from_open_surface(molar_mass, surface.area_m2, surface.length_m, kpa, celsius, surface.air_m_s)
    return max(pool, slow)


class Speed(StrEnum):
    """How fast a liquid leaves, against n-butyl acetate = 1."""

    FAST = "fast"
    MEDIUM = "medium"
    SLOW = "slow"


def speed_of(relative_rate: float) -> Speed:
    """Above 3 fast, 0.8 to 3 medium, below slow. Source: glossaries of safety data sheets.

    >>> [speed_of(rate).value for rate in (5.6, 3, 0.8, 0.3)]
    ['fast', 'medium', 'medium', 'slow']
    """
    if relative_rate > 3:
        return Speed.FAST
    return Speed.MEDIUM if relative_rate >= 0.8 else Speed.SLOW


def _check(area_m2: float, kpa: float, celsius: float) -> None:
    if not (area_m2 >= 0 and kpa >= 0 and celsius > -ZERO_C_K):
        raise Invalid("Area and vapour pressure are zero or more, the temperature above absolute zero.")
