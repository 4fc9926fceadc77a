"""Month arithmetic against hand-made examples and the calendar's own rules."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.months import add_days, add_months, days_between, earliest, say_date, say_life


@pytest.mark.parametrize(("day", "months", "expected"), [
    (date(2026, 1, 31), 1, date(2026, 2, 28)),
    (date(2024, 1, 31), 1, date(2024, 2, 29)),
    (date(2024, 2, 29), 12, date(2025, 2, 28)),
    (date(2024, 2, 29), 48, date(2028, 2, 29)),
    (date(2026, 1, 31), 2, date(2026, 3, 31)),  # counted from the first day, not month by month
    (date(2025, 12, 15), 1, date(2026, 1, 15)),
    (date(2026, 5, 5), 0, date(2026, 5, 5)),
    (date(2099, 12, 31), 2, date(2100, 2, 28)),  # 2100 is no leap year
    (date(9999, 6, 1), 12, date.max),
])  # fmt: skip
def test_months(day: date, months: int, expected: date) -> None:
    assert add_months(day, months) == expected


@given(st.dates(max_value=date(9000, 1, 1)), st.integers(0, 1200), st.integers(0, 1200))
def test_longer_is_never_earlier(day: date, a: int, b: int) -> None:
    low, high = sorted((a, b))
    assert day <= add_months(day, low) <= add_months(day, high)
    assert add_months(day, a).day <= day.day


def test_the_edges_of_the_calendar_do_not_crash() -> None:
    assert add_days(date.max, 1) == date.max and add_days(date.min, -1) == date.min
    with pytest.raises(ValueError, match="negative"):
        add_months(date(2026, 1, 1), -1)


def test_words() -> None:
    assert say_date(date(2026, 12, 1)) == "1 December 2026"
    assert (say_life(0, None), say_life(None, 1)) == ("0 months", "1 day")
    assert earliest() is None and earliest(None, date(2026, 1, 1)) == date(2026, 1, 1)
    assert days_between(date(2026, 3, 2), date(2026, 3, 1)) == -1
