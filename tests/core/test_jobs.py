"""Which shift an instant falls into, and when a job ends at the latest."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.core.jobs import ShiftHours, latest_end, shift_end

BERLIN = ZoneInfo("Europe/Berlin")
DAY = ShiftHours("day", 3, time(8), time(16, 30))
EVENING = ShiftHours("evening class", 3, time(18), time(21))
NIGHT = ShiftHours("night", 3, time(22), time(6))


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN).astimezone(UTC)


@pytest.mark.parametrize(
    ("instant", "end"),
    [
        ("2026-03-12T10:00", "2026-03-12T16:30"),
        ("2026-03-12T08:00", "2026-03-12T16:30"),
        ("2026-03-12T16:30", None),
        ("2026-03-12T19:00", "2026-03-12T21:00"),
        ("2026-03-12T23:00", "2026-03-13T06:00"),
        ("2026-03-13T05:59", "2026-03-13T06:00"),
        ("2026-03-13T10:00", None),
    ],
)
def test_the_shift_an_instant_falls_into(instant: str, end: str | None) -> None:
    got = shift_end(at(instant), [DAY, EVENING, NIGHT], BERLIN)
    assert got == (at(end) if end else None)


def test_of_overlapping_shifts_the_earlier_end_counts() -> None:
    long = ShiftHours("long day", 3, time(7), time(20))
    assert shift_end(at("2026-03-12T10:00"), [long, DAY], BERLIN) == at("2026-03-12T16:30")


def test_an_end_in_the_doubled_hour_is_the_first_of_the_two() -> None:
    # The clock goes back on Sunday 25 October 2026 at 03:00 to 02:00 in Berlin.
    night = ShiftHours("night", 5, time(22), time(2, 30))
    end = shift_end(at("2026-10-24T23:00"), [night], BERLIN)
    assert end == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("start", "wanted", "shift", "end"),
    [
        ("2026-03-12T10:00", None, "2026-03-12T16:30", "2026-03-12T16:30"),
        ("2026-03-12T10:00", "2026-03-12T12:00", "2026-03-12T16:30", "2026-03-12T12:00"),
        ("2026-03-12T10:00", "2026-03-12T23:00", "2026-03-12T16:30", "2026-03-12T23:00"),
        ("2026-03-12T20:00", None, None, "2026-03-13T00:00"),
        ("2026-03-12T20:00", "2026-03-14T00:00", None, "2026-03-13T00:00"),
        ("2026-03-12T23:00", None, "2026-03-13T06:00", "2026-03-13T06:00"),
    ],
)
def test_when_a_job_ends_at_the_latest(start: str, wanted: str | None, shift: str | None, end: str) -> None:
    got = latest_end(at(start), at(wanted) if wanted else None, at(shift) if shift else None, BERLIN)
    assert got == at(end)


def test_work_outside_any_shift_ends_at_midnight_also_on_a_short_day() -> None:
    start = at("2026-03-29T01:30")
    assert latest_end(start, None, None, BERLIN) - start == timedelta(hours=21, minutes=30)
