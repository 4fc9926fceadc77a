"""Days and months on the calendar: a life of so many months, and a date as people write it.

Doors: core/ageing.py, core/alerts.py, web/sentences.py.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from datetime import date, timedelta
from typing import Final

_NAMES: Final = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def add_months(day: date, months: int) -> date:
    """The same day so many ``months`` later (0 or more), the last day of a shorter month, at most year 9999.

    Count from the first day, never step by step: 31 January + 2 × 1 month would lose days.

    >>> add_months(date(2023, 1, 31), 1), add_months(date(2024, 2, 29), 12)
    (datetime.date(2023, 2, 28), datetime.date(2025, 2, 28))
    """
    if months < 0:
        raise ValueError("a life is not negative")
    years, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if years > date.max.year:
        return date.max
    return date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))


def add_days(day: date, days: int) -> date:
    """So many days later (or earlier), kept within the calendar.

    >>> add_days(date(2024, 2, 28), 2), add_days(date.max, 1) == date.max
    (datetime.date(2024, 3, 1), True)
    """
    ordinal = day.toordinal() + days
    return date.fromordinal(max(1, min(ordinal, date.max.toordinal())))


def days_between(earlier: date, later: date) -> int:
    """Days from ``earlier`` to ``later``; negative the other way round.

    >>> days_between(date(2024, 2, 28), date(2024, 3, 1))
    2
    """
    return (later - earlier) // timedelta(days=1)


def earliest(*days: date | None) -> date | None:
    """The earliest of the days that are known; None when none is.

    >>> earliest(None, date(2026, 1, 2), date(2025, 1, 2))
    datetime.date(2025, 1, 2)
    """
    return min((day for day in days if day is not None), default=None)


def say_date(day: date) -> str:
    """A date as written in a sentence, the same in every locale.

    >>> say_date(date(2026, 3, 2))
    '2 March 2026'
    """
    return f"{day.day} {_NAMES[day.month - 1]} {day.year}"


def say_days(days: Sequence[date], most: int = 5) -> str:
    """Some days in a sentence, the first ``most`` (1 and more) of them by name.

    >>> say_days([date(2026, 3, 2), date(2026, 3, 9)]), say_days([date(2026, 3, n) for n in (2, 3, 4, 5)], 2)
    ('2 March 2026 and 9 March 2026', '2 March 2026, 3 March 2026 and 2 more days')
    """
    named, more = [say_date(day) for day in days[:most]], len(days) - most
    if more > 0:
        return f"{', '.join(named)} and {more} more day{'' if more == 1 else 's'}"
    return " and ".join(filter(None, (", ".join(named[:-1]), named[-1])))


def say_life(months: int | None, days: int | None) -> str:
    """A length of life in words.

    >>> say_life(24, None), say_life(1, None), say_life(None, 7), say_life(None, None)
    ('24 months', '1 month', '7 days', 'no figure')
    """
    for number, unit in ((months, "month"), (days, "day")):
        if number is not None:
            return f"{number} {unit}" if number == 1 else f"{number} {unit}s"
    return "no figure"
