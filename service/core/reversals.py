"""Taking an entry back: which line may be reversed, by whom, how long, and whether a ledger holds together.

Doors: actions/correct_entry.py, actions/check_containers.py, web/pages/ledger.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import Final

from service.core.access import Permission, Role, may
from service.core.findings import Findings, Verdict, stop
from service.core.ledger import (
    NOTHING_BOOKED,
    MovementKind,
    MovementLine,
    add_line,
    check_sign,
    fold,
    standing_lines,
)

SOON: Final = timedelta(minutes=2)
"""How long a student may take back an own entry (design section 6)."""
SHORTEST_REASON: Final = 3


def may_reverse(role: Role, *, own: bool, age: timedelta, same_day: bool, reason: str) -> Verdict:
    """Whether this person may reverse an entry: who, whose, how old, why.

    ``age`` since it was recorded; ``same_day`` by the shop's calendar. A student: own, two minutes. A
    finisher: own, same shop day. A keeper: any. Always with a reason (the button that takes back at once
    supplies one). Stops: ``reverse-role``, ``reverse-not-own``, ``reverse-too-late``, ``reason-missing``.

    >>> may_reverse(Role.STUDENT, own=True, age=timedelta(minutes=3), same_day=True, reason="slip").codes
    frozenset({'reverse-too-late'})
    """
    found = Findings()
    if sum(sign.isalnum() for sign in reason) < SHORTEST_REASON:
        found.add(stop("reason-missing", "Say in a few words why this entry is reversed."))
    if may(role, Permission.REVERSE_ANY):
        return found.verdict()
    if not may(role, Permission.REVERSE_OWN_SOON):
        found.add(stop("reverse-role", f"As a {role.value} you cannot reverse entries. Ask a keeper."))
    elif not own:
        found.add(stop("reverse-not-own", "You can reverse only your own entries. Ask a keeper."))
    elif may(role, Permission.REVERSE_OWN_DAY):
        if not same_day:
            found.add(stop("reverse-too-late", "This entry is from another day. Ask a keeper to reverse it."))
    elif age > SOON:
        found.add(stop("reverse-too-late", "Two minutes are over. Ask a keeper to reverse it."))
    return found.verdict()


def may_be_reversed(line_id: int, lines: Sequence[MovementLine]) -> Verdict:
    """Whether line ``line_id`` of one container's ``lines`` may be reversed now.

    Stops: ``no-such-line``, ``reversal-of-reversal``, ``reversed-already``, ``counted-since`` (a later count
    has put the amount right: reversing would spoil it) and ``would-be-negative``.

    >>> took, draw = MovementLine(1, MovementKind.RECEIVE, 9), MovementLine(2, MovementKind.DRAW, -5)
    >>> may_be_reversed(2, [took, draw]).blocking, may_be_reversed(1, [took, draw]).codes
    (False, frozenset({'would-be-negative'}))
    """
    line = next((one for one in lines if one.id == line_id), None)
    if line is None:
        return _one("no-such-line", "This entry is not in the book of this container.")
    if line.kind is MovementKind.REVERSAL:
        return _one("reversal-of-reversal", "A reversal cannot be reversed. Enter what really happened.")
    if any(one.reverses == line_id for one in lines):
        return _one("reversed-already", "This entry was reversed already.")
    if any(one.counted is not None and one.id > line_id for one in standing_lines(lines)):
        return _one(
            "counted-since",
            "It was counted after this entry, so the amount is right already. Reverse the count first, "
            "then this, and count again.",
        )
    undone = fold([*lines, reversal_of(line, max(one.id for one in lines) + 1)])
    if undone.amount is not None and undone.amount < 0:
        return _one("would-be-negative", "More has been taken out since. Reverse those entries first.")
    return Verdict()


def reversal_of(line: MovementLine, new_id: int) -> MovementLine:
    """The line that reverses ``line``: exactly the opposite change; 0 where the change was not known.

    >>> reversal_of(MovementLine(4, MovementKind.DRAW, -250), 9).change
    250
    """
    return MovementLine(
        new_id, MovementKind.REVERSAL, -(line.change or 0), line.known, None, line.id, line.happened_at
    )


def check_lines(lines: Iterable[MovementLine]) -> Verdict:
    """Everything that is wrong with one container's ledger; empty when it holds together.

    Signs, reversals (exists, earlier, once, exactly opposite, not of a reversal), count differences that fit
    what the book said, and no balance below zero after any line.

    >>> list(check_lines([MovementLine(1, MovementKind.RECEIVE, 9), MovementLine(2, MovementKind.DRAW, -9)]))
    []
    """
    ordered = sorted(lines, key=lambda line: line.id)
    found = Findings()
    if len({line.id for line in ordered}) != len(ordered):
        found.add(stop("double-id", "Two lines have the same number."))
    by_id = {line.id: line for line in ordered}
    done: set[int] = set()
    after = NOTHING_BOOKED
    for at, line in enumerate(ordered):
        found.add(*check_sign(line))
        if line.reverses is not None:
            found.add(*_reversal_faults(line, by_id.get(line.reverses), done))
            done.add(line.reverses)
        # Only a reversal reaches back; folding every beginning anew would take n squared steps.
        undoes = line.kind is MovementKind.REVERSAL
        before, after = after, fold(ordered[: at + 1]) if undoes else add_line(after, line)
        if after.amount is not None and after.amount < 0:
            found.add(stop("negative", f"After line {line.id} the balance is {after.amount}, below nothing."))
        if line.counted is not None and before.amount is not None:
            if line.change != line.counted - before.amount:
                found.add(stop("count-mismatch", f"Line {line.id}: the difference does not fit the count."))
        elif line.counted is not None and line.change is not None:
            found.add(stop("count-mismatch", f"Line {line.id}: a difference to an amount nobody knew."))
    return found.verdict()


def _reversal_faults(line: MovementLine, target: MovementLine | None, done: set[int]) -> Verdict:
    if target is None or target.id >= line.id:
        return _one("reverses", f"Line {line.id} reverses a line that is not before it.")
    if target.kind is MovementKind.REVERSAL:
        return _one("reversal-of-reversal", f"Line {line.id} reverses a reversal.")
    if target.id in done:
        return _one("reversed-already", f"Line {line.id} reverses a line for the second time.")
    if line.change != -(target.change or 0):
        return _one("not-opposite", f"Line {line.id} is not exactly the opposite of line {target.id}.")
    return Verdict()


def _one(code: str, sentence: str) -> Verdict:
    return Verdict.of([stop(code, sentence)])
