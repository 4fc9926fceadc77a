"""Taking one addition to a running batch back: by reversing its draw; tap water by a row of its own."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.actions.add_to_batch import running
from service.actions.correct_entry import ReverseAsked, reverse_within
from service.actions.hold_back import settle_held_back
from service.actions.settle import Act, Sent, Settled, settle, the_shop
from service.core.access import Actor, Permission, require
from service.core.additions import HowAdded, WasIn, stays_in_the_mix, taken_back_words
from service.core.findings import Invalid, NotFound, Refused, Verdict, stop
from service.core.reversals import may_reverse
from service.core.shop_days import shop_day
from service.records.mixing import Addition, Batch
from service.records.mixing_queries import Added, additions_of


@dataclass(frozen=True)
class UndoAsked:
    """An addition to take back, why, and whether it was ever in the pot; nobody said: None."""

    once: str
    batch_id: int
    addition_id: int
    reason: str
    was_in: WasIn | None = None


def undo_addition(session: Session, actor: Actor, now: datetime, asked: UndoAsked) -> Settled:
    """Take back one addition that never went in. Its container gets its amount back in the book; the rag load
    of its draw stays.

    Raises:
        NotFound: the batch has no such addition, or it is not this person's to see.
        Stale: the batch is not running.
        Invalid: field ``was_in``: nobody said whether it was in the pot.
        Refused: it was in the pot, and counts on; or it is not this person's to take back, was taken back
            already, or its container was counted since.
    """
    require(actor, Permission.REVERSE_OWN_SOON)
    body = {
        "batch": asked.batch_id, "addition": asked.addition_id, "reason": asked.reason,
        "was_in": asked.was_in.value if asked.was_in else None,
    }  # fmt: skip
    sent = Sent(asked.once, "undo-addition", body)
    return settle(session, actor, sent, now, lambda act: _undo(act, asked))


def the_addition(session: Session, batch_id: int, addition_id: int) -> Added:
    """One addition of a batch, also one that was taken back.

    Raises:
        NotFound: the batch has no such addition.
    """
    found = next((one for one in additions_of(session, batch_id) if one.row.id == addition_id), None)
    if found is None:
        raise NotFound(f"Batch {batch_id} has no addition number {addition_id}.")
    return found


def judge_undo(session: Session, actor: Actor, now: datetime, added: Added, reason: str) -> Verdict:
    """Whether this person may take this addition back now: who, whose, how old, why, and once only."""
    at = added.movement.recorded_at if added.movement is not None else added.row.added_at
    zone = the_shop(session).time_zone
    verdict = may_reverse(
        actor.role,
        own=added.row.person_id == actor.person_id,
        age=now - at,
        same_day=shop_day(at, zone) == shop_day(now, zone),
        reason=reason,
    )
    if added.reversed:
        verdict += [stop("reversed-already", "This addition was taken back already.")]
    return verdict


def _undo(act: Act, asked: UndoAsked) -> dict[str, Any]:
    batch = running(act.session, asked.batch_id)
    added = the_addition(act.session, asked.batch_id, asked.addition_id)
    verdict = judge_undo(act.session, act.actor, act.recorded_at, added, asked.reason)
    if verdict.blocking:
        raise Refused(verdict)
    if asked.was_in is None:
        words = "Say whether it was ever in the pot: what went in counts on."
        raise Invalid(words, {"was_in": words})
    if asked.was_in is WasIn.WENT_IN:
        raise Refused(Verdict.of([stays_in_the_mix(added.material.name)]))
    told: dict[str, Any] = {"reversals": [], "container": None}
    if added.movement is not None:
        told = reverse_within(act, ReverseAsked(asked.once, added.movement.id or 0, asked.reason))
    else:
        _take_water_back(act, batch, added.row, asked.reason)
    settle_held_back(act.session, batch, added.row.material_id)
    batch.version += 1
    act.session.add(batch)
    return {
        "batch": batch.id,
        "addition": added.row.id,
        "material": added.material.name,
        "written": added.row.written,
        "reversals": told["reversals"],
        "container": told["container"],
    }


def _take_water_back(act: Act, batch: Batch, row: Addition, reason: str) -> None:
    """No movement stands for tap water, so that no reversal can name one: a row of the opposite size does."""
    assert batch.id is not None and row.id is not None
    back = Addition(
        batch_id=batch.id,
        material_id=row.material_id,
        amount=None if row.amount is None else -row.amount,
        basis=row.basis,
        written=taken_back_words(row.id, reason),
        how=HowAdded.TAKEN_BACK.value,
        person_id=act.actor.person_id,
        added_at=act.happened_at,
    )
    act.session.add(back)
    act.session.flush()
