"""Which materials went into a container or a batch, over any number of jars and batches before it."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.core.additions import HowAdded, taken_back_id
from service.core.materials import MaterialKind
from service.records.flow_queries import came_from
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.mixing import Addition
from service.records.stock import Container, Movement


def materials_of_batches(session: Session, batches: Iterable[int]) -> dict[int, list[Material]]:
    """What went into each batch, and what is in the made mixes among it.

    What was undone never was in it.
    """
    found: dict[int, set[int]] = {}
    mixed: list[tuple[int, int]] = []
    undone = aliased(Movement)
    for some in batched(batches):
        rows = session.exec(
            select(Addition, Material.kind, Movement.container_id)
            .join(Material, col(Material.id) == col(Addition.material_id))
            .outerjoin(Movement, col(Movement.id) == col(Addition.movement_id))
            .outerjoin(undone, col(undone.reverses_id) == col(Movement.id))
            .where(col(Addition.batch_id).in_(some), col(undone.id).is_(None))
        ).all()
        # Tap water has no movement that could be reversed: a row of its own takes it back.
        backs = {taken_back_id(one.written) for one, _, _ in rows if one.how == HowAdded.TAKEN_BACK}
        for one, kind, box in rows:
            if one.how == HowAdded.TAKEN_BACK or one.id in backs:
                continue
            found.setdefault(one.batch_id, set()).add(one.material_id)
            if kind is MaterialKind.MADE_MIX and box is not None:
                mixed.append((one.batch_id, box))
    inside = materials_inside(session, {box for _, box in mixed})
    for batch, box in mixed:
        found[batch] |= inside.get(box, frozenset())
    by_number = _materials(session, {number for numbers in found.values() for number in numbers})
    return {batch: [by_number[number] for number in sorted(numbers)] for batch, numbers in found.items()}


def materials_inside(session: Session, containers: Iterable[int]) -> dict[int, frozenset[int]]:
    """The materials of each of these containers and of all that went into it, by their numbers."""
    wanted = set(containers)
    sources: dict[int, set[int]] = {}
    seen: set[int] = set()
    waiting = set(wanted)
    while waiting:
        seen |= waiting
        for flow in came_from(session, waiting):
            sources.setdefault(flow.target, set()).add(flow.source)
        waiting = {one for targets in sources.values() for one in targets} - seen
    material = _material_in(session, seen)
    return {box: frozenset(material[one] for one in _upstream(box, sources)) for box in wanted}


def _upstream(box: int, sources: dict[int, set[int]]) -> set[int]:
    found: set[int] = set()
    waiting = {box}
    while waiting:
        found |= waiting
        waiting = {one for number in waiting for one in sources.get(number, ())} - found
    return found


def _material_in(session: Session, containers: Iterable[int]) -> dict[int, int]:
    found: dict[int, int] = {}
    for some in batched(containers):
        rows = session.exec(
            select(Container.id, Container.material_id).where(col(Container.id).in_(some))
        ).all()
        found |= {number or 0: material for number, material in rows}
    return found


def _materials(session: Session, numbers: Iterable[int]) -> dict[int, Material]:
    found: dict[int, Material] = {}
    for some in batched(numbers):
        rows = session.exec(select(Material).where(col(Material.id).in_(some))).all()
        found |= {one.id or 0: one for one in rows}
    return found
