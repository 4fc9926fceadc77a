"""When a recurring check is due: calendar periods, month ends, leap days, clock changes, never too late."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.months import add_months
from service.core.recurring_checks import (
    CheckEntry,
    CheckPlan,
    Counted,
    Interval,
    Result,
    Unit,
    due_words,
    judge_check,
    missed_periods,
    missed_words,
    next_due,
    period_of,
    standing_entries,
)
from service.core.shop_days import shop_day

DAYS = st.dates(date(1999, 1, 1), date(2101, 12, 31))
CALENDAR = [Interval(unit) for unit in Unit]
INTERVALS = st.one_of(
    st.sampled_from(CALENDAR),
    st.builds(Interval, st.sampled_from(list(Unit)), st.integers(1, 60), st.just(Counted.FROM_LAST)),
)


def entry(number: int, on: date, result: Result = Result.FINE, reverses: int | None = None) -> CheckEntry:
    return CheckEntry(number, on, result, (number,), reverses)


@pytest.mark.parametrize(
    ("unit", "since", "last", "due"),
    [
        (Unit.DAY, date(2026, 3, 2), None, date(2026, 3, 2)),
        (Unit.DAY, date(2026, 3, 2), date(2026, 3, 2), date(2026, 3, 3)),
        (Unit.WEEK, date(2026, 3, 2), None, date(2026, 3, 8)),
        (Unit.WEEK, date(2026, 3, 8), None, date(2026, 3, 8)),
        (Unit.WEEK, date(2026, 3, 2), date(2026, 3, 8), date(2026, 3, 15)),
        (Unit.WEEK, date(2026, 12, 28), date(2027, 1, 3), date(2027, 1, 10)),
        (Unit.MONTH, date(2026, 1, 31), None, date(2026, 1, 31)),
        (Unit.MONTH, date(2026, 1, 1), date(2026, 1, 31), date(2026, 2, 28)),
        (Unit.MONTH, date(2028, 1, 1), date(2028, 1, 31), date(2028, 2, 29)),
        (Unit.MONTH, date(2028, 1, 1), date(2028, 2, 29), date(2028, 3, 31)),
        (Unit.MONTH, date(2026, 1, 1), date(2026, 12, 31), date(2027, 1, 31)),
        (Unit.YEAR, date(2026, 11, 1), None, date(2026, 12, 31)),
        (Unit.YEAR, date(2026, 11, 1), date(2028, 2, 29), date(2029, 12, 31)),
    ],
)
def test_by_the_calendar(unit: Unit, since: date, last: date | None, due: date) -> None:
    assert next_due(CheckPlan(Interval(unit), since), last) == due


@pytest.mark.parametrize(
    ("unit", "times", "last", "due"),
    [
        (Unit.DAY, 10, date(2028, 2, 20), date(2028, 3, 1)),
        (Unit.WEEK, 1, date(2026, 3, 5), date(2026, 3, 12)),
        (Unit.MONTH, 1, date(2026, 1, 31), date(2026, 2, 28)),
        (Unit.MONTH, 14, date(2025, 12, 31), date(2027, 2, 28)),
        (Unit.YEAR, 1, date(2028, 2, 29), date(2029, 2, 28)),
    ],
)
def test_from_the_last(unit: Unit, times: int, last: date, due: date) -> None:
    plan = CheckPlan(Interval(unit, times, Counted.FROM_LAST), date(2020, 1, 1))
    assert next_due(plan, last) == due


def test_from_the_last_is_due_at_once_while_nobody_knows_when_the_last_was() -> None:
    plan = CheckPlan(Interval(Unit.YEAR, 1, Counted.FROM_LAST), date(2026, 6, 10))
    assert judge_check(plan, [], date(2026, 6, 12)).late_days == 2


@given(INTERVALS, DAYS, st.none() | DAYS, DAYS)
def test_one_more_check_never_makes_the_next_due_earlier(
    interval: Interval, since: date, before: date | None, done: date
) -> None:
    plan = CheckPlan(interval, since)
    entries = [] if before is None else [entry(1, before)]
    was = judge_check(plan, entries, since).due
    now = judge_check(plan, [*entries, entry(2, done)], since).due
    assert was is not None and now is not None and now >= was


@given(INTERVALS, DAYS, DAYS)
def test_the_next_is_due_no_later_than_the_interval_allows(
    interval: Interval, since: date, done: date
) -> None:
    due = next_due(CheckPlan(interval, since), done)
    assert due is not None and due >= since
    if interval.counted is Counted.FROM_LAST:
        longest = {Unit.DAY: 1, Unit.WEEK: 7, Unit.MONTH: 31, Unit.YEAR: 366}[interval.unit] * interval.times
        assert due == since or timedelta(0) < due - done <= timedelta(days=longest)
    else:
        assert due in (period_of(since, interval.unit)[1], period_of(due, interval.unit)[1])
        assert due == period_of(since, interval.unit)[1] or period_of(done, interval.unit)[1] < due


@given(st.sampled_from(list(Unit)), DAYS)
def test_periods_leave_no_gap(unit: Unit, day: date) -> None:
    first, last = period_of(day, unit)
    assert first <= day <= last
    assert period_of(last + timedelta(days=1), unit)[0] == last + timedelta(days=1)
    if unit is Unit.MONTH:
        assert last == add_months(first, 1) - timedelta(days=1)


@pytest.mark.parametrize(
    ("zone", "at", "day"),
    [
        ("Europe/Berlin", datetime(2026, 3, 28, 23, 30, tzinfo=UTC), date(2026, 3, 29)),
        ("Europe/Berlin", datetime(2026, 3, 29, 21, 59, tzinfo=UTC), date(2026, 3, 29)),
        ("Europe/Berlin", datetime(2026, 3, 29, 22, 0, tzinfo=UTC), date(2026, 3, 30)),
        ("Europe/Berlin", datetime(2026, 10, 25, 22, 59, tzinfo=UTC), date(2026, 10, 25)),
        ("Europe/Berlin", datetime(2026, 10, 25, 23, 0, tzinfo=UTC), date(2026, 10, 26)),
        ("America/New_York", datetime(2026, 11, 1, 5, 30, tzinfo=UTC), date(2026, 11, 1)),
        ("America/New_York", datetime(2026, 11, 2, 4, 59, tzinfo=UTC), date(2026, 11, 1)),
    ],
)
def test_over_a_change_of_the_clocks_the_day_of_the_wall_counts(zone: str, at: datetime, day: date) -> None:
    on = shop_day(at, zone)
    assert on == day
    plan = CheckPlan(Interval(Unit.DAY), date(2026, 3, 1))
    assert next_due(plan, on) == day + timedelta(days=1)


def test_not_fine_is_a_check_made_and_a_failure_until_a_later_fine() -> None:
    plan, today = CheckPlan(Interval(Unit.MONTH), date(2026, 1, 1)), date(2026, 3, 10)
    broken = entry(1, date(2026, 3, 9), Result.NOT_FINE)
    state = judge_check(plan, [broken], today)
    assert state.failed and state.due == date(2026, 4, 30)
    assert judge_check(plan, [broken, entry(2, date(2026, 3, 8))], today).failed
    assert not judge_check(plan, [broken, entry(2, today)], today).failed
    taken_back = entry(3, today, Result.TAKEN_BACK, 2)
    assert judge_check(plan, [broken, entry(2, today), taken_back], today).failed


def test_what_was_taken_back_was_no_check() -> None:
    plan = CheckPlan(Interval(Unit.WEEK), date(2026, 3, 2))
    entries = [entry(1, date(2026, 3, 4)), entry(2, date(2026, 3, 4), Result.TAKEN_BACK, 1)]
    assert standing_entries(entries) == []
    assert judge_check(plan, entries, date(2026, 3, 10)).late_days == 2


def test_a_plan_that_ends_asks_for_nothing_more() -> None:
    plan = CheckPlan(Interval(Unit.MONTH), date(2026, 1, 1), date(2026, 3, 15))
    assert next_due(plan, date(2026, 1, 3)) == date(2026, 2, 28)
    assert next_due(plan, date(2026, 2, 3)) is None
    assert judge_check(plan, [entry(1, date(2026, 1, 3))], date(2026, 3, 10)).late_days == 10
    ended = judge_check(plan, [entry(1, date(2026, 1, 3))], date(2026, 3, 16))
    assert (ended.due, ended.late_days) == (None, 0)


def test_missed_periods_are_named() -> None:
    plan = CheckPlan(Interval(Unit.MONTH), date(2026, 1, 10))
    made = [date(2026, 1, 31), date(2026, 4, 2)]
    assert missed_periods(plan, made, date(2026, 5, 31)) == [
        (date(2026, 3, 1), date(2026, 3, 31)),
        (date(2026, 2, 1), date(2026, 2, 28)),
    ]
    assert missed_periods(CheckPlan(Interval(Unit.DAY), date.min), [], date(2026, 5, 31), most=3) == [
        (date(2026, 5, day), date(2026, 5, day)) for day in (30, 29, 28)
    ]
    assert missed_periods(CheckPlan(Interval(Unit.YEAR), date.min), [], date(3, 5, 31)) == [
        (date(2, 1, 1), date(2, 12, 31)), (date(1, 1, 1), date(1, 12, 31)),
    ]  # fmt: skip


def test_the_end_of_the_calendar_is_no_error() -> None:
    for interval in (*CALENDAR, Interval(Unit.YEAR, 60, Counted.FROM_LAST)):
        plan = CheckPlan(interval, date(9999, 12, 20))
        due = next_due(plan, date.max)
        assert due == date.max
        assert due_words(judge_check(plan, [], date.max), date.max)


def test_intervals_that_make_no_sense_are_refused() -> None:
    for times, counted in ((0, Counted.FROM_LAST), (61, Counted.FROM_LAST), (2, Counted.CALENDAR)):
        with pytest.raises(ValueError, match=r"1 to 60|one day"):
            Interval(Unit.MONTH, times, counted)


def test_what_was_missed_is_still_said_after_the_next_one() -> None:
    weekly = CheckPlan(Interval(Unit.WEEK), date(2026, 10, 19))
    made = [date(2026, 10, 24), date(2026, 10, 31)]
    words = "3 weeks (2 November 2026 to 22 November 2026)"
    assert missed_words(weekly, made, date(2026, 11, 28)) == words
    assert missed_words(weekly, [*made, date(2026, 11, 28)], date(2026, 11, 28)) == words
    assert missed_words(weekly, [*made, date(2026, 11, 12)], date(2026, 11, 28)) == (
        "2 weeks (16 November 2026 to 22 November 2026; 2 November 2026 to 8 November 2026)"
    )
    assert missed_words(weekly, [], date(2026, 10, 25)) == ""
    monthly = CheckPlan(Interval(Unit.MONTH), date(2026, 10, 18))
    assert missed_words(monthly, [date(2026, 11, 28)], date(2026, 11, 28)) == (
        "1 month (1 October 2026 to 31 October 2026)"
    )
    assert missed_words(monthly, [], date(2028, 2, 1)).startswith("12 months (1 February 2027 to 31 ")


def test_one_counted_from_the_last_says_what_was_late_in_between() -> None:
    plan = CheckPlan(Interval(Unit.MONTH, 3, Counted.FROM_LAST), date(2026, 1, 1))
    made = [date(2026, 1, 1), date(2026, 5, 1), date(2026, 7, 1)]
    assert missed_words(plan, made, date(2026, 7, 2)) == "due on 1 April 2026, made on 1 May 2026"
    assert missed_words(plan, made, date(2027, 7, 2)) == ""
