"""A planned day of which a batch is at hand, or which was dropped: what has to be done before it changes."""

from __future__ import annotations

from typing import Final

from sqlmodel import Session

from service.core.findings import Refused, Verdict, stop
from service.records.mixing import BatchState
from service.records.mixing_queries import the_batch
from service.records.plans import DateState, PlannedDate

CHECK: Final = "check the stock for it"
DROP: Final = "drop the day"
LINK: Final = "name the other batch"
MOVE: Final = "move the day"
TAKE_UP: Final = "take it up again"


def refuse_in_hand(session: Session, row: PlannedDate, wanted: str) -> None:
    """Refuse what is wanted of a day that is not planned any more, and say what goes first.

    Somebody who reads the day as it stands is not told that it was changed: nobody changed it.

    Raises:
        Refused: a batch stands for the day, or it was dropped.
    """
    if row.state is DateState.PLANNED:
        return
    if row.state is DateState.DROPPED:
        words = f"This day was dropped: take it up again first, then {wanted}."
        raise Refused(Verdict.of([stop("day-dropped", words)]))
    number, state = row.batch_id or 0, the_batch(session, row.batch_id or 0).state
    words = {
        BatchState.SET_ASIDE: _set_aside(number, wanted),
        BatchState.RUNNING: _running(number, wanted),
        BatchState.FINISHED: _finished(number, wanted),
        BatchState.GIVEN_UP: f"Batch {number} was given up: take the day up again first, then {wanted}.",
    }[state]
    raise Refused(Verdict.of([stop("batch-stands-for-day", words, about=f"batch {number}")]))


def _set_aside(number: int, wanted: str) -> str:
    if wanted == TAKE_UP:
        return f"Batch {number} is set aside for this day: it is in the plan, and was not dropped."
    return f"Batch {number} is set aside for this day: release it first, then {wanted}."


def _running(number: int, wanted: str) -> str:
    if wanted == TAKE_UP:
        return f"Batch {number} is running for this day: it is in the plan, and was not dropped."
    if wanted == DROP:
        return f"Batch {number} is running for this day: finish it or give it up first, then {wanted}."
    return (
        f"Batch {number} is running for this day: give it up first, then {wanted}. Once it is finished the "
        "day stays as it is."
    )


def _finished(number: int, wanted: str) -> str:
    if wanted == DROP:
        return f"Batch {number} was finished for this day, and the day is over. It stays in the plan."
    if wanted == TAKE_UP:
        return f"Batch {number} was finished for this day: it is in the plan, and was not dropped."
    return f"Batch {number} was finished for this day. It stays: plan the job on one more day instead."
