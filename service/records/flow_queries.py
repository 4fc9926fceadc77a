"""What went into which container: by pouring over, and by way of a batch and its jars."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.core.ledger import MovementKind
from service.records.kept_statements import batched
from service.records.stock import Movement


class Flow(NamedTuple):
    """Something of ``source`` went into ``target`` at ``at``; ``batch``: by way of which batch, if any."""

    source: int
    target: int
    at: datetime
    batch: int | None = None


def went_into(session: Session, sources: Iterable[int]) -> list[Flow]:
    """Where anything of these containers went. What was taken back counts too: it can have been poured."""
    found: list[Flow] = []
    for some in batched(sorted(set(sources))):
        poured = session.exec(
            select(Movement.other_container_id, Movement.container_id, Movement.happened_at).where(
                col(Movement.kind) == MovementKind.DECANT_IN, col(Movement.other_container_id).in_(some)
            )
        ).all()
        found += [Flow(source or 0, target, at) for source, target, at in poured]
        drawn = session.exec(
            select(Movement.container_id, Movement.batch_id, Movement.happened_at).where(
                col(Movement.container_id).in_(some),
                col(Movement.kind) == MovementKind.DRAW,
                col(Movement.batch_id).is_not(None),
            )
        ).all()
        jars = _jars_of(session, {batch for _, batch, _ in drawn if batch is not None})
        found += [
            Flow(source, jar, at, batch)
            for source, batch, at in drawn
            for jar in jars.get(batch or 0, ())
        ]
    return [flow for flow in found if flow.source != flow.target]


def came_from(session: Session, targets: Iterable[int]) -> list[Flow]:
    """Where anything in these containers came from, poured over or by way of a batch; taken back or not."""
    found: list[Flow] = []
    for some in batched(sorted(set(targets))):
        poured = session.exec(
            select(Movement.other_container_id, Movement.container_id, Movement.happened_at).where(
                col(Movement.kind) == MovementKind.DECANT_IN,
                col(Movement.container_id).in_(some),
                col(Movement.other_container_id).is_not(None),
            )
        ).all()
        found += [Flow(source or 0, target, at) for source, target, at in poured]
        made = session.exec(
            select(Movement.batch_id, Movement.container_id).where(
                col(Movement.kind) == MovementKind.MADE, col(Movement.container_id).in_(some)
            )
        ).all()
        drawn = _drawn_into(session, {batch for batch, _ in made if batch is not None})
        found += [
            Flow(source, target, at, batch)
            for batch, target in made
            for source, at in drawn.get(batch or 0, ())
        ]
    return [flow for flow in found if flow.source != flow.target]


def jars_of_batches(session: Session, batches: set[int]) -> set[int]:
    """Every container that was filled from one of these batches."""
    return {jar for jars in _jars_of(session, batches).values() for jar in jars}


def _drawn_into(session: Session, batches: set[int]) -> dict[int, list[tuple[int, datetime]]]:
    found: dict[int, list[tuple[int, datetime]]] = {}
    for some in batched(sorted(batches)):
        rows = session.exec(
            select(Movement.batch_id, Movement.container_id, Movement.happened_at).where(
                col(Movement.kind) == MovementKind.DRAW, col(Movement.batch_id).in_(some)
            )
        ).all()
        for batch, source, at in rows:
            found.setdefault(batch or 0, []).append((source, at))
    return found


def went_back(session: Session, containers: Iterable[int]) -> list[Flow]:
    """Where what was poured into these went when its pouring was taken back: to what it had come from."""
    found: list[Flow] = []
    poured = aliased(Movement)
    for some in batched(sorted(set(containers))):
        rows = session.exec(
            select(poured.container_id, poured.other_container_id, Movement.happened_at)
            .join(poured, col(poured.id) == col(Movement.reverses_id))
            .where(
                col(poured.kind) == MovementKind.DECANT_IN,
                col(poured.container_id).in_(some),
                col(poured.other_container_id).is_not(None),
            )
        ).all()
        found += [Flow(jar, source or 0, at) for jar, source, at in rows]
    return found


def _jars_of(session: Session, batches: set[int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for some in batched(sorted(batches)):
        rows = session.exec(
            select(Movement.batch_id, Movement.container_id).where(
                col(Movement.kind) == MovementKind.MADE, col(Movement.batch_id).in_(some)
            )
        ).all()
        for batch, jar in rows:
            found.setdefault(batch or 0, []).append(jar)
    return found
