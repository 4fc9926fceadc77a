"""The dates of a repeated job over a term: weekly, every second week, or every so many school days.

Doors: actions/plan_job.py.

A date that falls on a free day is left out or put on the next school day, as asked, and is always named.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, Findings, Invalid, Verdict, note, warn
from service.core.months import say_date, say_days
from service.core.school_calendar import SchoolCalendar, about_holidays, checked, school_days, why_free


class Repeat(StrEnum):
    """How often a planned job comes again."""

    ONCE = "once"
    WEEKLY = "weekly"
    FORTNIGHTLY = "fortnightly"
    SCHOOL_DAYS = "school-days"


REPEAT_WORDS: Final[dict[Repeat, str]] = {
    Repeat.ONCE: "once",
    Repeat.WEEKLY: "every week",
    Repeat.FORTNIGHTLY: "every second week",
    Repeat.SCHOOL_DAYS: "every so many school days",
}


class OnFreeDay(StrEnum):
    """What happens to a date of a row that falls on a free day."""

    LEAVE_OUT = "leave-out"
    NEXT_SCHOOL_DAY = "next-school-day"


MOST_STEP: Final = 60


@dataclass(frozen=True)
class Moved:
    """A date on a free day: ``to`` is where it went, None = left out; ``why`` names the free day.

    ``turn``: its next turn, where no school day came before that to put it on.
    """

    day: date
    to: date | None
    why: str
    turn: date | None = None


@dataclass(frozen=True)
class TermDates:
    """The dates, in order, each once; what was moved or left out; what to read first."""

    dates: tuple[date, ...]
    moved: tuple[Moved, ...]
    verdict: Verdict


def dates_of(
    calendar: SchoolCalendar,
    first: date,
    repeat: Repeat,
    *,
    every: int = 1,
    last: date | None = None,
    on_free: OnFreeDay = OnFreeDay.LEAVE_OUT,
) -> TermDates:
    """The dates of a job that begins on ``first`` and comes again until ``last`` (both kept; the term's end).

    ``every`` counts only with ``Repeat.SCHOOL_DAYS`` (1 to 60). A job done once keeps its date on a free day,
    with a warning: nobody plans it less for that. Raises
    Invalid (fields of the calendar, ``first``, ``last``, ``every``).

    >>> term = SchoolCalendar(date(2024, 2, 1), date(2024, 3, 20))
    >>> [day.isoformat() for day in dates_of(term, date(2024, 2, 15), Repeat.FORTNIGHTLY).dates]
    ['2024-02-15', '2024-02-29', '2024-03-14']
    """
    checked(calendar)
    until = _until(calendar, first, last)
    if repeat is Repeat.SCHOOL_DAYS and not 1 <= every <= MOST_STEP:
        words = f"Enter every how many school days: from 1 to {MOST_STEP}."
        raise Invalid(words, {"every": words})
    found = Findings()
    if repeat is Repeat.ONCE:
        found.add(*_about_once(calendar, first))
        # Of the rest of the year nothing hangs on one day; the plan of the term tells of it.
        return TermDates((first,), (), found.verdict())
    found.add(*about_holidays(calendar))
    taught = [day for day in school_days(calendar) if first <= day <= until]
    if repeat is Repeat.SCHOOL_DAYS:
        dates, moved = taught[::every], []
        if dates and dates[0] != first:
            moved.append(Moved(first, dates[0], why_free(calendar, first)))
    else:
        days = 7 if repeat is Repeat.WEEKLY else 14
        dates, moved = _row(calendar, first, until, days, taught, on_free)
    found.add(*(_about_moved(one) for one in moved))
    if not dates:
        words = "No day of this row is a school day."
        found.add(warn("no-date", words))
    return TermDates(tuple(dates), tuple(moved), found.verdict())


def _until(calendar: SchoolCalendar, first: date, last: date | None) -> date:
    if not calendar.first <= first <= calendar.last:
        words = (
            f"The term runs from {say_date(calendar.first)} to {say_date(calendar.last)}. Enter a day in it."
        )
        raise Invalid(words, {"first": words})
    if last is not None and last < first:
        words = "The last day is before the first."
        raise Invalid(words, {"last": words})
    return calendar.last if last is None else min(last, calendar.last)


def _row(
    calendar: SchoolCalendar, first: date, until: date, step: int, taught: list[date], on_free: OnFreeDay
) -> tuple[list[date], list[Moved]]:
    kept: list[date] = []
    moved: list[Moved] = []
    day = first
    while day <= until:
        after = day + timedelta(days=step)
        why = why_free(calendar, day)
        if not why:
            kept.append(day)
        else:
            at = bisect_left(taught, day)
            # One that would reach its own next turn is left out: two lessons would fall on one day.
            fits = on_free is OnFreeDay.NEXT_SCHOOL_DAY and at < len(taught) and taught[at] < after
            to = taught[at] if fits else None
            kept += [to] if to else []
            turn = after if on_free is OnFreeDay.NEXT_SCHOOL_DAY and to is None else None
            moved.append(Moved(day, to, why, turn))
        day = after
    return kept, moved


def _about_once(calendar: SchoolCalendar, day: date) -> list[Finding]:
    of_it = (day.isoformat(), str(day.year))
    found = [one for one in about_holidays(calendar) if one.about in of_it]
    if why := why_free(calendar, day):
        words = f"{say_date(day)} is no school day ({why})."
        found.append(warn("on-free-day", words, about=day.isoformat()))
    return found


def about_past(days: Iterable[date], today: date) -> list[Finding]:
    """That days are gone by ``today``: nothing is counted for them, and what they took makes the rest unsure.

    >>> [f.sentence.split(":")[0] for f in about_past([date(2026, 3, 2)], date(2026, 3, 12))]
    ['2 March 2026 is gone already']
    """
    gone = sorted(day for day in days if day < today)
    if not gone:
        return []
    words = (
        f"{say_days(gone)} {'are' if len(gone) > 1 else 'is'} gone already: nothing is counted for "
        f"{'them' if len(gone) > 1 else 'it'}. Name the batch that was made, or choose a day to come."
    )
    return [warn("day-is-gone", words, about=gone[0].isoformat())]


def _about_moved(one: Moved) -> Finding:
    where = f"put on {say_date(one.to)}" if one.to else "left out"
    if one.turn is not None:
        where = f"left out, as no school day comes before its next turn on {say_date(one.turn)}"
    code = "date-moved" if one.to else "date-left-out"
    return note(
        code, f"{say_date(one.day)} is no school day ({one.why}): {where}.", about=one.day.isoformat()
    )
