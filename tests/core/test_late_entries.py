"""Two instants per posting: design section 4, "before and after the act"."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.late_entries import CLOCK_TOLERANCE, LATE_AFTER, judge_time

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
WHY = "Written up after the class"


def test_default_is_now() -> None:
    when = judge_time(None, NOON)
    assert (when.happened_at, when.recorded_at, when.late) == (NOON, NOON, False)


def test_fifteen_minutes_is_not_late_and_a_second_more_is() -> None:
    assert not judge_time(NOON - LATE_AFTER, NOON).late
    with pytest.raises(Invalid) as caught:
        judge_time(NOON - LATE_AFTER - timedelta(seconds=1), NOON)
    assert set(caught.value.errors) == {"late_reason"}
    assert judge_time(NOON - LATE_AFTER - timedelta(seconds=1), NOON, WHY).late


@pytest.mark.parametrize("reason", [None, "", "   ", "..........", "late", "1234567890123"])
def test_a_late_entry_needs_a_sentence(reason: str | None) -> None:
    with pytest.raises(Invalid):
        judge_time(NOON - timedelta(days=1), NOON, reason)


def test_small_clock_error_counts_as_now_and_the_future_is_refused() -> None:
    assert judge_time(NOON + CLOCK_TOLERANCE, NOON).happened_at == NOON
    for ahead in (CLOCK_TOLERANCE + timedelta(seconds=1), timedelta(days=400)):
        with pytest.raises(Invalid) as caught:
            judge_time(NOON + ahead, NOON, WHY)
        assert set(caught.value.errors) == {"happened_at"}


@pytest.mark.parametrize(
    "odd",
    [
        datetime(2026, 3, 2, 12),  # noqa: DTZ001 - a time without a zone is what is tried here
        datetime.min.replace(tzinfo=timezone(timedelta(hours=14))),
        datetime.max.replace(tzinfo=timezone(timedelta(hours=-12))),
        datetime(1969, 12, 31, tzinfo=UTC),
    ],
)
def test_odd_instants_are_answered_not_crashed_on(odd: datetime) -> None:
    with pytest.raises(Invalid) as caught:
        judge_time(odd, NOON, WHY)
    assert "happened_at" in caught.value.errors


def test_recorded_time_never_goes_backwards() -> None:
    last = NOON + timedelta(hours=1)
    assert judge_time(None, NOON, last_recorded_at=last).recorded_at == last
    assert judge_time(None, NOON, last_recorded_at=NOON - timedelta(hours=1)).recorded_at == NOON


@given(st.timedeltas(min_value=timedelta(0), max_value=timedelta(days=3000)), st.integers(-12, 14))
def test_the_zone_it_is_written_in_changes_nothing(ago: timedelta, hours: int) -> None:
    there = (NOON - ago).astimezone(timezone(timedelta(hours=hours)))
    when = judge_time(there, NOON, WHY)
    assert when.happened_at == NOON - ago and when.happened_at.utcoffset() == timedelta(0)
    assert when.late == (ago > LATE_AFTER)
