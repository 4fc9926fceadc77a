"""Letting a batch go: releasing what was set aside, giving up one that is running."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.add_to_batch import running
from service.actions.finish_batch import wiped_up
from service.actions.hold_back import let_go
from service.actions.make_batch import promised_check
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.start_planned import batch_let_go
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, unknown
from service.core.ledger import Destination
from service.core.pot_waste import NAME_THE_DRUM, POT_WENT, note_of
from service.records.mixing import BatchState
from service.records.mixing_queries import additions_of, allocations_of, the_batch


def release(session: Session, actor: Actor, now: datetime, batch_id: int, once: str) -> Settled:
    """Let go of what was set aside. Nothing was drawn, so nothing is owed.

    Raises:
        Stale: it is not set aside any more.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(once, "release-batch", {"batch": batch_id})
    return settle(session, actor, sent, now, lambda act: _release(act, batch_id))


def _release(act: Act, batch_id: int) -> dict[str, Any]:
    batch = the_batch(act.session, batch_id, lock=True)
    promised_check(batch)
    rows = allocations_of(act.session, batch_id)
    for row in rows:
        row.state = "released"
        act.session.add(row)
    batch.state, batch.finished_at = BatchState.GIVEN_UP, act.happened_at
    batch.loss_note = "Set aside and released; nothing was drawn."
    batch.version += 1
    act.session.add(batch)
    batch_let_go(act, batch)
    return {"batch": batch_id, "state": batch.state.value, "released": len(rows)}


@dataclass(frozen=True, kw_only=True)
class GiveUpAsked:
    """Why a running batch is given up, and where what was in it went."""

    once: str
    batch_id: int
    reason: str
    went_to: Destination | None = None

    def body(self) -> dict[str, Any]:
        went_to = self.went_to.value if self.went_to else None
        return {"batch": self.batch_id, "reason": self.reason, "went_to": went_to}


def give_up(session: Session, actor: Actor, now: datetime, asked: GiveUpAsked) -> Settled:
    """Give a running batch up. What was drawn stays drawn, and its rags stay owed.

    What was mixed of oil is poured out and its pot wiped: that joins the rag load of its job, also when the
    load was put away or had left. Answers it as ``rag_load``.

    Raises:
        Stale: it is not running.
        Invalid: no reason, or something went in and nobody says where it went, or that a supplier took it.
    """
    require(actor, Permission.BATCHES)
    sent = Sent(asked.once, "give-up-batch", asked.body())
    return settle(session, actor, sent, now, lambda act: _give_up(act, asked))


def _give_up(act: Act, asked: GiveUpAsked) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id)
    reason = " ".join(asked.reason.split())
    if not reason:
        words = "Say in a few words why the batch is given up."
        raise Invalid(words, {"reason": words})
    went_in = [one for one in additions_of(act.session, asked.batch_id) if not one.reversed]
    if went_in and asked.went_to is None:
        words = "Say where what was mixed went."
        raise Invalid(words, {"went_to": words})
    if asked.went_to is Destination.RETURNED_TO_SUPPLIER:
        words = "No supplier takes back what was mixed here. Say where it went."
        raise Invalid(words, {"went_to": words})
    where = POT_WENT[asked.went_to] if asked.went_to else "nothing had gone in"
    batch.state, batch.finished_at = BatchState.GIVEN_UP, act.happened_at
    batch.loss_note = note_of(reason, where)
    let_go(act.session, asked.batch_id)
    batch.version += 1
    act.session.add(batch)
    batch_let_go(act, batch)
    if went_in and asked.went_to is Destination.WASTE_DRUM:
        act.note(unknown("waste-in-no-drum", NAME_THE_DRUM))
    load = wiped_up(act, batch, went_in, f"batch {batch.id} given up, {where}")
    return {"batch": batch.id, "state": batch.state.value, "went_to": where, "rag_load": load}
