"""Use of a week by the ledger: a spread, or the reason why there is none."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.ledger import MovementKind, MovementLine
from service.core.use_suggestion import Use, quantile, use_of_weeks, uses_of

MONDAY = date(2026, 1, 5)
NOON = datetime(2026, 1, 7, 12, tzinfo=UTC)


def in_week(n: int, amount: int | None, weekday: int = 2) -> Use:
    return Use(MONDAY + timedelta(weeks=n, days=weekday), amount)


def test_draws_less_returns_are_use_and_nothing_else_is() -> None:
    lines = [
        MovementLine(1, MovementKind.RECEIVE, 1000, happened_at=NOON),
        MovementLine(2, MovementKind.DRAW, -300, happened_at=NOON),
        MovementLine(3, MovementKind.RETURN, 40, happened_at=NOON),
        MovementLine(4, MovementKind.DISCARD, -100, happened_at=NOON),
        MovementLine(5, MovementKind.DECANT_OUT, -50, happened_at=NOON),
        MovementLine(6, MovementKind.DRAW, -70, happened_at=NOON),
        MovementLine(7, MovementKind.REVERSAL, 70, reverses=6, happened_at=NOON),
        MovementLine(8, MovementKind.DRAW, None, happened_at=NOON.replace(hour=23, minute=30)),
    ]
    assert uses_of(lines, "Europe/Berlin") == [
        Use(date(2026, 1, 7), 300), Use(date(2026, 1, 7), -40), Use(date(2026, 1, 8), None),
    ]  # fmt: skip
    with pytest.raises(ValueError, match="line 9"):
        uses_of([MovementLine(9, MovementKind.DRAW, -1)], "UTC")


def test_whole_weeks_count_and_the_running_one_does_not() -> None:
    uses = [in_week(n, 100) for n in range(8)]
    spread = use_of_weeks(uses, MONDAY - timedelta(days=3), MONDAY + timedelta(weeks=7, days=3))
    assert (spread.weeks, spread.low, spread.middle, spread.high) == (7, 100, 100, 100)


def test_weeks_without_school_do_not_make_use_look_small() -> None:
    uses = [in_week(n, 100) for n in (0, 1, 2, 5, 6, 7)]
    closed = [MONDAY + timedelta(weeks=n) for n in (3, 4, 5)]
    end = MONDAY + timedelta(weeks=8)
    assert use_of_weeks(uses, MONDAY, end, closed).low == 100
    assert use_of_weeks(uses, MONDAY, end).low == 75


def test_of_too_little_there_is_no_suggestion() -> None:
    end = MONDAY + timedelta(weeks=8)
    few = use_of_weeks([in_week(n, 10) for n in range(5)], MONDAY, MONDAY + timedelta(weeks=5))
    rare = use_of_weeks([in_week(0, 10), in_week(1, 10)], MONDAY, end)
    dark = use_of_weeks([in_week(n, None if n < 2 else 10) for n in range(8)], MONDAY, end)
    longer = MONDAY + timedelta(weeks=10)
    darker = use_of_weeks([in_week(n, None if n < 3 else 10) for n in range(10)], MONDAY, longer)
    for one in (few, rare, darker):
        assert one.low is one.middle is one.high is None and one.why_not
    assert dark.not_known == 2 and dark.middle == 10
    assert use_of_weeks([], MONDAY, MONDAY).why_not == "Only 0 whole weeks are known; 6 are needed."


def test_a_week_in_which_more_came_back_is_no_use_below_nothing() -> None:
    uses = [in_week(0, -500), *(in_week(n, 10) for n in range(1, 8))]
    assert use_of_weeks(uses, MONDAY, MONDAY + timedelta(weeks=8)).low == 10


@given(st.lists(st.integers(0, 10**9), min_size=6, max_size=40))
def test_the_ends_stand_in_order_and_within_what_was_used(amounts: list[int]) -> None:
    uses = [in_week(n, amount) for n, amount in enumerate(amounts)]
    spread = use_of_weeks(uses, MONDAY, MONDAY + timedelta(weeks=len(amounts)))
    if spread.why_not:
        assert sum(1 for amount in amounts if amount) < 3
        return
    assert spread.low is not None and spread.middle is not None and spread.high is not None
    assert min(amounts) <= spread.low <= spread.middle <= spread.high <= max(amounts)
    assert sum(1 for amount in amounts if amount <= spread.high) * 10 >= 9 * (len(amounts) - 1)


def test_a_share_outside_or_nothing_to_share_is_refused() -> None:
    assert quantile([7], Fraction(9, 10)) == 7
    for values, share in (([], Fraction(1, 2)), ([1], Fraction(3, 2))):
        with pytest.raises(ValueError, match="no values"):
            quantile(values, share)
