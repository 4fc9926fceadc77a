"""Which containers stock lists brought, with what was said of each on the day it came."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.ledger import MovementKind
from service.records.stock import Container, Movement
from service.records.stock_lists import StockListFile

_AT_ONCE: Final = 500


@dataclass(frozen=True)
class ListArrival:
    """A container as a list brought it; what happened to it since does not show here."""

    list_id: int
    code: str
    material_id: int
    amount: str
    capacity: str
    packed: date | None
    received: date | None
    printed: date | None
    lot: str


def arrivals_by_lists(
    session: Session, materials: Iterable[int], but: int | None = None
) -> list[ListArrival]:
    """The containers of these materials that lists brought, as they came; ``but`` leaves a list out."""
    wanted = sorted(set(materials))
    found: list[tuple[int, ListArrival]] = []
    for at in range(0, len(wanted), _AT_ONCE):
        query = (
            columns_of(
                col(Movement.id), col(StockListFile.id), col(Container.code), col(Container.material_id),
                col(Movement.written), col(Container.capacity_written), col(Container.packed_on),
                col(Container.received_on), col(Container.printed_date), col(Container.lot),
            )
            .join(Movement, col(Movement.posting_id) == col(StockListFile.taken_posting_id))
            .join(Container, col(Container.id) == col(Movement.container_id))
            .where(
                col(Movement.kind) == MovementKind.RECEIVE,
                col(Container.material_id).in_(wanted[at : at + _AT_ONCE]),
            )
        )  # fmt: skip
        for number, list_id, *facts in session.execute(query):
            if list_id != but:
                found.append((number, ListArrival(list_id, *facts)))
    return [one for _, one in sorted(found, key=lambda pair: pair[0])]
