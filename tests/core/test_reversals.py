"""Reversals: who, when, which line; and what `check_lines` finds in a ledger that was tampered with."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.access import Role
from service.core.containers import AmountKnown
from service.core.ledger import MovementKind, MovementLine, fold
from service.core.reversals import SOON, check_lines, may_be_reversed, may_reverse, reversal_of

K = MovementKind
TOOK = MovementLine(1, K.RECEIVE, 100)
DRAW = MovementLine(2, K.DRAW, -60)


@pytest.mark.parametrize(
    ("role", "own", "minutes", "same_day", "reason", "codes"),
    [
        (Role.STUDENT, True, 2, True, "slip", set()),
        (Role.STUDENT, True, 2.01, True, "slip", {"reverse-too-late"}),
        (Role.STUDENT, True, 1, False, "slip", set()),  # over midnight
        (Role.STUDENT, False, 1, True, "slip", {"reverse-not-own"}),
        (Role.FINISHER, True, 500, True, "slip", set()),
        (Role.FINISHER, True, 1, False, "slip", {"reverse-too-late"}),
        (Role.FINISHER, False, 1, True, "slip", {"reverse-not-own"}),
        (Role.KEEPER, False, 500_000, False, "wrong can", set()),
        (Role.KEEPER, True, 1, True, " .", {"reason-missing"}),
        (Role.READER, True, 1, True, "slip", {"reverse-role"}),
    ],
)
def test_who_may_reverse(
    role: Role, own: bool, minutes: float, same_day: bool, reason: str, codes: set[str]
) -> None:
    age = timedelta(minutes=minutes)
    assert may_reverse(role, own=own, age=age, same_day=same_day, reason=reason).codes == codes
    assert timedelta(minutes=2) == SOON


def test_which_lines_may_be_reversed() -> None:
    assert not may_be_reversed(2, [TOOK, DRAW]).blocking
    assert may_be_reversed(1, [TOOK, DRAW]).codes == {"would-be-negative"}
    undone = [TOOK, DRAW, reversal_of(DRAW, 3)]
    assert may_be_reversed(2, undone).codes == {"reversed-already"}
    assert may_be_reversed(3, undone).codes == {"reversal-of-reversal"}
    assert not may_be_reversed(1, undone).blocking
    assert may_be_reversed(9, undone).codes == {"no-such-line"}


def test_what_was_counted_since_is_not_reversed_or_it_would_be_right_twice() -> None:
    count = MovementLine(3, K.COUNT_DIFFERENCE, 10, counted=50)
    assert may_be_reversed(2, [TOOK, DRAW, count]).codes == {"counted-since"}
    assert not may_be_reversed(3, [TOOK, DRAW, count]).blocking
    without = [TOOK, DRAW, count, reversal_of(count, 4)]
    assert fold(without).amount == 40
    assert not may_be_reversed(2, without).blocking


def test_check_lines_finds_each_fault() -> None:
    count = MovementLine(3, K.COUNT_DIFFERENCE, 10, counted=50)
    back = reversal_of(DRAW, 3)
    sound = [TOOK, DRAW, count]
    assert not check_lines(sound).findings and not check_lines([TOOK, DRAW, back]).findings
    for code, lines in {
        "negative": [TOOK, replace(DRAW, change=-101)],
        "sign": [TOOK, replace(DRAW, change=60)],
        "count-mismatch": [TOOK, DRAW, replace(count, change=9)],
        "double-id": [TOOK, replace(DRAW, id=1)],
        "not-opposite": [TOOK, DRAW, replace(back, change=59)],
        "reversed-already": [TOOK, DRAW, back, replace(back, id=4)],
        "reversal-of-reversal": [TOOK, DRAW, back, MovementLine(4, K.REVERSAL, -60, reverses=3)],
        "reverses": [TOOK, DRAW, replace(back, reverses=77)],
        "counted": [TOOK, replace(DRAW, counted=3)],
    }.items():
        assert code in check_lines(lines).codes, code
    on_unknown = [replace(TOOK, change=None, known=AmountKnown.NOT_KNOWN), replace(count, id=2, change=10)]
    assert check_lines(on_unknown).codes == {"count-mismatch"}


acts = st.lists(
    st.tuples(st.sampled_from(["in", "out", "count", "undo", "unknown"]), st.integers(1, 99), st.booleans()),
    max_size=25,
)


@given(acts)
def test_a_book_kept_by_the_rules_always_checks_and_is_never_negative(
    steps: list[tuple[str, int, bool]],
) -> None:
    lines = [TOOK]
    for what, n, flag in steps:
        now, new = fold(lines), len(lines) + 1
        if what == "in":
            lines.append(MovementLine(new, K.RETURN, n))
        elif what == "unknown" and flag:
            lines.append(MovementLine(new, K.DRAW, None, AmountKnown.NOT_KNOWN))
        elif what == "out" and (now.amount is None or now.amount >= n):
            lines.append(MovementLine(new, K.DRAW, -n))
        elif what == "count":
            change = None if now.amount is None else n - now.amount
            lines.append(MovementLine(new, K.COUNT_DIFFERENCE, change, counted=n))
        elif what == "undo" and not may_be_reversed(n % len(lines) + 1, lines).blocking:
            lines.append(reversal_of(lines[n % len(lines)], new))
        assert not check_lines(lines).findings
        amount = fold(lines).amount
        assert amount is None or amount >= 0
