"""Counts: what confirms the book, what puts it right, and what a count made earlier comes to now."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.containers import AmountKnown
from service.core.counting import found_now, judge_count, most_there, not_more_than_there, tolerance
from service.core.findings import Refused
from service.core.ledger import Balance, MovementKind, MovementLine

SURE, GUESS = AmountKnown.MEASURED, AmountKnown.ESTIMATED
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("book", "found", "known", "confirms"),
    [
        (1_000_000, 980_000, SURE, True),
        (1_000_000, 979_999, SURE, False),
        (1_000_000, 800_000, GUESS, True),
        (1_000_000, 799_999, GUESS, False),
        (4_000, 3_600, SURE, True),
        (4_000, 3_599, SURE, False),
        (300, 0, SURE, False),
        (0, 100, SURE, False),
    ],
)
def test_the_edges_of_the_tolerance(book: int, found: int, known: AmountKnown, confirms: bool) -> None:
    # House policy, no source: 2 % measured, 20 % by eye, at least half a gram but never over a tenth.
    result = judge_count(Balance(book, SURE), found, known)
    assert result.confirms is confirms
    assert result.counted == (book if confirms else found)


def test_pieces_have_no_tolerance() -> None:
    assert judge_count(Balance(100, SURE), 99, SURE, pieces=True).fall == 1
    assert tolerance(1000, SURE, found=999, pieces=True) == 0


def test_a_measured_count_near_an_estimate_makes_it_measured() -> None:
    result = judge_count(Balance(100_000, GUESS), 99_000, SURE)
    assert (result.counted, result.change, result.known, result.fall) == (99_000, -1_000, SURE, 0)


def test_a_guess_never_makes_a_measured_amount_a_guess_while_it_fits() -> None:
    assert judge_count(Balance(100_000, SURE), 110_000, GUESS).known is SURE


def test_small_unbooked_takings_add_up_until_they_show() -> None:
    book, there, falls = Balance(1_000_000, SURE), 1_000_000, 0
    for _ in range(10):
        there -= 5_000
        result = judge_count(book, there, SURE)
        book, falls = Balance(result.counted, result.known), falls + result.fall
    assert falls >= 30_000


@given(st.integers(0, 10**12), st.integers(0, 10**12), st.sampled_from([SURE, GUESS]))
def test_the_difference_always_fits_the_count(book: int, found: int, known: AmountKnown) -> None:
    result = judge_count(Balance(book, SURE), found, known)
    assert result.change is not None
    assert book + result.change == result.counted
    assert result.fall == (0 if result.confirms else max(0, book - found))


def line(number: int, kind: MovementKind, change: int | None, hour: int, **more: int) -> MovementLine:
    return MovementLine(number, kind, change, happened_at=NOON.replace(hour=hour), **more)  # type: ignore[arg-type]


def test_what_came_and_went_since_is_added_to_an_earlier_count() -> None:
    lines = [
        line(1, MovementKind.RECEIVE, 900, 8),
        line(2, MovementKind.DRAW, -100, 9),
        line(3, MovementKind.DRAW, -50, 14),
        line(4, MovementKind.RETURN, 20, 15),
    ]
    assert found_now(lines, 500, NOON) == 470
    assert found_now(lines, 500, NOON.replace(hour=16)) == 500


@pytest.mark.parametrize(
    ("later", "code"),
    [
        (line(2, MovementKind.COUNT_DIFFERENCE, -100, 14, counted=800), "counted-since"),
        (line(2, MovementKind.DRAW, None, 14), "unknown-since"),
        (line(2, MovementKind.DRAW, -600, 14), "count-too-small"),
    ],
)
def test_an_earlier_count_that_cannot_stand_is_refused(later: MovementLine, code: str) -> None:
    with pytest.raises(Refused) as no:
        found_now([line(1, MovementKind.RECEIVE, 900, 8), later], 500, NOON)
    assert no.value.verdict.codes == {code}


def test_nobody_finds_less_than_nothing() -> None:
    with pytest.raises(ValueError, match="less than nothing"):
        judge_count(Balance(1, SURE), -1, SURE)


@pytest.mark.parametrize(
    ("lines", "most"),
    [
        ([(MovementKind.RECEIVE, 900), (MovementKind.DRAW, None)], 900),
        ([(MovementKind.RECEIVE, 900), (MovementKind.DRAW, None), (MovementKind.DRAW, -100)], 800),
        ([(MovementKind.RECEIVE, 900), (MovementKind.DECANT_OUT, None), (MovementKind.DECANT_IN, 50)], 950),
        ([(MovementKind.RECEIVE, 900), (MovementKind.DRAW, None), (MovementKind.DECANT_IN, None)], None),
        ([(MovementKind.RECEIVE, None), (MovementKind.DRAW, None)], None),
        ([(MovementKind.RECEIVE, 900), (MovementKind.DRAW, None), (MovementKind.DRAW, -950)], 0),
    ],
)
def test_the_most_that_can_be_there(lines: list[tuple[MovementKind, int | None]], most: int | None) -> None:
    book = [MovementLine(n, kind, change) for n, (kind, change) in enumerate(lines, start=1)]
    assert most_there(book) == most


def test_a_count_since_is_the_most_from_then_on() -> None:
    book = [
        MovementLine(1, MovementKind.RECEIVE, None),
        MovementLine(2, MovementKind.COUNT_DIFFERENCE, None, counted=400),
        MovementLine(3, MovementKind.DRAW, None),
    ]
    assert most_there(book) == 400


def test_a_first_count_shows_no_more_than_was_there() -> None:
    book = [MovementLine(1, MovementKind.RECEIVE, 100_000), MovementLine(2, MovementKind.DRAW, None)]
    for found, known in ((102_000, SURE), (120_000, GUESS), (0, SURE)):
        not_more_than_there(book, found, known, pieces=False, say=str)
    for found, known, pieces in ((102_001, SURE, False), (120_001, GUESS, False), (100_001, SURE, True)):
        with pytest.raises(Refused) as caught:
            not_more_than_there(book, found, known, pieces=pieces, say=str)
        assert "more-than-there" in caught.value.verdict.codes
    not_more_than_there([MovementLine(1, MovementKind.RECEIVE, None)], 10**9, SURE, pieces=False, say=str)
