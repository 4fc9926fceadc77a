"""Jars that were filled before solutions had a life of their own get the end that jars filled today get.

Only ever earlier ends: what a jar has already stays where it is the stricter.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, tzinfo

from sqlalchemy import ColumnElement
from sqlmodel import Session, col, select

from service.actions.dissolved_life import as_dissolved, solution_end
from service.core.dissolved_life import may_dissolve
from service.core.ledger import MovementKind
from service.core.months import earliest
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.mixing import Addition
from service.records.stock import Container, Movement

End = tuple[date | None, bool]
"""The last day in date of a solution, and whether one is known."""


def settle_solutions(session: Session, zone: tzinfo) -> int:
    """End what is dissolved in every jar of this book by the policies in force; how many jars changed.

    Followed through later pourings and into the jars of batches that took from such a jar.
    """
    waiting = _filled_with_solution(session, zone)
    ends: dict[int, End] = {}
    begun: dict[int, int] = {}
    while waiting:
        box, since, end = waiting.pop()
        held = ends.get(box)
        worse = end if held is None else (earliest(held[0], end[0]), held[1] and end[1])
        if worse == held and since >= begun[box]:
            continue
        ends[box], begun[box] = worse, min(since, begun.get(box, since))
        waiting += [(number, at, worse) for number, at in _went_into(session, box, begun[box])]
    return _write(session, ends)


def _filled_with_solution(session: Session, zone: tzinfo) -> list[tuple[int, int, End]]:
    """Each jar that was filled from a batch with something dissolved: its number, its movement, its end."""
    everything = session.exec(select(Material)).all()
    stuff = {material.id for material in everything if may_dissolve(as_dissolved(material))}
    asked = select(Addition.batch_id).where(col(Addition.material_id).in_(stuff)).distinct()
    found: list[tuple[int, int, End]] = []
    for batch in sorted(session.exec(asked).all()):
        in_it = select(Addition.material_id).where(col(Addition.batch_id) == batch)
        materials = session.exec(select(Material).where(col(Material.id).in_(in_it))).all()
        for jar in session.exec(select(Movement).where(_made_by([batch]))).all():
            end = solution_end(session, materials, jar.happened_at.astimezone(zone).date())
            if end != (None, True):
                found.append((jar.container_id, jar.id or 0, end))
    return found


def _made_by(batches: Iterable[int]) -> ColumnElement[bool]:
    return (col(Movement.kind) == MovementKind.MADE) & col(Movement.batch_id).in_(list(batches))


def _went_into(session: Session, box: int, since: int) -> list[tuple[int, int]]:
    """The containers something of this one went into after a movement, each with that later movement."""
    poured = select(Movement.container_id, Movement.id).where(
        col(Movement.kind) == MovementKind.DECANT_IN,
        col(Movement.other_container_id) == box,
        col(Movement.id) > since,
    )
    taken = (
        select(Addition.batch_id)
        .join(Movement, col(Movement.id) == col(Addition.movement_id))
        .where(col(Movement.container_id) == box, col(Movement.id) > since)
        .distinct()
    )
    batches = session.exec(taken).all()
    jars = session.exec(select(Movement.container_id, Movement.id).where(_made_by(batches))).all()
    return [(number, at or 0) for number, at in [*session.exec(poured).all(), *jars]]


def _write(session: Session, ends: dict[int, End]) -> int:
    changed = 0
    for some in batched(sorted(ends)):
        for box in session.exec(select(Container).where(col(Container.id).in_(some))).all():
            until, known = ends[box.id or 0]
            after = (earliest(box.inherited_until, until), box.inherited_gap or not known)
            if after != (box.inherited_until, box.inherited_gap):
                box.inherited_until, box.inherited_gap = after
                changed += 1
    session.flush()
    return changed
