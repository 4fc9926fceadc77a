"""When the lid of a container was off, and what was left in it then: told from its ledger and its events.

Doors: actions/clock_of_air.py.

Each act of the book with the lid off counts once, though several may have been one; an act that was taken
back did not happen. Nobody writes down every lift, so there were at least as many.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from service.core.container_steps import Act
from service.core.containers import AmountKnown, EventKind
from service.core.ledger import NOTHING_BOOKED, MovementKind, MovementLine, add_line, standing_lines

LIFTING: Final[frozenset[Act]] = frozenset(
    {
        MovementKind.DRAW,
        MovementKind.RETURN,
        MovementKind.DECANT_OUT,
        MovementKind.DECANT_IN,
        MovementKind.MADE,
        EventKind.OPENED,
    }
)
"""Acts with the lid off. A look at the condition is one as well once the seal is broken."""
LIFT_WORDS: Final[dict[Act, str]] = {
    MovementKind.DRAW: "drawn from",
    MovementKind.RETURN: "some put back",
    MovementKind.DECANT_OUT: "decanted out of",
    MovementKind.DECANT_IN: "filled",
    MovementKind.MADE: "filled",
    EventKind.OPENED: "opened",
    EventKind.CHECKED: "looked at",
}
_FILLING: Final = frozenset({MovementKind.DECANT_IN, MovementKind.MADE})


@dataclass(frozen=True)
class LidAct:
    """One entry of the book about a container: an event, or a movement with its ``line``."""

    posting: int
    act: Act
    happened_at: datetime
    line: MovementLine | None = None


@dataclass(frozen=True)
class LidLift:
    """The lid was off and came on again over ``left`` smallest units; None = not known."""

    at: datetime
    act: Act
    left: int | None


@dataclass(frozen=True)
class Lifts:
    """All lifts in the order of the book. ``came_open``, ``poured_in``: it has a past that is not in them.

    ``estimated``: what is in it now is an estimate.
    """

    each: tuple[LidLift, ...]
    came_open: bool
    poured_in: bool
    estimated: bool


def lid_lifts(acts: Iterable[LidAct]) -> Lifts:
    """The lifts of one container.

    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 2, tzinfo=UTC)
    >>> came = LidAct(1, MovementKind.RECEIVE, at, MovementLine(1, MovementKind.RECEIVE, 900))
    >>> drew = LidAct(2, MovementKind.DRAW, at, MovementLine(2, MovementKind.DRAW, -300))
    >>> seal = LidAct(2, EventKind.OPENED, at)
    >>> [(lift.act.value, lift.left) for lift in lid_lifts([came, seal, drew]).each]
    [('draw', 600)]
    """
    ordered = sorted(acts, key=lambda one: one.posting)
    stands = {line.id for line in standing_lines(one.line for one in ordered if one.line is not None)}
    kept = [one for one in ordered if one.line is None or one.line.id in stands]
    balance, found, opened = NOTHING_BOOKED, [], False
    came_open = poured_in = False
    for _, group in groupby(kept, key=lambda one: one.posting):
        together = list(group)
        for one in sorted((a.line for a in together if a.line is not None), key=lambda line: line.id):
            balance = add_line(balance, one)
        kinds = {one.act for one in together}
        came_open = came_open or {MovementKind.RECEIVE, EventKind.OPENED} <= kinds
        poured_in = poured_in or bool(kinds & _FILLING)
        lifting = [one for one in together if one.act in LIFTING]
        if not lifting and opened:
            lifting = [one for one in together if one.act is EventKind.CHECKED]
        if lifting:
            opened = True
            first = _telling(lifting)
            found.append(LidLift(first.happened_at, first.act, balance.amount))
    return Lifts(tuple(found), came_open, poured_in, balance.known is AmountKnown.ESTIMATED)


def _telling(lifting: Sequence[LidAct]) -> LidAct:
    """Of several entries of one act the movement: "drawn from" tells more than "opened"."""
    return next((one for one in lifting if one.line is not None), lifting[0])
