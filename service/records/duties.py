"""Duties: something a named person owes by a time."""

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Field, Session, SQLModel, col, select

WIPES = "wipes-180-days"
"""A container of solvent wipes that must leave: `about_id` is its place, `due_at` the end of its last day."""

TOLD_BY_SOMEBODY = "look-at-told"
"""Somebody told what they saw in a container: `about_id` is that container; a check of it ends the duty."""


MOVE_DUTY = "move-container"
"""What went over a storage limit must be moved: `about_id` is its first container."""

WASTE_COLLECTION = "waste-collection"
"""A load of rags in the drum outside whose mass and collection are owed: `about_id` is the load."""


class Duty(SQLModel, table=True):
    """`kind` says what is owed: move-container, waste-collection, answer-violation, count-container…"""

    __tablename__ = "duty"

    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(max_length=32, index=True)
    sentence: str = Field(max_length=500)
    owed_by: int = Field(foreign_key="person.id", index=True)
    due_at: datetime = Field(index=True)
    about_kind: str = Field(default="", max_length=32)
    about_id: int | None = Field(default=None)
    keeper_answers: bool = Field(default=False)
    created_at: datetime
    done_at: datetime | None = Field(default=None, index=True)
    done_by: int | None = Field(default=None, foreign_key="person.id")
    answer: str = Field(default="", max_length=2000)


def open_wipes(session: Session, place_id: int | None = None) -> Sequence[Duty]:
    """The containers of wipes that stand, the one due first at the top; of one can or drum if asked."""
    query = select(Duty).where(col(Duty.kind) == WIPES, col(Duty.done_at).is_(None))
    if place_id is not None:
        query = query.where(col(Duty.about_id) == place_id)
    return session.exec(query.order_by(col(Duty.due_at), col(Duty.id))).all()


def waste_waiting(session: Session) -> Sequence[Duty]:
    """Drums and wipes that wait to be collected, the one due first at the top."""
    kinds = col(Duty.kind).in_([WASTE_COLLECTION, WIPES])
    query = select(Duty).where(kinds, col(Duty.done_at).is_(None))
    return session.exec(query.order_by(col(Duty.due_at), col(Duty.id))).all()
