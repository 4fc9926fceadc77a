"""Days as people write them, and the spaces in what they type.

Doors: core/stock_list.py, core/list_days.py, web/fields.py.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Final

from service.core.findings import Invalid, Reading

YEARS: Final = (1900, 2200)
MONTHS: Final = {
    name: number
    for number, names in enumerate(
        ("jan january", "feb february", "mar march", "apr april", "may", "jun june", "jul july",
         "aug august", "sep sept september", "oct october", "nov november", "dec december"), start=1)
    for name in names.split()
}
_SPACES: Final = re.compile(r"[\s\u00a0\u2000-\u200b\u202f\u205f\u3000\ufeff]+")


def tidy(text: str) -> str:
    """One-line text with every run of spaces (also hard and thin ones) as one space, none at the ends.

    >>> tidy("  12\\u00a0 Nov\\u2009 2026 ")
    '12 Nov 2026'
    """
    return _SPACES.sub(" ", text).strip()


def read_day(text: str) -> date:
    """A day in one of the ways people write it: 2026-11-25, 25 Nov 2026, 25.11.2026, 25/11/2026.

    Where a slash leaves open which part is the month, nothing is guessed: Invalid, with both readings.

    >>> read_day("25 Nov 2026"), read_day("25.11.2026")
    (datetime.date(2026, 11, 25), datetime.date(2026, 11, 25))
    """
    text = tidy(text).rstrip(".").lower()
    if match := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text, re.ASCII):
        year, month, day = (int(part) for part in match.groups())
        return _day(year, month, day)
    if match := re.fullmatch(r"(\d{1,2})\. ?(\d{1,2})\. ?(\d{4})", text, re.ASCII):
        day, month, year = (int(part) for part in match.groups())
        return _day(year, month, day)
    if match := re.fullmatch(r"(\d{1,2})(?:st|nd|rd|th)?\.? ?([a-z]+)\.?,? ?(\d{4})", text, re.ASCII):
        return _named(match[3], match[2], match[1])
    if match := re.fullmatch(r"([a-z]+)\.? ?(\d{1,2})(?:st|nd|rd|th)?,? (\d{4})", text, re.ASCII):
        return _named(match[3], match[1], match[2])
    if match := re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", text, re.ASCII):
        return _slashed(*(int(part) for part in match.groups()))
    raise Invalid("Enter the day like 25 Nov 2026 or 2026-11-25.")


def _named(year: str, month: str, day: str) -> date:
    if month not in MONTHS:
        raise Invalid("Enter the month as a name or a number, like 25 Nov 2026.")
    return _day(int(year), MONTHS[month], int(day))


def _slashed(first: int, second: int, year: int) -> date:
    if first <= 12 and second <= 12 and first != second:
        one, other = _day(year, second, first), _day(year, first, second)
        raise Invalid(
            f"{first}/{second}/{year} can be {_words(one)} or {_words(other)}. Write the month as a name.",
            readings=[Reading(one.isoformat(), _words(one)), Reading(other.isoformat(), _words(other))],
        )
    day, month = (second, first) if second > 12 else (first, second)
    return _day(year, month, day)


def _day(year: int, month: int, day: int) -> date:
    if not YEARS[0] <= year <= YEARS[1]:
        raise Invalid("Enter the year in four digits, between 1900 and 2200.")
    try:
        return date(year, month, day)
    except ValueError:
        raise Invalid("There is no such day in the calendar. Check the day and the month.") from None


def _words(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"
