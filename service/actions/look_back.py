"""A finding written down when nothing is in the container any more: it speaks for what came out of it."""

from __future__ import annotations

from typing import Final

from service.actions.settle import Act
from service.core.containers import ContainerState
from service.core.findings import Invalid
from service.core.ledger import fold
from service.core.life_facts import CheckOutcome
from service.records.stock_queries import Held, lines_of

_NOTHING_IN_IT: Final = (ContainerState.EMPTY, ContainerState.GONE)


def nothing_in_it(held: Held) -> bool:
    """Whether by the book there is nothing to be looked at now."""
    return held.container.state in _NOTHING_IN_IT


def judge_look_back(act: Act, held: Held, outcome: CheckOutcome) -> None:
    """Refuse a look into what is empty or gone, unless it found fault while something was still in it.

    Raises:
        Invalid: field ``happened_at``: nothing was in it then; ``found``: it says nothing of its jars.
    """
    if not was_in_it(act, held):
        there = "It is gone" if held.container.state is ContainerState.GONE else "Nothing is in it now"
        words = (
            f"{there}, so nobody looks at it. Was something found before that? Enter the time, and why it is "
            "written only now: it then reaches the jars poured from it."
        )
        raise Invalid(words, {"happened_at": words})
    if outcome not in (CheckOutcome.FAILED, CheckOutcome.DOUBTED):
        words = "Nothing is in it now: only what asks for a look, or ends it, is still written down."
        raise Invalid(words, {"found": words})


def was_in_it(act: Act, held: Held) -> bool:
    """Whether by the book it held something at the time of this act, which lies before the writing.

    What the book first says of it stands for all time before that. Equal times count as before.
    """
    first, *rest = lines_of(act.session, held.container_id)
    if act.happened_at >= act.recorded_at:
        return False
    gone = held.container.state is ContainerState.GONE
    last = rest[-1].happened_at if rest else first.happened_at
    if gone and last is not None and last <= act.happened_at:
        return False
    before = [line for line in rest if line.happened_at is None or line.happened_at < act.happened_at]
    return fold([first, *before]).amount != 0
