"""Recurring checks: how often, when the next is due, by how much it is late, and whether a failure stands.

Doors: actions/set_checks.py, actions/do_check.py, records/check_queries.py, records/knowledge_checks.py,
web/pages/recurring_checks.py.

All days are the shop's calendar days. A check that is counted by the calendar is due once in each day, week
(Monday to Sunday), month or year; one counted from the last is due so long after the last one. A check of
which nobody knows when it was made last counts as never made.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from service.core.months import add_days, add_months, days_between, say_date

MOST_TIMES: Final = 60
"""No check of a shop waits longer than sixty of its units."""


MISSED_DAYS: Final = 365
"""So far back it is said which checks were missed: this house's own figure."""
MOST_SPANS: Final = 12


class Unit(StrEnum):
    """The calendar period of a check."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    YEAR = "year"


class Counted(StrEnum):
    """Once in each calendar period, or so long after the last one."""

    CALENDAR = "calendar"
    FROM_LAST = "from-last"


class Result(StrEnum):
    """What an entry in the book of checks says."""

    FINE = "fine"
    NOT_FINE = "not-fine"
    TAKEN_BACK = "taken-back"


RESULT_WORDS: Final[dict[Result, str]] = {
    Result.FINE: "fine", Result.NOT_FINE: "not fine", Result.TAKEN_BACK: "taken back",
}  # fmt: skip
UNIT_WORDS: Final[dict[Unit, str]] = {
    Unit.DAY: "day", Unit.WEEK: "calendar week", Unit.MONTH: "calendar month", Unit.YEAR: "calendar year",
}  # fmt: skip
HOUSE_POLICY: Final = "house policy"
"""What stands as the source where no law gives an interval."""


@dataclass(frozen=True)
class Interval:
    """How often: ``times`` units (1 to 60). By the calendar only every one unit; from the last any number.

    >>> Interval(Unit.MONTH).words, Interval(Unit.MONTH, 14, Counted.FROM_LAST).words
    ('once in each calendar month', 'at most 14 months after the last one')
    """

    unit: Unit
    times: int = 1
    counted: Counted = Counted.CALENDAR

    def __post_init__(self) -> None:
        if not 1 <= self.times <= MOST_TIMES:
            raise ValueError(f"an interval is 1 to {MOST_TIMES} units")
        if self.counted is Counted.CALENDAR and self.times != 1:
            raise ValueError("a calendar period is one day, week, month or year")

    @property
    def words(self) -> str:
        if self.counted is Counted.CALENDAR:
            return "once on each day" if self.unit is Unit.DAY else f"once in each {UNIT_WORDS[self.unit]}"
        many = f"{self.times} {self.unit}{'' if self.times == 1 else 's'}"
        return f"at most {many} after the last one"


@dataclass(frozen=True)
class CheckPlan:
    """A check of the shop: its interval and the days it holds, both included; ``until`` None = no end."""

    interval: Interval
    since: date
    until: date | None = None


@dataclass(frozen=True)
class CheckEntry:
    """One entry, in the order of the book by ``number``; ``on`` is the shop's day on which it was done.

    ``order`` puts entries in the order in which they happened, as (instant, number) does.
    """

    number: int
    on: date
    result: Result
    order: tuple[object, ...] = ()
    reverses: int | None = None
    sentence: str = ""


@dataclass(frozen=True)
class CheckState:
    """How a check stands on a day.

    ``due``: the last day on which the next one may be made; None = it has ended. ``late_days``: 0 = not late.
    ``last``: the newest entry that counts; None = never made, or nobody knows. ``failed``: it says not fine.
    """

    due: date | None
    late_days: int
    last: CheckEntry | None
    failed: bool

    @property
    def late(self) -> bool:
        return self.late_days > 0


def period_of(day: date, unit: Unit) -> tuple[date, date]:
    """The first and last day of the calendar period that holds ``day``.

    >>> period_of(date(2028, 2, 29), Unit.MONTH)
    (datetime.date(2028, 2, 1), datetime.date(2028, 2, 29))
    >>> period_of(date(2027, 1, 3), Unit.WEEK)
    (datetime.date(2026, 12, 28), datetime.date(2027, 1, 3))
    """
    if unit is Unit.DAY:
        return day, day
    if unit is Unit.WEEK:
        monday = add_days(day, -day.weekday())
        return monday, add_days(monday, 6)
    if unit is Unit.MONTH:
        return day.replace(day=1), day.replace(day=monthrange(day.year, day.month)[1])
    return day.replace(month=1, day=1), day.replace(month=12, day=31)


def _period_after(day: date, unit: Unit) -> date:
    """The last day of the calendar period after the one that holds ``day``."""
    return period_of(add_days(period_of(day, unit)[1], 1), unit)[1]


def _so_long_after(day: date, interval: Interval) -> date:
    if interval.unit in (Unit.DAY, Unit.WEEK):
        return add_days(day, interval.times * (7 if interval.unit is Unit.WEEK else 1))
    return add_months(day, interval.times * (12 if interval.unit is Unit.YEAR else 1))


def first_due(plan: CheckPlan) -> date:
    """When the first one is due: in the period in which the plan begins; from the last: at once.

    >>> first_due(CheckPlan(Interval(Unit.MONTH), date(2026, 1, 31)))
    datetime.date(2026, 1, 31)
    """
    if plan.interval.counted is Counted.FROM_LAST:
        return plan.since
    return period_of(plan.since, plan.interval.unit)[1]


def next_due(plan: CheckPlan, last_on: date | None) -> date | None:
    """The last day for the next check after one on ``last_on`` (None = never); None after the plan's end.

    Never earlier for a later day: a check that is made early is followed by one in the next period.

    >>> next_due(CheckPlan(Interval(Unit.MONTH), date(2026, 1, 1)), date(2026, 1, 31))
    datetime.date(2026, 2, 28)
    """
    due = first_due(plan)
    if last_on is not None:
        by_calendar = plan.interval.counted is Counted.CALENDAR
        after = (
            _period_after(last_on, plan.interval.unit) if by_calendar
            else _so_long_after(last_on, plan.interval)
        )  # fmt: skip
        due = max(due, after)
    return None if plan.until is not None and due > plan.until else due


def standing_entries(entries: Iterable[CheckEntry]) -> list[CheckEntry]:
    """The entries that count, in the order in which they happened: without those taken back."""
    found = list(entries)
    gone = {one.reverses for one in found if one.reverses is not None}
    kept = [one for one in found if one.result is not Result.TAKEN_BACK and one.number not in gone]
    return sorted(kept, key=lambda one: (one.on, one.order, one.number))


def judge_check(plan: CheckPlan, entries: Iterable[CheckEntry], today: date) -> CheckState:
    """How a check stands on ``today``.

    Not fine is a check made: the interval is met, and the failure stands until a later one is fine.

    >>> monthly = CheckPlan(Interval(Unit.MONTH), date(2026, 1, 5))
    >>> judge_check(monthly, [CheckEntry(1, date(2026, 1, 20), Result.FINE)], date(2026, 3, 3)).late_days
    3
    """
    made = standing_entries(entries)
    last = made[-1] if made else None
    due = next_due(plan, last.on if last else None)
    ended = plan.until is not None and today > plan.until
    late = 0 if due is None or ended else max(0, days_between(due, today))
    failed = last is not None and last.result is Result.NOT_FINE
    return CheckState(None if ended else due, late, last, failed)


def missed_periods(
    plan: CheckPlan, made_on: Sequence[date], today: date, most: int = 400
) -> list[tuple[date, date]]:
    """The calendar periods that are over and had no check, the newest first, at most ``most`` of them.

    None for a check that is counted from the last one: what is late there shows between two entries.
    """
    if plan.interval.counted is Counted.FROM_LAST:
        return []
    unit, end = plan.interval.unit, min(today, plan.until or today)
    met = {period_of(day, unit)[0] for day in made_on}
    found: list[tuple[date, date]] = []
    first, last = period_of(end, unit)
    # The period of today is not over; nor is one that the end of the plan cut short.
    while len(found) < most and last >= plan.since:
        if last < today and (plan.until is None or last <= plan.until) and first not in met:
            found.append((first, last))
        if first - date.min < timedelta(days=1):
            break
        first, last = period_of(add_days(first, -1), unit)
    return found


def late_in_between(
    plan: CheckPlan, made_on: Sequence[date], today: date, since: date = date.min
) -> list[tuple[date, date]]:
    """Of a check counted from the last one: when one was due and when it was made, where that was later.

    The newest first; what was made before ``since`` is left out. What is late today is told by its state.
    """
    if plan.interval.counted is Counted.CALENDAR:
        return []
    found: list[tuple[date, date]] = []
    before: date | None = None
    for day in sorted(made_on):
        due = next_due(plan, before)
        if due is not None and due < day <= today and day >= since:
            found.append((due, day))
        before = day
    return found[::-1]


def missed_words(plan: CheckPlan, made_on: Sequence[date], today: date) -> str:
    """The periods of the last twelve months that had no check, in words; empty: none, or the check is new.

    Args:
        made_on: the days of all entries that count.

    >>> weekly = CheckPlan(Interval(Unit.WEEK), date(2026, 10, 19))
    >>> made = [date(2026, 10, 24), date(2026, 10, 31), date(2026, 11, 28)]
    >>> missed_words(weekly, made, date(2026, 11, 28))
    '3 weeks (2 November 2026 to 22 November 2026)'
    """
    since = add_days(today, -MISSED_DAYS)
    parts = [
        f"due on {say_date(due)}, made on {say_date(day)}"
        for due, day in late_in_between(plan, made_on, today, since)
    ]
    missed = [one for one in missed_periods(plan, made_on, today) if one[1] >= since]
    runs: list[tuple[date, date]] = []
    for first, last in missed:
        if runs and add_days(last, 1) == runs[-1][0]:
            runs[-1] = first, runs[-1][1]
        else:
            runs.append((first, last))
    spans = [say_date(a) if a == b else f"{say_date(a)} to {say_date(b)}" for a, b in runs]
    if missed:
        many = f"{len(missed)} {plan.interval.unit}{'' if len(missed) == 1 else 's'}"
        parts = [f"{many} ({'; '.join(_the_newest(spans))})"]
    return "; ".join(_the_newest(parts))


def _the_newest(words: Sequence[str]) -> list[str]:
    more = len(words) - MOST_SPANS
    return [*words[:MOST_SPANS], f"and {more} more before that"] if more > 0 else list(words)


def due_words(state: CheckState, today: date) -> str:
    """When it is due, as a sentence begins.

    >>> due_words(CheckState(date(2026, 3, 2), 0, None, False), date(2026, 3, 2))
    'Due today'
    """
    if state.due is None:
        return "Ended"
    if state.late:
        days = "day" if state.late_days == 1 else "days"
        return f"{state.late_days} {days} late, due on {say_date(state.due)}"
    left = days_between(today, state.due)
    if left == 0:
        return "Due today"
    return "Due by tomorrow" if left == 1 else f"Due by {say_date(state.due)}"
