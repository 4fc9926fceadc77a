"""By when a delivery is to come and by when it is ordered: only days on which somebody works count.

Doors: core/order_list.py.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from service.core.findings import Invalid
from service.core.school_calendar import SchoolCalendar, why_closed

LONGEST_LEAD: Final = 365
_FARTHEST: Final = 3 * 366
"""Days looked at; a calendar that is closed for longer is a slip, and then any day counts."""


def judge_lead(days: int | None) -> int | None:
    """A supplier's lead time in working days, None = not known. Raises Invalid (field ``lead_days``).

    >>> judge_lead(5)
    5
    """
    if days is not None and not 0 <= days <= LONGEST_LEAD:
        words = f"Enter the lead time in working days, from 0 to {LONGEST_LEAD}."
        raise Invalid(words, {"lead_days": words})
    return days


def arrive_by(calendar: SchoolCalendar, needed_on: date) -> date:
    """The last working day before the day of use: what comes on that day itself may come too late.

    >>> arrive_by(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 2)).isoformat()
    '2026-02-27'
    """
    return _step(calendar, needed_on, 1, -1)


def order_by(calendar: SchoolCalendar, arrives: date, lead_days: int) -> date:
    """The last day to order so that it comes on ``arrives`` after ``lead_days`` working days.

    >>> order_by(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 2), 5).isoformat()
    '2026-02-23'
    """
    return _step(calendar, arrives, lead_days, -1)


def comes_on(calendar: SchoolCalendar, ordered: date, lead_days: int) -> date:
    """The day something comes that is ordered on a day.

    >>> comes_on(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 6), 1).isoformat()
    '2026-03-09'
    """
    return _step(calendar, ordered, lead_days, 1)


def _step(calendar: SchoolCalendar, day: date, working_days: int, way: int) -> date:
    at = day
    for _ in range(_FARTHEST):
        if working_days == 0:
            return at
        at += timedelta(days=way)
        if not why_closed(calendar, at):
            working_days -= 1
    return day + timedelta(days=way * working_days)
