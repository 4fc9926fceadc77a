"""How long records are kept and by when a list must be mended, by rows with their citation.

Doors: web/api/calc_waste.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from service.core.months import add_days, add_months, days_between


@dataclass(frozen=True)
class Period:
    """A time a record is kept or a list has: so many ``years`` or ``days``. ``basis`` "law" or "policy"."""

    what: str
    value: int
    unit: str
    citation: str
    basis: str
    grade: str
    says: str


def retain_until(period: Period, last: date) -> date:
    """The day up to which a record is kept, counted from its last use.

    >>> years = Period("exposure", 30, "years", "29 CFR 1910.1020(d)(1)(ii)", "law", "read", "")
    >>> retain_until(years, date(2026, 5, 1)).isoformat()
    '2056-05-01'
    """
    return add_days(last, period.value) if period.unit == "days" else add_months(last, period.value * 12)


def list_due(period: Period, added: date, today: date, listed: bool | None) -> tuple[date, bool]:
    """By when a new thing stands on the list, and whether it is late. Not known whether listed: not listed.

    >>> days = Period("list-addition", 30, "days", "Maryland 5-405(b)(2)", "law", "read", "")
    >>> list_due(days, date(2026, 5, 1), date(2026, 6, 15), listed=False)
    (datetime.date(2026, 5, 31), True)
    """
    due = add_days(added, period.value)
    return due, listed is not True and days_between(due, today) > 0
