"""What somebody told of a container: the duty of a keeper to look at it, and how a look ends that duty."""

from __future__ import annotations

from typing import Final

from sqlmodel import col, select
from sqlmodel.sql.expression import SelectOfScalar

from service.actions.settle import Act
from service.core.rag_deadlines import day_end
from service.records.duties import TOLD_BY_SOMEBODY, Duty
from service.records.people import Person
from service.records.rag_queries import active_keepers
from service.records.stock_queries import Held

LOOKED: Final = "Looked at; what was found stands with the container."


def owe_a_look(act: Act, container_id: int, sentence: str) -> str:
    """A keeper owes a look at a container by the end of the shop day; the name of who does.

    One look answers all that was told of it: where a duty stands already there is no second one.
    """
    duty = act.session.exec(_open(container_id).order_by(col(Duty.id))).first()
    if duty is None:
        keepers = active_keepers(act.session)
        mine = act.actor.person_id in keepers or not keepers
        duty = Duty(
            kind=TOLD_BY_SOMEBODY, sentence=sentence[:500],
            owed_by=act.actor.person_id if mine else keepers[0],
            due_at=max(day_end(act.recorded_at, act.zone), act.recorded_at),
            about_kind="container", about_id=container_id, created_at=act.recorded_at,
        )  # fmt: skip
        act.session.add(duty)
        act.session.flush()
    person = act.session.get(Person, duty.owed_by)
    return person.name if person else "a keeper"


def answer_tellings(act: Act, held: Held) -> None:
    """A check of a container answers what was told of it before; one made before that answers nothing."""
    for duty in act.session.exec(_open(held.container_id).with_for_update()).all():
        if duty.created_at <= act.happened_at:
            duty.done_at, duty.done_by, duty.answer = act.recorded_at, act.actor.person_id, LOOKED
            act.session.add(duty)


def _open(container_id: int) -> SelectOfScalar[Duty]:
    return select(Duty).where(
        col(Duty.kind) == TOLD_BY_SOMEBODY,
        col(Duty.about_id) == container_id,
        col(Duty.done_at).is_(None),
    )
