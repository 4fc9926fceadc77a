"""Days in a stock list: whole days, and the months and years that tins carry, read on the strict side.

Of a month the first day is taken: what was packed, received or opened then counts as older, and what lasts
until then ends sooner, than it may be; never the other way. What is no day gets a sentence of its own.

Doors: core/stock_list.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Final

from service.core.findings import Invalid
from service.core.months import say_date
from service.core.written_days import MONTHS, YEARS, read_day, tidy

NOBODY_KNOWS: Final = frozenset(
    {"unknown", "not known", "?", "??", "???", "n/a", "na", "n.a.", "-", "--", "none", "no idea", "tbd", "x"}
)
_DAY_ONE: Final = date(1899, 12, 30)
"""From which most spreadsheets count days."""


def read_list_day(text: str) -> tuple[date, bool]:
    """The day, and whether it is only the first day of the month or year that was written.

    Raises Invalid with a sentence on how to mend it.

    >>> read_list_day("Mar 2025"), read_list_day("2025-03-12")
    ((datetime.date(2025, 3, 1), True), (datetime.date(2025, 3, 12), False))
    """
    plain = tidy(text).rstrip(".").casefold()
    if tidy(text).casefold() in NOBODY_KNOWS:
        raise Invalid("Leave it empty if nobody knows.")
    first = _month(plain)
    if first is not None:
        return first, True
    if re.fullmatch(r"[0-9]{1,2}[-/.] ?[0-9]{1,2}[-/.] ?[0-9]{2}", plain, re.ASCII):
        raise Invalid("Write the year in four digits and the month as a name, such as 31 Dec 2024.")
    if re.fullmatch(r"[1-9][0-9]{4}", plain, re.ASCII):
        day = say_date(_DAY_ONE + timedelta(days=int(plain)))
        raise Invalid(
            f"A spreadsheet counts days in figures; in most of them this is {day}. Compare it with the label "
            "and write the day, or give the column the form of a date and save the list again."
        )
    return read_day(text), False


def _month(plain: str) -> date | None:
    year, month = 0, 1
    if found := re.fullmatch(r"([0-9]{4})[-/.]([0-9]{1,2})", plain, re.ASCII):
        year, month = int(found[1]), int(found[2])
    elif found := re.fullmatch(r"([0-9]{1,2}) ?[-/.] ?([0-9]{4})", plain, re.ASCII):
        month, year = int(found[1]), int(found[2])
    elif found := re.fullmatch(r"([a-z]+)\.?[ -]([0-9]{4})", plain, re.ASCII):
        month, year = MONTHS.get(found[1], 0), int(found[2])
        if not month:
            return None
    elif found := re.fullmatch(r"[0-9]{4}", plain, re.ASCII):
        year = int(found[0])
    if not YEARS[0] <= year <= YEARS[1]:
        return None
    if not 1 <= month <= 12:
        raise Invalid("A year has twelve months. Check the month, or write the whole day like 2025-03-12.")
    return date(year, month, 1)


class ListDays:
    """The days of one line, each read in turn; ``remarks`` says which were taken as the first of a month.

    >>> days = ListDays()
    >>> days.read("packed", "2025-03-12"), days.read("received", "Mar 2025"), days.remarks
    (datetime.date(2025, 3, 12), datetime.date(2025, 3, 12), ['received “Mar 2025” taken as 12 March 2025'])
    """

    def __init__(self) -> None:
        self.remarks: list[str] = []
        self._packed: date | None = None

    def reader(self, column: str) -> Callable[[str], date]:
        """How the cells of a column are read."""
        return lambda words: self.read(column, words)

    def read(self, column: str, words: str) -> date:
        """The day of a column; what came or was opened in the month of its packing was so from that day on.

        Raises Invalid.
        """
        day, first = read_list_day(words)
        if first:
            if column in ("received", "opened") and self._packed is not None:
                whole_year = len(tidy(words)) == 4
                if self._packed.year == day.year and (whole_year or self._packed.month == day.month):
                    day = self._packed
            self.remarks.append(f"{column} “{tidy(words)[:40]}” taken as {say_date(day)}")
        if column == "packed":
            self._packed = day
        return day
