"""Vapour in a room whose air is mixed: how a level rises, stands and falls. Any unit of level per m3.

It is the average of the room. Near the can it is higher.

Doors: core/solvents/room_judgement.py, web/api/calc_vapour.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from service.core.findings import Invalid

UNPLANNED_MIXING: Final = 10.0
"""The mixing factor where nobody told one: an open window with no plan behind it."""


@dataclass(frozen=True)
class Room:
    """A room: m3, fresh air in m3/h, and the mixing factor, 1 (perfect) to 10 (bad), that divides it.

    Raises Invalid for a volume not above 0, an airflow below 0 or a mixing factor below 1.
    """

    volume_m3: float
    airflow_m3_h: float
    mixing_factor: float = UNPLANNED_MIXING

    def __post_init__(self) -> None:
        if not (0 < self.volume_m3 < math.inf and 0 <= self.airflow_m3_h < math.inf):
            raise Invalid("A room has a volume above zero and an airflow of zero or more, in m3 and m3/h.")
        check_mixing(self.mixing_factor)

    @property
    def effective_m3_h(self) -> float:
        """What the air is worth: airflow over mixing factor."""
        return self.airflow_m3_h / self.mixing_factor

    @property
    def turnovers(self) -> float:
        """Effective air changes in an hour."""
        return self.effective_m3_h / self.volume_m3


def check_mixing(factor: float) -> None:
    """Refuses a mixing factor below 1, which belongs to the other convention. Raises Invalid."""
    if not 1 <= factor < math.inf:
        right = f" An efficiency of {factor:g} is a factor of {1 / factor:.4g}." if 0 < factor < 1 else ""
        sentence = (
            "The mixing factor is 1 for perfect mixing and up to 10 for bad mixing; it divides the airflow. "
            "Some books write an efficiency from 0 to 1 by which it is multiplied: give 1 over that."
            f"{right}"
        )
        raise Invalid(sentence, {"mixing_factor": sentence})


@dataclass(frozen=True)
class Release:
    """What goes into the air: ``at_once`` at the beginning, and ``per_hour`` for ``hours`` (None: for good).

    In units of the level times m3: mg for mg/m3, m3 of vapour times a million for ppm.
    """

    per_hour: float = 0.0
    hours: float | None = None
    at_once: float = 0.0


def level(room: Room, start: float, per_hour: float, hours: float) -> float:
    """The level after some hours of a steady release from ``start``. Without one it falls; never below 0.

    Source: balance V dC/dt = G - Q'C; ventilation manuals' build-up and decay equations.

    >>> round(level(Room(1, 0.5, 1), 0, 1, 10 / 60), 4)
    0.1599
    """
    a = room.turnovers * hours
    return start * math.exp(-a) + per_hour * hours / room.volume_m3 * _filled(a)


def mean_level(room: Room, start: float, per_hour: float, hours: float) -> float:
    """The average over the hours of a steady release. ``hours`` above 0.

    >>> round(mean_level(Room(30, 90, 3), 0, 97_500, 2))
    1845
    """
    a = room.turnovers * hours
    return start * _filled(a) + per_hour * hours / room.volume_m3 * _half_filled(a)


def level_at(room: Room, start: float, release: Release, hours: float) -> float:
    """The level at a moment, in hours from the beginning of the release, through its end and after."""
    first = start + release.at_once / room.volume_m3
    if release.hours is None or hours <= release.hours:
        return level(room, first, release.per_hour, hours)
    end = level(room, first, release.per_hour, release.hours)
    return level(room, end, 0.0, hours - release.hours)


def mean_over(room: Room, start: float, release: Release, hours: float) -> float:
    """The average from the beginning to a moment above 0, through the end of the release."""
    first = start + release.at_once / room.volume_m3
    if release.hours is None or hours <= release.hours:
        return mean_level(room, first, release.per_hour, hours)
    during = mean_level(room, first, release.per_hour, release.hours) * release.hours
    end = level(room, first, release.per_hour, release.hours)
    rest = hours - release.hours
    return (during + mean_level(room, end, 0.0, rest) * rest) / hours


def steady_level(room: Room, per_hour: float) -> float | None:
    """Where a release for good ends; ``None``: without air it never does.

    >>> steady_level(Room(50, 100, 2), 500.0), steady_level(Room(50, 0), 1.0)
    (10.0, None)
    """
    if per_hour == 0:
        return 0.0
    steady = per_hour / room.effective_m3_h if room.effective_m3_h > 0 else math.inf
    return steady if steady < math.inf else None


@dataclass(frozen=True)
class Peak:
    """The highest level and when, in hours; ``hours`` None: it is only neared, never reached."""

    level: float
    hours: float | None


def peak(room: Room, start: float, release: Release) -> Peak | None:
    """The highest level of the whole course; ``None``: it rises for good, because no air takes it away."""
    first = start + release.at_once / room.volume_m3
    if release.hours is not None:
        end = level(room, first, release.per_hour, release.hours)
        return Peak(end, release.hours) if end > first else Peak(first, 0.0)
    steady = steady_level(room, release.per_hour)
    if steady is None:
        return None
    return Peak(steady, None) if steady > first else Peak(first, 0.0)


def purge_hours(room: Room, start: float, target: float) -> float | None:
    """Hours of air alone from one level down to another above 0; ``None``: without air never.

    >>> round((purge_hours(Room(100_000, 6000 * 60, 3), 100, 25) or 0) * 60, 1)
    69.3
    """
    if not target > 0:
        raise Invalid("The level to come down to is above zero: air alone never takes all of it away.")
    if start <= target:
        return 0.0
    return math.log(start / target) / room.turnovers if room.turnovers > 0 else None


def rise_hours(room: Room, start: float, per_hour: float, target: float) -> float | None:
    """Hours of a steady release until a level is reached; ``None``: it never is.

    >>> round(rise_hours(Room(1, 1, 1), 0, 1, 0.5) or 0, 4)
    0.6931
    """
    if target <= start:
        return 0.0
    if per_hour <= 0:
        return None
    if room.effective_m3_h == 0:
        return (target - start) * room.volume_m3 / per_hour
    left = per_hour - room.effective_m3_h * target
    if left <= 0:
        return None
    return math.log((per_hour - room.effective_m3_h * start) / left) / room.turnovers


def _filled(a: float) -> float:
    """(1 - e^-a)/a, also for a near zero, where there is no air."""
    return -math.expm1(-a) / a if a > 0 else 1.0


def _half_filled(a: float) -> float:
    """(1 - (1 - e^-a)/a)/a; near zero by its series, in which nothing cancels."""
    return 0.5 - a / 6 + a * a / 24 if a < 1e-3 else (1 - _filled(a)) / a
