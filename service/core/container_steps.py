"""What may be done to a container in which state, and the state it leads to.

Doors: actions/post_movement.py, actions/container_events.py, actions/correct_entry.py.
"""

from __future__ import annotations

from typing import Final

from service.core.containers import ContainerState, EventKind
from service.core.findings import Verdict, note, stop
from service.core.ledger import MovementKind

Act = EventKind | MovementKind
"""What is done to a container: an event, or a movement of the ledger."""

_S, _O, _E, _G = ContainerState.SEALED, ContainerState.OPEN, ContainerState.EMPTY, ContainerState.GONE
_NEW: Final = None
# For each act the states it may happen in; None stands for a container that is not in the book yet.
STEPS: Final[dict[Act, frozenset[ContainerState | None]]] = {
    MovementKind.RECEIVE: frozenset({_NEW}),
    MovementKind.MADE: frozenset({_NEW}),
    MovementKind.DECANT_IN: frozenset({_NEW, _O}),
    MovementKind.DRAW: frozenset({_S, _O}),
    MovementKind.DECANT_OUT: frozenset({_S, _O}),
    MovementKind.RETURN: frozenset({_O, _E}),
    MovementKind.COUNT_DIFFERENCE: frozenset({_S, _O, _E}),
    MovementKind.LOSS: frozenset({_S, _O}),
    MovementKind.DISCARD: frozenset({_S, _O, _E}),
    MovementKind.REVERSAL: frozenset({_S, _O, _E, _G}),
    EventKind.OPENED: frozenset({_S, _O}),
    EventKind.CLOSED: frozenset({_O}),
    EventKind.MOVED: frozenset({_S, _O, _E}),
    EventKind.CHECKED: frozenset({_S, _O}),
    EventKind.RELABELLED: frozenset({_S, _O, _E}),
    EventKind.EMPTIED: frozenset({_O}),
    EventKind.VAPOUR_FREE: frozenset({_E}),
}
OPENING_ACTS: Final[frozenset[Act]] = frozenset(
    {MovementKind.DRAW, MovementKind.DECANT_OUT, EventKind.OPENED}
)
"""Acts that lift the lid: each counts as one opening unless said otherwise."""

_WHY_NOT: Final[dict[ContainerState, str]] = {
    ContainerState.SEALED: "It is still sealed. Open it first.",
    ContainerState.OPEN: "It is open already.",
    ContainerState.EMPTY: "It is empty. What comes in new gets a new container and its own shelf code.",
    ContainerState.GONE: "It is gone. If that is a mistake, reverse the entry that took it away.",
}


def allowed(state: ContainerState | None, act: Act) -> Verdict:
    """Whether ``act`` may happen to a container in ``state`` (None: not in the book yet).

    A stop with code ``state-<state>`` or ``not-in-book`` when it may not; a note ``opens-it`` when the act
    breaks the seal, so that the opening is booked with it.

    >>> allowed(ContainerState.OPEN, MovementKind.DRAW).blocking
    False
    >>> allowed(ContainerState.GONE, MovementKind.DRAW).codes
    frozenset({'state-gone'})
    """
    if state not in STEPS[act]:
        if state is None:
            return Verdict.of([stop("not-in-book", "This container is not in the book yet.")])
        if act in (MovementKind.RECEIVE, MovementKind.MADE):
            return Verdict.of([stop(f"state-{state.value}", "This container is in the book already.")])
        if act is EventKind.VAPOUR_FREE:
            return Verdict.of([stop(f"state-{state.value}", "Only an empty container can be vapour-free.")])
        return Verdict.of([stop(f"state-{state.value}", _WHY_NOT[state])])
    if state is ContainerState.SEALED and act in OPENING_ACTS:
        return Verdict.of([note("opens-it", "This breaks the seal: it counts as opened from then on.")])
    return Verdict()


def next_state(
    state: ContainerState | None, act: Act, *, emptied: bool = False, brought_open: bool = False
) -> ContainerState:
    """The state after an allowed act; not for reversals (see `state_after_reversal`).

    ``emptied``: nothing is left. ``brought_open``: it arrived already open. A discard that takes everything
    takes the container too. Raises ``ValueError`` for an act that `allowed` refuses.

    >>> next_state(ContainerState.SEALED, MovementKind.DRAW).value
    'open'
    >>> next_state(ContainerState.OPEN, MovementKind.DISCARD, emptied=True).value
    'gone'
    """
    if act is MovementKind.REVERSAL or allowed(state, act).blocking:
        raise ValueError(f"{act.value} does not lead on from {state}")
    if act is MovementKind.DISCARD:
        gone = emptied or state is ContainerState.EMPTY
        return ContainerState.GONE if gone else ContainerState.OPEN
    if state is None:
        sealed = act is MovementKind.RECEIVE and not brought_open
        return ContainerState.SEALED if sealed else ContainerState.OPEN
    if act is EventKind.EMPTIED or (emptied and isinstance(act, MovementKind)):
        return ContainerState.EMPTY
    if act in OPENING_ACTS or act in (MovementKind.RETURN, MovementKind.COUNT_DIFFERENCE):
        # Counting leaves a sealed can sealed; something found in an "empty" one makes it open again.
        counted_sealed = act is MovementKind.COUNT_DIFFERENCE and state is ContainerState.SEALED
        return state if counted_sealed else ContainerState.OPEN
    return state


def state_after_reversal(amount: int | None, *, ever_opened: bool, reversed_entry: bool) -> ContainerState:
    """The state once a movement has been reversed: ``amount`` is the balance then, None when not known.

    ``reversed_entry``: the movement that brought the container into the book was reversed, so it is gone. A
    seal is never made whole again: a container that was ever opened is open.

    >>> state_after_reversal(500, ever_opened=True, reversed_entry=False).value
    'open'
    """
    if reversed_entry:
        return ContainerState.GONE
    if amount == 0:
        return ContainerState.EMPTY
    return ContainerState.OPEN if ever_opened else ContainerState.SEALED
