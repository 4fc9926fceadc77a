"""Saying later where that went which an ended batch left in no jar."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlmodel import Session

from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, Refused, Stale, Verdict, stop, unknown
from service.core.pot_waste import (
    NAME_THE_DRUM,
    POT_WENT,
    REST_NOT_TOLD,
    PotWentTo,
    note_later,
    rest_not_told,
)
from service.records.mixing import BatchState
from service.records.mixing_queries import the_batch
from service.records.pot_waste import TOLD_LATER, nobody_said_where

_ENDED: Final = frozenset({BatchState.FINISHED, BatchState.GIVEN_UP})


@dataclass(frozen=True)
class RestAsked:
    """Where the rest of a batch went. None: nothing was chosen."""

    once: str
    batch_id: int
    went_to: PotWentTo | None

    def body(self) -> dict[str, Any]:
        return {"batch": self.batch_id, "went_to": self.went_to.value if self.went_to else None}


def tell_rest(session: Session, actor: Actor, now: datetime, asked: RestAsked) -> Settled:
    """Write down where the rest went; what was told at the end of the batch stays in its note.

    Raises:
        NotAllowed, NotFound.
        Stale: the batch has not ended.
        Invalid: ``went_to``: nothing chosen, or into a waste drum where the other part went elsewhere.
        Refused: nothing of it is open any more.
    """
    require(actor, Permission.BATCHES)
    return settle(
        session, actor, Sent(asked.once, TOLD_LATER, asked.body()), now, lambda act: _tell(act, asked)
    )


def _tell(act: Act, asked: RestAsked) -> dict[str, Any]:
    batch = the_batch(act.session, asked.batch_id, lock=True)
    if batch.state not in _ENDED:
        raise Stale(f"Batch {batch.id} has not ended. Finish it, and say there where the rest went.")
    if not nobody_said_where(act.session, batch.id):
        words = f"Of batch {batch.id} nothing is left of which nobody said where it went."
        raise Refused(Verdict.of([stop("pot-rest-told", words, about=f"batch {batch.id}")]))
    if asked.went_to is None:
        words = "Say where the rest went."
        raise Invalid(words, {"went_to": words})
    before = batch.loss_note
    after = note_later(before, asked.went_to)
    if after is None:
        words = (
            "A part of this batch went elsewhere, so how much went into a drum is in no book. Write on the "
            "page of that drum in words what was put in, and choose here who takes the drum away."
        )
        raise Invalid(words, {"went_to": words})
    batch.loss_note = after
    batch.version += 1
    act.session.add(batch)
    act.session.flush()
    if asked.went_to is PotWentTo.WASTE_DRUM:
        act.note(unknown("waste-in-no-drum", NAME_THE_DRUM))
    if nobody_said_where(act.session, batch.id):
        act.note(unknown(REST_NOT_TOLD, rest_not_told(asked.batch_id), about=f"batch {batch.id}"))
    where = POT_WENT[asked.went_to]
    return {"batch": batch.id, "state": batch.state.value, "went_to": where, "before": before}
