"""What to move where: for each limit that is over, a container that could stand elsewhere. Only looks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from sqlmodel import Session, col, select

from service.actions.store_gate import where_else
from service.core.containers import ContainerState
from service.core.storage_items import amount_of
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import Force, Measure, Scope
from service.core.store_limits import Area, Box, StoreJudged
from service.records.stock import Container

MOST_MOVES: Final = 4
_ADDS_UP: Final = frozenset({Scope.CABINET, Scope.ROOM, Scope.BUILDING})
_COUNTED: Final = frozenset({Measure.CABINETS, Measure.CONTROL_AREAS})


@dataclass(frozen=True)
class Move:
    """Take this container from where it is over a limit to one of these places; none: nowhere in the book."""

    code: str
    what: str
    row: str
    where: str
    to: tuple[str, ...]


def suggest_moves(session: Session, judged: StoreJudged) -> list[Move]:
    """At most four suggestions, the rows furthest over first. Each was judged: no other place gets worse."""
    # What is in a pot or in somebody's hands is no can that could be carried elsewhere.
    by_name = {box.what.name: box for box in judged.boxes if not (box.in_use or box.handed)}
    found: list[Move] = []
    asked: set[int] = set()
    for area, row in sorted(over_rows(judged), key=lambda pair: -(pair[1].share or 0)):
        for box in _largest([by_name[name] for name in row.names if name in by_name], row):
            container = _one_of(session, box)
            if container is None or container.id is None or container.id in asked:
                continue
            asked.add(container.id)
            to = where_else(session, [container.id], judged, {container.place_id})
            where = f"{area.name}: {row.group.name}"
            found.append(Move(container.code, box.what.name, row.row.key, where, tuple(to)))
            if len(found) >= MOST_MOVES:
                return found
            if to:
                break
    return found


def over_rows(judged: StoreJudged) -> Iterator[tuple[Area, JudgedRow]]:
    """The rows of law over which something adds up to too much."""
    for area in judged.areas:
        for row in area.rows:
            law = row.row.force is Force.MANDATORY and not row.row.from_memory
            if row.met is False and law and row.group.scope in _ADDS_UP and row.row.unit not in _COUNTED:
                yield area, row


def _largest(boxes: Sequence[Box], row: JudgedRow) -> list[Box]:
    counted = sorted(boxes, key=lambda box: amount_of(box.what, row.row.unit).value / box.count, reverse=True)
    return counted[:2]


def _one_of(session: Session, box: Box) -> Container | None:
    """The fullest container that a line stands for."""
    return session.exec(
        select(Container)
        .where(
            col(Container.material_id) == box.material_id,
            col(Container.place_id).is_not_distinct_from(box.place_id),
            col(Container.state) != ContainerState.GONE,
        )
        .order_by(col(Container.balance).desc(), col(Container.id))
        .limit(1)
    ).first()
