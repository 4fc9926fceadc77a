"""Dates of a repeated job: school days, holidays, leap days, what moves and what is left out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.school_calendar import (
    FreeDays,
    SchoolCalendar,
    about_holidays,
    checked,
    places,
    public_holidays,
    school_days,
    school_holidays,
    why_closed,
    why_free,
)
from service.core.term_dates import OnFreeDay, Repeat, dates_of

SPRING = SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3), country="DE", part="SN")
PLAIN = SchoolCalendar(date(2024, 1, 8), date(2024, 6, 28))


def test_weekly_leaves_out_holidays_and_names_them() -> None:
    row = dates_of(SPRING, date(2026, 3, 16), Repeat.WEEKLY, last=date(2026, 5, 4))
    assert [day.isoformat()[5:] for day in row.dates] == [
        "03-16",
        "03-23",
        "03-30",
        "04-13",
        "04-20",
        "04-27",
        "05-04",
    ]
    assert [(one.day, one.to, one.why) for one in row.moved] == [(date(2026, 4, 6), None, "Easter Monday")]
    assert "date-left-out" in row.verdict.codes


def test_a_holiday_moves_to_the_next_school_day_before_the_next_turn() -> None:
    move = OnFreeDay.NEXT_SCHOOL_DAY
    friday = dates_of(SPRING, date(2026, 4, 24), Repeat.WEEKLY, last=date(2026, 5, 8), on_free=move)
    assert friday.dates == (date(2026, 4, 24), date(2026, 5, 4), date(2026, 5, 8))
    assert friday.moved[0].to == date(2026, 5, 4) and "date-moved" in friday.verdict.codes
    # Two weeks of summer break: what would reach its own next turn is left out.
    week = replace(PLAIN, free=(FreeDays(date(2024, 3, 4), date(2024, 3, 15), "trip"),))
    monday = dates_of(week, date(2024, 2, 26), Repeat.WEEKLY, last=date(2024, 3, 19), on_free=move)
    assert monday.dates == (date(2024, 2, 26), date(2024, 3, 18))
    assert [one.to for one in monday.moved] == [None, None]


def test_every_third_school_day_counts_school_days_only_and_meets_the_leap_day() -> None:
    row = dates_of(PLAIN, date(2024, 2, 24), Repeat.SCHOOL_DAYS, every=3, last=date(2024, 3, 10))
    assert row.dates == (date(2024, 2, 26), date(2024, 2, 29), date(2024, 3, 5), date(2024, 3, 8))
    assert [(one.day, one.to, one.why) for one in row.moved] == [
        (date(2024, 2, 24), date(2024, 2, 26), "Saturday")
    ]


def test_weeks_go_over_a_change_of_the_clocks() -> None:
    # Germany's clocks change on 29 March 2026, those of the US on 8 March.
    row = dates_of(SPRING, date(2026, 3, 5), Repeat.WEEKLY, last=date(2026, 4, 2))
    assert [day.day for day in row.dates] == [5, 12, 19, 26, 2]
    assert {day.weekday() for day in row.dates} == {3}


def test_once_keeps_its_day_on_a_holiday_and_warns() -> None:
    row = dates_of(SPRING, date(2026, 5, 1), Repeat.ONCE)
    assert row.dates == (date(2026, 5, 1),) and "on-free-day" in row.verdict.codes
    assert dates_of(SPRING, date(2026, 5, 4), Repeat.ONCE).verdict.codes == frozenset()


def test_a_row_without_any_school_day_says_so() -> None:
    free = replace(PLAIN, weekdays=frozenset({0}))
    row = dates_of(free, date(2024, 2, 6), Repeat.WEEKLY)
    assert row.dates == () and "no-date" in row.verdict.codes


@given(
    first=st.dates(PLAIN.first, PLAIN.last),
    repeat=st.sampled_from(list(Repeat)),
    every=st.integers(1, 9),
    on_free=st.sampled_from(list(OnFreeDay)),
    free=st.lists(st.tuples(st.dates(PLAIN.first, PLAIN.last), st.integers(0, 20)), max_size=3),
    weekdays=st.frozensets(st.integers(0, 6), min_size=1),
)
def test_dates_are_school_days_in_order_each_once(
    first: date,
    repeat: Repeat,
    every: int,
    on_free: OnFreeDay,
    free: list[tuple[date, int]],
    weekdays: frozenset[int],
) -> None:
    stretches = tuple(FreeDays(day, day + timedelta(days=n)) for day, n in free)
    term = replace(PLAIN, country="US", part="CA", free=stretches, weekdays=weekdays)
    row = dates_of(term, first, repeat, every=every, on_free=on_free)
    assert list(row.dates) == sorted(set(row.dates))
    if repeat is Repeat.ONCE:
        assert row.dates == (first,)
        return
    assert all(not why_free(term, day) and day >= first for day in row.dates)
    assert all(why_free(term, one.day) == one.why != "" for one in row.moved)
    moved_to = {one.to for one in row.moved}
    if repeat is Repeat.SCHOOL_DAYS:
        taught = [day for day in school_days(term) if day >= first]
        assert list(row.dates) == taught[::every]
    else:
        step = 7 if repeat is Repeat.WEEKLY else 14
        turns = {first + timedelta(days=n) for n in range(0, (PLAIN.last - first).days + 1, step)}
        assert set(row.dates) - moved_to <= turns
        assert turns == (set(row.dates) - moved_to) | {one.day for one in row.moved} | (
            turns & set(row.dates)
        )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"last": date(2024, 1, 1)}, "last"),
        ({"last": date(2027, 1, 1)}, "last"),
        ({"weekdays": frozenset()}, "weekdays"),
        ({"weekdays": frozenset({7})}, "weekdays"),
        ({"country": "XX"}, "country"),
        ({"country": "DEU"}, "country"),
        ({"country": "DE", "part": "XX"}, "part"),
        ({"part": "SN"}, "country"),
        ({"free": (FreeDays(date(2024, 2, 2), date(2024, 2, 1)),)}, "free"),
        ({"free": (FreeDays(date(2024, 2, 2), date(2024, 2, 2)),) * 101}, "free"),
    ],
)
def test_a_calendar_that_cannot_be_used_names_the_field(changes: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        checked(replace(PLAIN, **changes))  # type: ignore[arg-type]
    assert set(refused.value.errors) == {field}


@pytest.mark.parametrize(
    ("first", "more", "field"),
    [
        (date(2024, 1, 7), {}, "first"),
        (date(2024, 6, 29), {}, "first"),
        (date(2024, 2, 5), {"last": date(2024, 2, 4)}, "last"),
        (date(2024, 2, 5), {"every": 0}, "every"),
        (date(2024, 2, 5), {"every": 61}, "every"),
    ],
)
def test_a_row_that_cannot_be_made_names_the_field(first: date, more: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        dates_of(PLAIN, first, Repeat.SCHOOL_DAYS, **more)  # type: ignore[arg-type]
    assert set(refused.value.errors) == {field}


def test_a_day_with_lessons_all_the_same_wins_over_everything() -> None:
    extra = date(2026, 5, 1)
    assert why_free(SPRING, extra) and not why_free(replace(SPRING, also=frozenset({extra})), extra)
    outside = date(2026, 7, 6)
    assert why_free(SPRING, outside) == "outside the term" and why_closed(SPRING, outside) == "Summer Break"


def test_school_holidays_count_for_a_school_alone() -> None:
    winter = date(2026, 2, 16)
    assert why_free(SPRING, winter) == "Winter Break"
    assert why_free(replace(SPRING, breaks=False), winter) == ""


def test_holidays_nobody_knows_are_said() -> None:
    far = SchoolCalendar(date(2101, 1, 3), date(2101, 6, 1), country="US")
    assert [f.code for f in about_holidays(far)] == ["holidays-not-known", "no-breaks"]
    assert [f.code for f in about_holidays(SPRING)] == []
    egypt = SchoolCalendar(date(2027, 2, 1), date(2027, 3, 31), country="EG", breaks=False)
    assert [f.sentence for f in about_holidays(egypt)] == [
        "9 March 2027 (Eid al-Fitr) is an expected date: it may move by a day.",
        "10 March 2027 (Eid al-Fitr) is an expected date: it may move by a day.",
    ]


def test_every_place_named_can_be_asked() -> None:
    known = places()
    assert len(known) > 200
    for country, parts in known.items():
        for part in ("", *parts[:1]):
            assert public_holidays(country, part, 2026) is not None
            assert all(day.year == 2026 for day in school_holidays(country, part, 2026))
    with pytest.raises(KeyError):
        public_holidays("DE", "XX", 2026)


def test_a_day_that_cannot_be_put_off_says_why_it_is_left_out() -> None:
    """Invented calendar: a break over two turns of a weekly job."""
    free = (FreeDays(date(2026, 3, 9), date(2026, 3, 17), "works weeks"),)
    term = SchoolCalendar(date(2026, 2, 2), date(2026, 5, 29), free=free)
    found = dates_of(term, date(2026, 3, 2), Repeat.WEEKLY, on_free=OnFreeDay.NEXT_SCHOOL_DAY)
    told = [one.sentence for one in found.verdict if one.code in ("date-left-out", "date-moved")]
    assert "left out, as no school day comes before its next turn on 16 March 2026" in told[0]
    assert "put on 18 March 2026" in told[1]
