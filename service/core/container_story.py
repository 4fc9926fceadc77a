"""A container's state told again from its acts alone, to hold against what is stored.

Doors: actions/check_ledger.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from service.core.container_steps import OPENING_ACTS, Act, next_state, state_after_reversal
from service.core.containers import ContainerState, EventKind
from service.core.ledger import NOTHING_BOOKED, MovementKind, MovementLine, add_line, fold


@dataclass(frozen=True)
class StoryStep:
    """One act in the order in which it was written: an event, or a movement with its line."""

    act: Act
    line: MovementLine | None = None


@dataclass(frozen=True)
class Story:
    """Where the acts lead: the state (None without any), whether it was ever opened, and what did not fit."""

    state: ContainerState | None
    ever_opened: bool
    faults: tuple[str, ...]


_OPENS = OPENING_ACTS | {MovementKind.MADE, MovementKind.DECANT_IN}


def tell_again(steps: Iterable[StoryStep], *, brought_open: bool = False) -> Story:
    """Replay a container's acts. ``brought_open``: it arrived already open.

    >>> took = StoryStep(MovementKind.RECEIVE, MovementLine(1, MovementKind.RECEIVE, 9))
    >>> drew = StoryStep(MovementKind.DRAW, MovementLine(2, MovementKind.DRAW, -9))
    >>> tell_again([took]).state.value, tell_again([took, drew]).state.value
    ('sealed', 'empty')
    """
    state: ContainerState | None = None
    opened, faults = brought_open, []
    lines: list[MovementLine] = []
    balance = NOTHING_BOOKED
    for step in steps:
        opened = opened or step.act in _OPENS
        if step.line is not None:
            in_order = not lines or step.line.id > lines[-1].id
            lines.append(step.line)
            # Only a reversal reaches back; folding every beginning anew would take n squared steps.
            reaches_back = step.act is MovementKind.REVERSAL or not in_order
            balance = fold(lines) if reaches_back else add_line(balance, step.line)
        amount = balance.amount
        if step.act is MovementKind.REVERSAL:
            undone_entry = bool(lines) and step.line is not None and step.line.reverses == lines[0].id
            state = state_after_reversal(amount, ever_opened=opened, reversed_entry=undone_entry)
            continue
        if step.act is EventKind.CHECKED and state in (ContainerState.EMPTY, ContainerState.GONE):
            continue  # Found elsewhere, and written with what may come back; acts of people are refused.
        emptied = amount == 0 if step.line is not None else step.act is EventKind.EMPTIED
        try:
            state = next_state(state, step.act, emptied=emptied, brought_open=opened)
        except ValueError:
            said = state.value if state else "not in the book"
            faults.append(f"“{step.act.value}” was written while it was {said}")
    return Story(state, opened, tuple(faults))
