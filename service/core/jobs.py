"""One stretch of work: which shift it falls into and when it ends at the latest.

Doors: records/jobs.py, actions/run_job.py, web/pages/jobs.py, web/api/jobs.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from service.core.rag_deadlines import day_end


@dataclass(frozen=True)
class ShiftHours:
    """A working stretch on a weekday (0 = Monday), local wall clock; an end before the start is next day."""

    name: str
    weekday: int
    starts: time
    ends: time


def _instant(day: datetime, at: time, zone: ZoneInfo) -> datetime:
    # fold=0: where the clock shows a time twice, the first one counts; never the later.
    wall = datetime.combine(day.date(), at)
    found = wall.replace(tzinfo=zone).astimezone(UTC)
    if found.astimezone(zone).replace(tzinfo=None) == wall:
        return found
    # The clock skips this time: it is over as soon as the clock shows a later one, so at the change itself.
    early = wall.replace(tzinfo=zone, fold=1).astimezone(UTC)
    low, high = 0, int((found - early).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if (early + timedelta(seconds=middle)).astimezone(zone).replace(tzinfo=None) >= wall:
            high = middle
        else:
            low = middle
    return early + timedelta(seconds=high)


def shift_end(instant: datetime, shifts: Iterable[ShiftHours], zone: ZoneInfo) -> datetime | None:
    """The end of the shift that an instant falls into, in UTC; the earliest if several; None outside any.

    >>> hours = [ShiftHours("day", 3, time(8), time(16, 30))]
    >>> shift_end(datetime(2026, 3, 12, 9, tzinfo=UTC), hours, ZoneInfo("UTC")).hour
    16
    >>> shift_end(datetime(2026, 3, 12, 17, tzinfo=UTC), hours, ZoneInfo("UTC")) is None
    True
    """
    local = instant.astimezone(zone)
    ends: list[datetime] = []
    for shift in shifts:
        for days_back in (0, 1):
            day = local - timedelta(days=days_back)
            if day.weekday() != shift.weekday:
                continue
            begin = _instant(day, shift.starts, zone)
            over = shift.ends <= shift.starts
            end = _instant(day + timedelta(days=1) if over else day, shift.ends, zone)
            if begin <= instant < end:
                ends.append(end)
    return min(ends, default=None)


def latest_end(
    starts: datetime, wanted: datetime | None, shift_ends: datetime | None, zone: ZoneInfo
) -> datetime:
    """When a job that starts now ends at the latest, in UTC.

    The wanted end if there is one, else the end of the shift, but never after both the shift and 24:00 of the
    local day: work outside any shift ends at the latest at 24:00.

    >>> noon = datetime(2026, 3, 12, 12, tzinfo=UTC)
    >>> latest_end(noon, None, None, ZoneInfo("UTC")).isoformat()
    '2026-03-13T00:00:00+00:00'
    """
    bound = max(day_end(starts, zone), shift_ends) if shift_ends else day_end(starts, zone)
    end = wanted or shift_ends or bound
    return min(end, bound).astimezone(UTC)
