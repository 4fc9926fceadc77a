"""Airflow that codes ask of a room whatever is used in it, and what an opening gives while the wind blows.

None of these figures says that vapour is thin enough: they are about breathing air, booths and big floors.

Doors: core/solvents/room_judgement.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from service.core.findings import Finding, Invalid, warn
from service.core.solvents.vapour_pressure import ZERO_C_K
from service.core.sources import Cited, Provenance

M3_H_PER_CFM: Final = 1.699010796
_GRAVITY: Final = 9.80665
ONLY_WHILE_IT_BLOWS: Final = warn(
    "only-while-it-blows",
    "Air through a window or door comes only while it blows or while it is colder outside. "
    "A still day gives none; do not count on it.",
)


@dataclass(frozen=True)
class CodeRate:
    """Outdoor air by people (cfm each) and floor (cfm/ft2); default people on 1000 ft2; exhaust (cfm/ft2)."""

    people_cfm: float
    floor_cfm_ft2: float
    people_per_1000_ft2: float
    exhaust_cfm_ft2: float | None
    cited: Cited


def _table(row: str) -> Cited:
    note = f"{row}; exhaust read in a second-hand table of table 6-2"
    return Cited("ASHRAE 62.1", "2016", "table 6-1", note, Provenance.READ)


CODE_RATES: Final = {
    "art_classroom": CodeRate(10, 0.18, 20, 0.7, _table("art classroom")),
    "wood_or_metal_shop": CodeRate(10, 0.18, 20, 0.5, _table("wood/metal shop")),
    "science_laboratory": CodeRate(10, 0.18, 25, 1.0, _table("science laboratory")),
    "classroom": CodeRate(10, 0.12, 35, None, _table("classroom, age 9 and more")),
}


def outdoor_air_cfm(rate: CodeRate, floor_ft2: float, people: float) -> float:
    """Outdoor air in ft3/min: Rp P + Ra A.

    >>> round(outdoor_air_cfm(CODE_RATES["art_classroom"], 1000, 20))
    380
    """
    _not_below_zero(floor_ft2, people)
    return rate.people_cfm * people + rate.floor_cfm_ft2 * floor_ft2


def outdoor_air_per_person_cfm(rate: CodeRate) -> float:
    """The same for each of the default number of people.

    >>> round(outdoor_air_per_person_cfm(CODE_RATES["art_classroom"]))
    19
    """
    return outdoor_air_cfm(rate, 1000, rate.people_per_1000_ft2) / rate.people_per_1000_ft2


def exhaust_cfm(rate: CodeRate, floor_ft2: float) -> float | None:
    """Exhaust in ft3/min by floor area; ``None`` where the table has no figure.

    >>> exhaust_cfm(CODE_RATES["wood_or_metal_shop"], 1500)
    750.0
    """
    _not_below_zero(floor_ft2)
    return None if rate.exhaust_cfm_ft2 is None else rate.exhaust_cfm_ft2 * floor_ft2


def room_volume(length: float, width: float, height: float) -> float:
    """Volume of a box of a room, in the cube of its unit.

    >>> room_volume(20, 14, 12)
    3360
    """
    _not_below_zero(length, width, height)
    return length * width * height


def flow_for_changes(volume: float, changes_h: float) -> float:
    """Airflow in a minute, in the unit of the volume, for a number of air changes in an hour.

    >>> flow_for_changes(1080, 6)
    108.0
    """
    _not_below_zero(volume, changes_h)
    return volume * changes_h / 60


def air_changes(flow: float, volume: float) -> float:
    """Air changes in the time unit of the flow: cfm x 60 over ft3, or m3/h over m3. Volume above 0.

    >>> air_changes(700 * 60, 10_000)
    4.2
    """
    if not volume > 0:
        raise Invalid("A room has a volume above zero.")
    return flow / volume


def booth_cfm(opening_ft2: float, feet_per_minute: float = 100.0) -> float:
    """Air in ft3/min so that it enters a booth's opening at a speed; IFC 2404.7.3.1 asks 100 ft/min.

    That is a figure against fire (OSHA STD 01-05-010); it does not show that exposure limits are met.

    >>> booth_cfm(49)
    4900.0
    """
    _not_below_zero(opening_ft2, feet_per_minute)
    return opening_ft2 * feet_per_minute


def is_limited_spraying_space(sprayed_ft2: float, mechanical_changes_h: float) -> bool:
    """Whether a place may count as a limited spraying space: at most 9 ft2, at least 6 changes an hour.

    Source: IFC 2404.9 (2018, read as adopted in Minnesota 2020). Spraying that is not continuous, and the
    electrics of 2404.9.2, are asked for besides.

    >>> is_limited_spraying_space(9, 6), is_limited_spraying_space(9.5, 6), is_limited_spraying_space(9, 5.9)
    (True, False, False)
    """
    return sprayed_ft2 <= 9 and mechanical_changes_h >= 6


def floor_finishing_exhaust_cfm(floor_ft2: float, liquid_class: str) -> float:
    """Exhaust in ft3/min that finishing a floor needs: 1 cfm/ft2 above 350 ft2 with Class I or II; else 0.

    Source: IFC 2410.5 (2018).

    >>> floor_finishing_exhaust_cfm(400, "II"), floor_finishing_exhaust_cfm(350, "II")
    (400.0, 0.0)
    """
    flammable = liquid_class.strip().upper() in {"I", "IA", "IB", "IC", "II"}
    return float(floor_ft2) if flammable and floor_ft2 > 350 else 0.0


@dataclass(frozen=True)
class OpeningAir:
    """What an opening gives, m3/h, and the finding that must stand beside it."""

    m3_h: float
    discharge: float
    finding: Finding = ONLY_WHILE_IT_BLOWS


def wind_through(area_m2: float, wind_m_s: float, effectiveness: float = 0.5) -> OpeningAir:
    """Cross-ventilation: Cv A U. 0.5 to 0.6 for wind straight on, with as large an outlet on another wall.

    >>> round(wind_through(0.5, 2).m3_h)
    1800
    """
    _not_below_zero(area_m2, wind_m_s, effectiveness)
    return OpeningAir(effectiveness * area_m2 * wind_m_s * 3600, effectiveness)


def one_sided_wind(area_m2: float, wind_m_s: float) -> OpeningAir:
    """A single window, 0.025 A U (from memory): twenty times less than across the room.

    >>> round(one_sided_wind(0.5, 2).m3_h)
    90
    """
    return wind_through(area_m2, wind_m_s, 0.025)


def warmth_through(area_m2: float, height_m: float, inside_c: float, outside_c: float) -> OpeningAir:
    """Air that a difference of temperature drives through one opening, both ways; none where there is none.

    ``height_m`` from the middle of the opening to the neutral level. Source: ASHRAE Fundamentals 1997,
    equations 37 and 38, as quoted in a textbook; of the two kelvins the warmer one divides.

    >>> air = warmth_through(0.5, 0.5, 20, 10)
    >>> round(air.discharge, 3), round(air.m3_h)
    (0.445, 463)
    """
    _not_below_zero(area_m2, height_m)
    if min(inside_c, outside_c) <= -ZERO_C_K:
        raise Invalid("A temperature is above absolute zero.")
    apart = abs(inside_c - outside_c)
    discharge = 0.40 + 0.0045 * apart
    speed = math.sqrt(2 * _GRAVITY * height_m * apart / (max(inside_c, outside_c) + ZERO_C_K))
    return OpeningAir(discharge * area_m2 * speed * 3600, discharge)


def of_both(wind: OpeningAir, warmth: OpeningAir) -> OpeningAir:
    """Wind and warmth together: the larger of them, not the sum."""
    return max(wind, warmth, key=lambda one: one.m3_h)


def _not_below_zero(*figures: float) -> None:
    if any(not one >= 0 for one in figures):
        raise Invalid("Areas, people and speeds are zero or more.")
