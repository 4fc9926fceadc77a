"""The ledger read as columns, some hundred containers at a time: for a check that goes through all of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from sqlalchemy import select
from sqlmodel import Session, SQLModel, col

from service.core.containers import AmountKnown, EventKind
from service.core.ledger import MovementKind, MovementLine
from service.core.life_facts import LifeFacts
from service.records.ageing_queries import lives_of_rows
from service.records.stock import Container, ContainerEvent, Movement
from service.records.stood_rows import StoodRow, stood_query, stood_rows

_AT_ONCE: Final = 500
"""Containers looked at together; databases take a limited number of parameters."""


class MovementRow(NamedTuple):
    """What of a movement its container's balance and state are derived from."""

    container_id: int
    id: int
    posting_id: int
    kind: MovementKind
    change: int | None
    counted: int | None
    known: AmountKnown
    reverses_id: int | None
    happened_at: datetime
    balance_after: int | None


class EventRow(NamedTuple):
    """What of an event its container's state, place and opening are derived from."""

    container_id: int
    id: int
    posting_id: int
    kind: EventKind
    on_date: date | None
    to_place_id: int | None


def ledger_lines(movements: Iterable[MovementRow]) -> list[MovementLine]:
    """Rows as the ledger rules read them."""
    return [
        MovementLine(m.id, m.kind, m.change, m.known, m.counted, m.reverses_id, m.happened_at)
        for m in movements
    ]


@dataclass
class Told:
    """A container as stored, with all of its acts, the oldest first, and what its dates are judged by."""

    row: StoodRow
    life: LifeFacts
    movements: list[MovementRow] = field(default_factory=list)
    events: list[EventRow] = field(default_factory=list)


def every_container(session: Session) -> Iterator[Told]:
    """All containers by their number, read some hundred at a time, so that memory does not grow with them."""
    last = 0
    while True:
        query = stood_query().where(col(Container.id) > last).order_by(col(Container.id)).limit(_AT_ONCE)
        rows = stood_rows(session, query)
        if not rows:
            return
        last = rows[-1].id
        lives = lives_of_rows(session, rows)
        told = {row.id: Told(row, life) for row, life in zip(rows, lives, strict=True)}
        for movement in _acts(session, Movement, MovementRow, list(told)):
            told[movement.container_id].movements.append(movement)
        for event in _acts(session, ContainerEvent, EventRow, list(told)):
            told[event.container_id].events.append(event)
        yield from told.values()


def _acts(session: Session, table: type[SQLModel], row: Any, container_ids: Sequence[int]) -> Iterator[Any]:
    """The acts of these containers in the order in which they were written."""
    columns = [getattr(table, name) for name in row._fields]
    container_id, number = columns[0], columns[1]
    query = select(*columns).where(container_id.in_(container_ids)).order_by(number)
    return map(row._make, session.connection().execute(query))
