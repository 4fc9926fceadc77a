"""Reading ``seed_data/demo`` and laying its scenes on the days and hours before the moment of loading."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

from service.core.jobs import ShiftHours

Scene = Mapping[str, Any]

FOLDER: Final = Path(__file__).resolve().parents[2] / "seed_data" / "demo"
LAST_HOURS: Final = timedelta(hours=3)
LEAST: Final = timedelta(seconds=20)
"""Just after midnight the last hours are short; never shorter than this."""
FIRST_DAY: Final = 42


@cache
def read(name: str) -> Mapping[str, Any]:
    """One file of the demo."""
    with (FOLDER / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)


@dataclass(frozen=True)
class Times:
    """When everything happens, seen from the moment of loading in the shop's zone.

    ``begin`` to ``end`` are the last hours: what happens in them belongs to one day of the shop, so that no
    midnight parts a draw from the rags it makes. ``end`` is the moment of loading, or at most twenty seconds
    later when it is loaded at the stroke of midnight.
    """

    zone: ZoneInfo
    begin: datetime
    end: datetime

    @property
    def today(self) -> date:
        return self.end.astimezone(self.zone).date()

    def on(self, days_back: int, at: time) -> datetime:
        """A moment so many days back, at an hour of the shop's clock."""
        local = datetime.combine(self.today - timedelta(days=days_back), at, tzinfo=self.zone)
        return local.astimezone(UTC)

    def part(self, share: float) -> datetime:
        """A moment in the last hours; 0 is their beginning, 1 now."""
        return self.begin + (self.end - self.begin) * share

    def of(self, scene: Scene) -> datetime:
        """When a scene happens."""
        return self.part(scene["part"]) if "part" in scene else self.on(scene["day"], scene["at"])


def times(now: datetime, zone: ZoneInfo) -> Times:
    """The times of a demo loaded ``now`` (aware).

    >>> at = datetime(2026, 3, 12, 0, 10, tzinfo=UTC)
    >>> times(at, ZoneInfo("UTC")).begin.isoformat()
    '2026-03-12T00:00:00+00:00'
    """
    now = now.astimezone(UTC)
    midnight = _first_instant(now.astimezone(zone).date(), zone)
    begin = max(midnight, now - LAST_HOURS)
    return Times(zone, begin, max(now, begin + LEAST))


def _first_instant(day: date, zone: ZoneInfo) -> datetime:
    """When a day of the shop begins; where its midnight is skipped, the first moment that bears its date."""
    found = datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)
    while found.astimezone(zone).date() < day:
        found += timedelta(minutes=15)
    return found


def shifts(now: datetime, zone: ZoneInfo) -> list[ShiftHours]:
    """The week of the demo shop, as it is when loaded ``now``."""
    clock = now.astimezone(zone).time()
    kept = []
    for row in read("shop")["shifts"]:
        within = "when" not in row or row["when"][0] <= clock <= row["when"][1]
        without = "unless" in row and row["unless"][0] <= clock <= row["unless"][1]
        if within and not without:
            kept += [ShiftHours(row["name"], day, row["starts"], row["ends"]) for day in row["weekdays"]]
    return kept
