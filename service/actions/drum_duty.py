"""The duty an outside drum brings: somebody owes its mass and its collection day until it has left."""

from __future__ import annotations

from datetime import date

from sqlmodel import col, select

from service.actions.settle import Act
from service.core.rag_deadlines import day_end
from service.core.rag_log import day_words
from service.records.duties import WASTE_COLLECTION, Duty
from service.records.rag_queries import active_keepers
from service.records.rags import RagLoad

KIND = WASTE_COLLECTION


def open_drum_duty(act: Act, load: RagLoad, drum: str, mass: str, collected_on: date | None) -> Duty:
    """Owed by the keeper who writes it, else by the first keeper; due at the end of the collection day.

    Without a collection day it is due at once: fixing the day is what is owed.
    """
    weight = f"about {mass.strip()}" if mass.strip() else "mass not known, weigh it"
    when = f"collected on {day_words(collected_on)}" if collected_on else "collection day not known, fix it"
    due = act.recorded_at
    if collected_on is not None:
        noon = act.recorded_at.astimezone(act.zone).replace(
            year=collected_on.year, month=collected_on.month, day=collected_on.day, hour=12
        )
        due = max(day_end(noon, act.zone), act.recorded_at)
    keepers = active_keepers(act.session)
    mine = act.actor.person_id in keepers or not keepers
    duty = Duty(
        kind=KIND,
        sentence=f"Rag load {load.id} waits in {drum or 'the outside drum'}: {weight}; {when}."[:500],
        owed_by=act.actor.person_id if mine else keepers[0],
        due_at=due,
        about_kind="rag-load",
        about_id=load.id,
        created_at=act.recorded_at,
    )
    act.session.add(duty)
    act.session.flush()
    return duty


def close_drum_duty(act: Act, load: RagLoad) -> None:
    """The rags have left: nothing is owed for their drum any more."""
    waiting = select(Duty).where(
        col(Duty.kind) == KIND,
        col(Duty.about_kind) == "rag-load",
        col(Duty.about_id) == load.id,
        col(Duty.done_at).is_(None),
    )
    for duty in act.session.exec(waiting).all():
        duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, "the rags have left"
        act.session.add(duty)
