"""The jars of batches that stand for planned days: what they were filled with, and what was drawn of each."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from sqlmodel import Session, col, func, select

from service.core.ledger import MovementKind
from service.records.materials import Material
from service.records.stock import Container, Movement
from service.records.stock_queries import Held


@dataclass
class JarsOfBatch:
    """``filled``: what went into jars in all and was not taken back, ``taken_back`` what was, None = not
    known; ``drawn`` by the number of the jar, less what was put back."""

    jars: list[Held] = field(default_factory=list)
    filled: int | None = 0
    taken_back: int = 0
    drawn: dict[int, int] = field(default_factory=dict)


def jars_for_days(session: Session, batches: Collection[int]) -> dict[int, JarsOfBatch]:
    """For each of these batches its jars and what was poured from them into new ones, gone ones too."""
    found = {number: JarsOfBatch() for number in batches}
    rows = session.exec(
        select(Container, Material)
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(col(Container.made_by_batch_id).in_(batches))
        .order_by(col(Container.id))
    ).all()
    for box, material in rows:
        found[box.made_by_batch_id or 0].jars.append(Held(box, material))
    owners = {one.container_id: jars for jars in found.values() for one in jars.jars}
    if owners:
        _add_filled(session, found)
        _add_drawn(session, owners)
    return found


def _add_filled(session: Session, found: dict[int, JarsOfBatch]) -> None:
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    undone = col(Movement.id).in_(back)
    rows = session.exec(
        select(Movement.batch_id, Movement.change, undone).where(
            col(Movement.batch_id).in_(found), col(Movement.kind) == MovementKind.MADE
        )
    ).all()
    for number, change, taken_back in rows:
        one = found[number or 0]
        if taken_back:
            one.taken_back += change or 0
        else:
            one.filled = None if one.filled is None or change is None else one.filled + change


def _add_drawn(session: Session, owners: dict[int, JarsOfBatch]) -> None:
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Movement.container_id, func.sum(-col(Movement.change)))
        .where(
            col(Movement.container_id).in_(owners),
            col(Movement.kind).in_([MovementKind.DRAW, MovementKind.RETURN]),
            col(Movement.id).not_in(back),
        )
        .group_by(col(Movement.container_id))
    ).all()
    for number, drawn in rows:
        owners[number].drawn[number] = max(0, int(drawn or 0))
