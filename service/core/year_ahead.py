"""When the store ends: how many containers are in date until some day of this month and of the next twelve.

Doors: web/pages/year_ahead.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from service.core.containers import Standing

MONTHS: Final = 13
"""This month and the next twelve: whatever ends within a year of any day of this month lies in them."""
_NAMES: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip


@dataclass(frozen=True)
class MonthOfStore:
    """How many are in date until a day of this month, by how they stand today."""

    year: int
    month: int
    look_first: int = 0
    in_date: int = 0

    @property
    def count(self) -> int:
        return self.look_first + self.in_date

    @property
    def name(self) -> str:
        """
        >>> MonthOfStore(2028, 2).name
        'February 2028'
        """
        return f"{_NAMES[self.month - 1]} {self.year}"


@dataclass(frozen=True)
class YearAhead:
    """This month and the next twelve, and what does not end in them: each container is counted once."""

    months: tuple[MonthOfStore, ...]
    past: int
    not_known: int
    later: int
    no_end: int

    @property
    def highest(self) -> int:
        return max(month.count for month in self.months)


def year_ahead(ends: Iterable[tuple[Standing, date | None, int]], today: date) -> YearAhead:
    """Counted from (standing today, last day in date, how many).

    >>> leap = year_ahead([(Standing.IN_DATE, date(2028, 2, 29), 3)], date(2027, 11, 27))
    >>> [(m.name, m.in_date) for m in leap.months if m.count]
    [('February 2028', 3)]
    """
    start = today.year * 12 + today.month - 1
    look, fine = [0] * MONTHS, [0] * MONTHS
    past = not_known = later = no_end = 0
    for standing, until, count in ends:
        if standing is Standing.PAST:
            past += count
        elif standing is Standing.NOT_KNOWN:
            not_known += count
        elif until is None:
            no_end += count
        else:
            at = until.year * 12 + until.month - 1 - start
            if at >= MONTHS:
                later += count
            else:
                (look if standing is Standing.LOOK_FIRST else fine)[max(0, at)] += count
    months = tuple(
        MonthOfStore(*divmod(start + n, 12), look_first=look[n], in_date=fine[n]) for n in range(MONTHS)
    )
    counted = tuple(MonthOfStore(m.year, m.month + 1, m.look_first, m.in_date) for m in months)
    return YearAhead(counted, past, not_known, later, no_end)
