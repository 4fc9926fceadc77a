"""Which jars hold something dissolved, and where it went from them: asked for many jars at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, tzinfo
from typing import NamedTuple

from sqlmodel import Session, col, select

from service.actions.dissolved_life import as_dissolved, solution_end
from service.actions.stuff_inside import materials_of_batches
from service.core.containers import ContainerState
from service.core.dissolved_life import may_become, rows_of_solution
from service.core.ledger import MovementKind
from service.core.months import earliest
from service.records.ageing_queries import PoliciesInForce, all_policy_rows
from service.records.flow_queries import jars_of_batches, went_into
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.mixing import Addition
from service.records.stock import Container, Movement

End = tuple[date | None, bool]
"""The last day in date of what is in a jar, and whether one is known."""


class Filled(NamedTuple):
    """What came into a jar by a movement, and until when it keeps."""

    box: int
    movement: int
    end: End


class OfSolution(NamedTuple):
    """The jars that hold such a solution, poured on or mixed on too, and what was dissolved in it."""

    jars: frozenset[int]
    stuff: frozenset[int]


def filled_with_solution(
    session: Session, zone: tzinfo, material_ids: Iterable[int] | None = None
) -> list[Filled]:
    """Each jar filled from a batch with something dissolved; if given, only of these materials' batches."""
    asked = _stuff(session) if material_ids is None else set(material_ids)
    policies = PoliciesInForce(all_policy_rows(session))
    found: list[Filled] = []
    for some in batched(batches_with(session, asked)):
        went_in = materials_of_batches(session, some)
        for jar in _made_by(session, some):
            on = jar.happened_at.astimezone(zone).date()
            end = solution_end(session, went_in.get(jar.batch_id or 0, ()), on, policies)
            if end != (None, True):
                found.append(Filled(jar.container_id, jar.id or 0, end))
    return found


def jars_of_solution(session: Session, key: str) -> OfSolution:
    """What goes by the policy of a solution though its own material does not."""
    stuff, found, used = _stuff(session, key), [], set[int]()
    for some in batched(batches_with(session, stuff)):
        went_in = materials_of_batches(session, some)
        of_it = {
            batch for batch, parts in went_in.items() if key in rows_of_solution(map(as_dissolved, parts))
        }
        used |= {one.id or 0 for batch in of_it for one in went_in[batch]} & stuff
        found += [Filled(jar.container_id, jar.id or 0, (None, True)) for jar in _made_by(session, of_it)]
    return OfSolution(frozenset(followed(session, found)), frozenset(used))


def followed(session: Session, filled: Iterable[Filled]) -> dict[int, End]:
    """Each container that something of these came into, with the earliest end of what came into it.

    Through later pourings, and into the jars of batches that took from such a jar.
    """
    ends: dict[int, End] = {}
    begun: dict[int, int] = {}
    turn = list(filled)
    while turn:
        fresh: set[int] = set()
        for box, since, end in turn:
            held = ends.get(box)
            worse = end if held is None else (earliest(held[0], end[0]), held[1] and end[1])
            if worse != held or since < begun[box]:
                ends[box], begun[box] = worse, min(since, begun.get(box, since))
                fresh.add(box)
        on = _went_on(session, {box: begun[box] for box in fresh})
        turn = [Filled(target, at, ends[source]) for source, target, at in on]
    return ends


def batches_with(session: Session, material_ids: Iterable[int]) -> set[int]:
    """The batches into which any of these went, or a mix that holds some."""
    found: set[int] = set()
    for some in batched(material_ids):
        asked = select(Addition.batch_id).where(col(Addition.material_id).in_(some)).distinct()
        found |= set(session.exec(asked).all())
    seen: set[int] = set()
    waiting = jars_of_batches(session, found)
    while waiting:
        seen |= waiting
        flows = went_into(session, waiting)
        found |= {flow.batch for flow in flows if flow.batch is not None}
        waiting = {flow.target for flow in flows} - seen
    return found


def boxes_in_use(session: Session, numbers: Iterable[int]) -> list[tuple[Container, Material]]:
    """These containers with their materials, without those that are gone, in the order of their numbers."""
    found: list[tuple[Container, Material]] = []
    for some in batched(numbers):
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(col(Container.id).in_(some), col(Container.state) != ContainerState.GONE)
            .order_by(col(Container.id))
        ).all()
        found += [(box, material) for box, material in rows]
    return found


def _stuff(session: Session, key: str | None = None) -> set[int]:
    """The materials that keep otherwise once they are dissolved, or only those that become this solution."""
    everything = session.exec(select(Material)).all()
    return {one.id or 0 for one in everything if may_become(as_dissolved(one), key)}


def _made_by(session: Session, batches: Iterable[int]) -> list[Movement]:
    made = col(Movement.kind) == MovementKind.MADE, col(Movement.batch_id).in_(list(batches))
    return list(session.exec(select(Movement).where(*made).order_by(col(Movement.id))).all())


def _went_on(session: Session, since: Mapping[int, int]) -> list[tuple[int, int, int]]:
    """What left each container after a movement: from which, into which, and by which movement there."""
    found: list[tuple[int, int, int]] = []
    for some in batched(since):
        poured = session.exec(
            select(Movement.other_container_id, Movement.container_id, Movement.id).where(
                col(Movement.kind) == MovementKind.DECANT_IN, col(Movement.other_container_id).in_(some)
            )
        ).all()
        found += [(box or 0, target, at or 0) for box, target, at in poured if (at or 0) > since[box or 0]]
        taken = session.exec(
            select(Movement.container_id, Movement.id, Addition.batch_id)
            .join(Addition, col(Addition.movement_id) == col(Movement.id))
            .where(col(Movement.container_id).in_(some))
        ).all()
        into = {(box, batch) for box, at, batch in taken if (at or 0) > since[box]}
        for part in batched(batch for _, batch in into):
            jars = _made_by(session, part)
            found += [
                (box, jar.container_id, jar.id or 0)
                for box, batch in sorted(into)
                for jar in jars
                if jar.batch_id == batch
            ]
    return found
