"""By when a delivery is to come and by when it is ordered: the school must be open, the supplier must work.

Doors: core/order_list.py.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from service.core.findings import Invalid
from service.core.school_calendar import SchoolCalendar, supplier_works, why_closed

LONGEST_LEAD: Final = 365
_DAY: Final = timedelta(days=1)
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
    """The last day before the day of use on which the school is open and the supplier works: what comes on
    that day itself may come too late.

    >>> arrive_by(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 2)).isoformat()
    '2026-02-27'
    """
    return _both_work(calendar, needed_on - _DAY)


def order_by(calendar: SchoolCalendar, arrives: date, lead_days: int) -> date:
    """The last day to order, on which school and supplier work, so that it comes by ``arrives`` after
    ``lead_days`` working days.

    Counted back from a day on which the supplier does not work, or in shut weeks, an order may still come too
    late: it is put earlier until `comes_on` says that it comes in time.

    >>> order_by(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 2), 5).isoformat()
    '2026-02-23'
    """
    day = _both_work(calendar, _lead(calendar, arrives, lead_days, -1))
    for _ in range(_FARTHEST):
        if comes_on(calendar, day, lead_days) <= arrives:
            break
        day = _both_work(calendar, day - _DAY)
    return day


def comes_on(calendar: SchoolCalendar, ordered: date, lead_days: int) -> date:
    """The open day on which something comes that is ordered on a day; on a day on which the supplier does
    not work it is taken up on the next on which it works.

    >>> comes_on(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 6), 1).isoformat()
    '2026-03-09'
    """
    for _ in range(_FARTHEST):
        if supplier_works(calendar, ordered):
            break
        ordered += _DAY
    return _open_day(calendar, _lead(calendar, ordered, lead_days, 1), 1)


def taken_in_on(calendar: SchoolCalendar, expected: date) -> date:
    """The day on which somebody is there to take in what is expected on a day: it, or the next open one.

    >>> taken_in_on(SchoolCalendar(date(2026, 1, 7), date(2026, 6, 30)), date(2026, 3, 7)).isoformat()
    '2026-03-09'
    """
    return _open_day(calendar, expected, 1)


def _open_day(calendar: SchoolCalendar, day: date, way: int) -> date:
    """The day itself or the next one, that way, on which the school is open."""
    for n in range(_FARTHEST):
        if not why_closed(calendar, day + way * n * _DAY):
            return day + way * n * _DAY
    return day


def _both_work(calendar: SchoolCalendar, day: date) -> date:
    """The day itself or the last one before on which the school is open and the supplier works."""
    for n in range(_FARTHEST):
        before = day - n * _DAY
        if supplier_works(calendar, before) and not why_closed(calendar, before):
            return before
    # A school that is open on no day of a supplier has any open day.
    return _open_day(calendar, day, -1)


def _lead(calendar: SchoolCalendar, day: date, working_days: int, way: int) -> date:
    while working_days:
        day += way * _DAY
        working_days -= supplier_works(calendar, day)
    return day
