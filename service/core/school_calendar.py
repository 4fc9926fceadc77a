"""On which days a school teaches and goods come in: weekdays, public holidays, the school's own free days.

Doors: core/term_dates.py, core/order_dates.py.

Holidays come from the library ``holidays`` by codes of country and part (ISO 3166), which works without a
network; of some countries it knows the school holidays of some years too. Days only: no clock change can move
a lesson. What the library does not know is said, never taken as a time without holidays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType
from typing import Final

from service.core.findings import Finding, Invalid, note, unknown
from service.core.months import say_date

MONDAY_TO_FRIDAY: Final = frozenset(range(5))
LONGEST_TERM: Final = 2 * 366
"""Days; a term is shorter than two years."""
MOST_FREE: Final = 100


@dataclass(frozen=True)
class FreeDays:
    """A stretch without lessons that the school names itself, both ends included."""

    first: date
    last: date
    name: str = ""


@dataclass(frozen=True)
class SchoolCalendar:
    """One term. ``weekdays``: 0 = Monday. ``country`` and ``part``: codes, empty = no holidays asked.

    ``breaks``: school holidays are free as well, where they are known (no for a shop that is no school).
    ``also``: days with lessons though they would be free (a holiday, a Saturday); they win over ``free``.
    """

    first: date
    last: date
    weekdays: frozenset[int] = MONDAY_TO_FRIDAY
    country: str = ""
    part: str = ""
    breaks: bool = True
    free: tuple[FreeDays, ...] = ()
    also: frozenset[date] = frozenset()


def checked(calendar: SchoolCalendar) -> SchoolCalendar:
    """The calendar, if it can be used. Raises Invalid with the field that is wrong.

    >>> checked(SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3), country="DE", part="BY")).part
    'BY'
    """
    wrong: dict[str, str] = {}
    if calendar.last < calendar.first:
        wrong["last"] = "The last day of the term is before its first."
    elif (calendar.last - calendar.first).days > LONGEST_TERM:
        wrong["last"] = "A term is at most two years long. Enter an earlier last day."
    if not calendar.weekdays or not calendar.weekdays <= set(range(7)):
        wrong["weekdays"] = "Tick at least one weekday with lessons."
    if len(calendar.free) > MOST_FREE:
        wrong["free"] = f"Enter at most {MOST_FREE} stretches of free days."
    elif any(one.last < one.first for one in calendar.free):
        wrong["free"] = "A stretch of free days ends before it begins."
    if calendar.part and not calendar.country:
        wrong["country"] = "Enter the country of this part as well, by its two letters."
    elif calendar.country and calendar.country not in places():
        wrong["country"] = "The holidays of this country are not known here. Enter them as free days."
    elif calendar.part and calendar.part not in places()[calendar.country]:
        parts = ", ".join(places()[calendar.country])
        known = f"Enter one of {parts}, or leave it empty." if parts else "Leave it empty."
        wrong["part"] = f"{calendar.country} has no such part. {known}"
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    return calendar


@lru_cache(maxsize=1)
def places() -> Mapping[str, tuple[str, ...]]:
    """The countries whose holidays are known, by their two letters, each with the codes of its parts.

    >>> "SN" in places()["DE"], "DEU" in places()
    (True, False)
    """
    import holidays

    listed = holidays.list_supported_countries(include_aliases=False)
    return MappingProxyType({code: tuple(sorted(parts)) for code, parts in sorted(listed.items())})


def public_holidays(country: str, part: str, year: int) -> Mapping[date, str] | None:
    """The public holidays of a year with their names; None: the library does not know the year.

    Raises ``KeyError`` for a country or part that `places` does not name.

    >>> public_holidays("US", "", 2026)[date(2026, 7, 4)], public_holidays("US", "", 2150)
    ('Independence Day', None)
    """
    return _listed(country, part, year, "public")


def school_holidays(country: str, part: str, year: int) -> Mapping[date, str]:
    """The days of a year without school that the library knows; none does not say that there are none.

    >>> school_holidays("DE", "SN", 2026)[date(2026, 2, 16)], len(school_holidays("US", "", 2026))
    ('Winter Break', 0)
    """
    return _listed(country, part, year, "school") or {}


@lru_cache(maxsize=512)
def _listed(country: str, part: str, year: int, kind: str) -> Mapping[date, str] | None:
    import holidays

    if country not in places() or (part and part not in places()[country]):
        raise KeyError(f"{country} {part}")
    asked = holidays.country_holidays(country, subdiv=part or None, years=())
    if not asked.start_year <= year <= asked.end_year or kind not in asked.supported_categories:
        return None
    # The language is named: else the library reads it from the environment.
    known = holidays.country_holidays(
        country, subdiv=part or None, years=year, expand=False, categories=(kind,), language="en_US"
    )
    return MappingProxyType({day: str(name) for day, name in sorted(known.items()) if day.year == year})


def why_free(calendar: SchoolCalendar, day: date) -> str:
    """Why there are no lessons on a day; empty on a school day.

    >>> term = SchoolCalendar(date(2026, 9, 1), date(2026, 12, 18), country="US")
    >>> [why_free(term, date(2026, 11, day)) for day in (26, 28, 30)]
    ['Thanksgiving Day', 'Saturday', '']
    """
    if not calendar.first <= day <= calendar.last:
        return "outside the term"
    return why_closed(calendar, day)


def why_closed(calendar: SchoolCalendar, day: date) -> str:
    """Why nobody works or receives parcels on a day, in the term or out of it; empty on a working day.

    >>> why_closed(SchoolCalendar(date(2026, 9, 1), date(2026, 12, 18)), date(2026, 8, 31))
    ''
    """
    if day in calendar.also:
        return ""
    for stretch in calendar.free:
        if stretch.first <= day <= stretch.last:
            return stretch.name or "free by the school's own calendar"
    if day.weekday() not in calendar.weekdays:
        return _WEEKDAYS[day.weekday()]
    if not calendar.country:
        return ""
    name = (public_holidays(calendar.country, calendar.part, day.year) or {}).get(day, "")
    if name or not calendar.breaks:
        return name
    return school_holidays(calendar.country, calendar.part, day.year).get(day, "")


def supplier_works(calendar: SchoolCalendar, day: date) -> bool:
    """Whether a day counts for a supplier's lead time: Monday to Friday, and no public holiday here.

    >>> term = SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3), country="DE", part="SN")
    >>> supplier_works(term, date(2026, 2, 16)), supplier_works(term, date(2026, 4, 3))
    (True, False)
    """
    if day.weekday() not in MONDAY_TO_FRIDAY:
        return False
    return not calendar.country or day not in (
        public_holidays(calendar.country, calendar.part, day.year) or {}
    )


def school_days(calendar: SchoolCalendar) -> list[date]:
    """All days with lessons of the term, in order.

    >>> len(school_days(SchoolCalendar(date(2024, 2, 26), date(2024, 3, 3))))
    5
    """
    span = (calendar.last - calendar.first).days
    days = (calendar.first + timedelta(days=n) for n in range(span + 1))
    return [day for day in days if not why_free(calendar, day)]


def about_holidays(calendar: SchoolCalendar) -> list[Finding]:
    """What to read about the holidays of this term: years nobody knows, dates that are only expected.

    >>> [f.code for f in about_holidays(SchoolCalendar(date(2026, 9, 1), date(2026, 12, 18)))]
    ['no-country']
    """
    if not calendar.country:
        return [note("no-country", "No country is chosen: only the school's own free days are left out.")]
    found: list[Finding] = []
    breaks: list[date] = []
    for year in range(calendar.first.year, calendar.last.year + 1):
        known = public_holidays(calendar.country, calendar.part, year)
        breaks += school_holidays(calendar.country, calendar.part, year)
        if known is None:
            words = f"The holidays of {year} are not known here. Enter them as free days."
            found.append(unknown("holidays-not-known", words, about=str(year)))
        for day, name in (known or {}).items():
            if "estimated" in name and calendar.first <= day <= calendar.last:
                plain = name.replace(" (estimated)", "")
                words = f"{say_date(day)} ({plain}) is an expected date: it may move by a day."
                found.append(note("holiday-expected", words, about=day.isoformat()))
    if calendar.breaks and not any(calendar.first <= day <= calendar.last for day in breaks):
        words = "No school holidays of this term are known here. Enter them as free days, if there are any."
        found.append(note("no-breaks", words))
    return found


_WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
