"""Folding a container's lines, sign rules, and never more out than in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.containers import AmountKnown
from service.core.ledger import (
    DESTINATIONS,
    INFLOWS,
    MOVEMENT_WORDS,
    OTHER_SIDES,
    Balance,
    Destination,
    MovementKind,
    MovementLine,
    check_sign,
    counted_since,
    fold,
    may_call_empty,
    may_take,
)

K = MovementKind
UNKNOWN, ESTIMATED, MEASURED = AmountKnown.NOT_KNOWN, AmountKnown.ESTIMATED, AmountKnown.MEASURED
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


def test_tables_are_whole_and_no_drain_is_on_the_list() -> None:
    assert set(DESTINATIONS) == set(Destination) and set(MOVEMENT_WORDS) == set(OTHER_SIDES) == set(K)
    words = " ".join([*DESTINATIONS.values(), *DESTINATIONS])
    assert not any(bad in words for bad in ("drain", "sink", "evaporat", "dried off"))


def test_an_unknown_opening_amount_stays_unknown_until_a_count() -> None:
    lines = [MovementLine(1, K.RECEIVE, None, UNKNOWN), MovementLine(2, K.DRAW, -50)]
    assert fold(lines) == Balance(None, UNKNOWN, 1)
    lines.append(MovementLine(3, K.COUNT_DIFFERENCE, None, counted=200))
    assert fold(lines) == Balance(200, MEASURED, 3)
    lines.append(MovementLine(4, K.REVERSAL, 0, reverses=3))
    assert fold(lines).amount is None


def test_a_draw_of_unknown_size_makes_it_unknown() -> None:
    lines = [MovementLine(1, K.RECEIVE, 500), MovementLine(2, K.DRAW, None, UNKNOWN)]
    assert fold(lines).amount is None
    assert fold([*lines, MovementLine(3, K.REVERSAL, 0, reverses=2)]).amount == 500


def test_estimates_stick_until_a_measured_count() -> None:
    lines = [MovementLine(1, K.RECEIVE, 500, ESTIMATED), MovementLine(2, K.DRAW, -100)]
    assert fold(lines).known is ESTIMATED
    lines.append(MovementLine(3, K.COUNT_DIFFERENCE, -10, ESTIMATED, counted=390))
    assert fold(lines).known is ESTIMATED
    lines.append(MovementLine(4, K.COUNT_DIFFERENCE, 5, counted=395))
    assert fold(lines) == Balance(395, MEASURED, 4)
    assert fold([]) == Balance(0, MEASURED)


@pytest.mark.parametrize("kind", [k for k in K if k not in (K.COUNT_DIFFERENCE, K.REVERSAL)])
def test_signs_by_kind(kind: K) -> None:
    right = 5 if kind in INFLOWS else -5
    assert not check_sign(MovementLine(1, kind, right)).blocking
    assert check_sign(MovementLine(1, kind, -right)).codes == {"sign"}
    assert check_sign(MovementLine(1, kind, 0)).blocking == (kind is not K.DISCARD)
    assert check_sign(MovementLine(1, kind, right, counted=3)).codes == {"counted"}
    assert check_sign(MovementLine(1, kind, right, reverses=9)).codes == {"reverses"}


def test_counts_and_reversals_have_their_own_fields() -> None:
    assert not check_sign(MovementLine(1, K.COUNT_DIFFERENCE, 0, counted=7)).blocking
    assert check_sign(MovementLine(1, K.COUNT_DIFFERENCE, 5)).blocking
    assert check_sign(MovementLine(1, K.COUNT_DIFFERENCE, 5, counted=-1)).blocking
    assert check_sign(MovementLine(1, K.REVERSAL, 5)).blocking


@pytest.mark.parametrize(("amount", "promised", "codes"), [
    (100, 0, set()), (101, 0, {"not-enough"}), (50, 50, set()), (51, 50, {"promised"}),
    (0, 0, {"nothing-taken"}), (-5, 0, {"nothing-taken"}),
])  # fmt: skip
def test_overdraw(amount: int, promised: int, codes: set[str]) -> None:
    assert may_take(Balance(100, MEASURED), amount, promised=promised).codes == codes


def test_unknown_is_never_enough_and_an_estimate_is_said() -> None:
    verdict = may_take(Balance(None, UNKNOWN), 1)
    assert not verdict.complete and not verdict.blocking
    assert may_take(Balance(10, ESTIMATED), 1).codes == {"amount-estimated"}
    assert may_take(Balance(10, ESTIMATED), 11).blocking


def test_only_nothing_is_empty() -> None:
    assert not may_call_empty(Balance(0, MEASURED)).blocking
    assert may_call_empty(Balance(1, MEASURED)).blocking and may_call_empty(Balance(None, UNKNOWN)).blocking


def test_a_late_entry_from_before_a_count_is_seen() -> None:
    count = MovementLine(2, K.COUNT_DIFFERENCE, 0, counted=5, happened_at=NOON)
    lines = [MovementLine(1, K.RECEIVE, 5, happened_at=NOON - timedelta(days=1)), count]
    assert counted_since(lines, NOON - timedelta(minutes=1)) == count
    assert counted_since(lines, NOON) is None
    gone = [*lines, MovementLine(3, K.REVERSAL, 0, reverses=2, happened_at=NOON)]
    assert counted_since(gone, NOON - timedelta(minutes=1)) is None


@given(st.lists(st.integers(-50, 50), max_size=30), st.randoms())
def test_known_lines_fold_to_their_sum_in_any_order_given(changes: list[int], rng: object) -> None:
    lines = [MovementLine(n, K.RECEIVE if c > 0 else K.DRAW, c) for n, c in enumerate(changes, 1)]
    expected = sum(changes)
    rng.shuffle(lines)  # type: ignore[attr-defined]
    assert fold(lines).amount == expected


@given(st.lists(st.one_of(st.integers(1, 50), st.none()), min_size=1, max_size=12), st.integers(0, 11))
def test_one_more_unknown_never_gives_an_amount(sizes: list[int | None], at: int) -> None:
    at %= len(sizes)
    lines = [MovementLine(n, K.RECEIVE, c) for n, c in enumerate(sizes, 1)]
    lines[at] = MovementLine(at + 1, K.RECEIVE, None, UNKNOWN)
    assert fold(lines).amount is None
