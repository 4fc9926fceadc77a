"""Who sees to a container: who opened it last, while they are here and may do it; else the keepers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Final, NamedTuple

from sqlalchemy import ColumnElement, bindparam, or_, select
from sqlmodel import Session, col

from service.core.access import Permission, Role, may
from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.records.kept_statements import run
from service.records.people import Person
from service.records.stock import ContainerEvent, Movement

_AT_ONCE: Final = 500
def came_in_open(event: type[ContainerEvent]) -> ColumnElement[bool]:
    """That an event "opened" came with a delivery or a stock-take: whoever took it in did not open it."""
    return (
        select(col(Movement.id))
        .where(
            col(Movement.container_id) == col(event.container_id),
            col(Movement.posting_id) == col(event.posting_id),
            col(Movement.kind) == MovementKind.RECEIVE,
        )
        .exists()
    )


_OPENINGS: Final = (
    select(col(ContainerEvent.container_id), col(ContainerEvent.person_id))
    .where(
        col(ContainerEvent.container_id).in_(bindparam("boxes", expanding=True)),
        col(ContainerEvent.kind) == EventKind.OPENED,
        ~came_in_open(ContainerEvent),
    )
    .order_by(col(ContainerEvent.id))
)
_HERE: Final = (
    select(col(Person.id), col(Person.name), col(Person.role))
    .where(
        col(Person.active).is_(True),
        col(Person.is_script).is_(False),
        or_(col(Person.expires_on).is_(None), col(Person.expires_on) >= bindparam("today")),
    )
    .order_by(col(Person.name), col(Person.id))
)


class Here(NamedTuple):
    """Somebody who is in the book of people and not switched off."""

    id: int
    name: str
    role: Role

    @property
    def sees_to_containers(self) -> bool:
        """Whether they may do what an alert about a container asks: look at it, or discard it."""
        return may(self.role, Permission.CHECK) and may(self.role, Permission.DISCARD)


def who_is_here(session: Session, today: date) -> dict[int, Here]:
    """Everybody who can act on the shop's day ``today``, by number, in the order of their names."""
    return {number: Here(number, name, role) for number, name, role in run(session, _HERE, today=today)}


def opened_by(session: Session, container_ids: Sequence[int]) -> dict[int, int]:
    """Who opened each container last, by the numbers of both; who was never opened is not among them."""
    found: dict[int, int] = {}
    for begin in range(0, len(container_ids), _AT_ONCE):
        some = container_ids[begin : begin + _AT_ONCE]
        found.update((box, person) for box, person in run(session, _OPENINGS, boxes=some))
    return found


def owners_of(
    session: Session, boxes: Iterable[tuple[int, bool]], here: dict[int, Here]
) -> dict[int, Here]:
    """Who sees to each container; those that are the keepers' are not among them.

    Args:
        boxes: number, and whether it was ever opened.
        here: `who_is_here`.
    """
    opened = opened_by(session, [number for number, ever in boxes if ever])
    return {
        box: here[person]
        for box, person in opened.items()
        if person in here and here[person].sees_to_containers
    }
