"""Peroxides: what a strip is asked of, and where a doubt goes when a strip found them in one container.

They grow in every part of what was poured apart, so what was filled from that container is ended
(`tell_of_condition`). What it came from, and whatever else came of that, is of the same stuff and age, but
stood under other lids: it is doubted until a strip of its own tells.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

from sqlmodel import Session, col, select

from service.actions.settle import Act
from service.actions.tell_of_condition import in_store, what_came_of_it, write_finding
from service.core.conditions import Found, found_words
from service.core.findings import warn
from service.core.life_facts import CheckOutcome
from service.core.materials import MaterialKind
from service.core.shelf_codes import show_code
from service.records.ageing_queries import FOUND_ELSEWHERE, checks_of
from service.records.flow_queries import Flow, came_from, jars_of_batches
from service.records.kept_statements import batched
from service.records.materials import Material
from service.records.mixing import Addition
from service.records.peroxide_formers import KINDS, former_of, formers_among
from service.records.stock import Container
from service.records.stock_queries import Held, hold

_MAY_HOLD: Final = KINDS | {MaterialKind.MADE_MIX}
_NAMED: Final = 20


def a_strip_tells(session: Session, box: Container, material: Material) -> bool:
    """Whether a strip, and no look alone, tells if this is sound.

    It forms peroxides, something that went into it does, or it is doubted for peroxides found elsewhere.
    """
    if box.id is None or former_of(session, material) is not None:
        return True
    found = {one.found for one in checks_of(session, box.id) if one.outcome is CheckOutcome.DOUBTED}
    return Found.PEROXIDE_OVER.value in found or holds_a_former(session, [box.id])


def holds_a_former(session: Session, containers: Iterable[int]) -> bool:
    """Whether anything that went into one of these containers forms peroxides, over any number of jars."""
    seen: set[int] = set()
    batches: set[int] = set()
    waiting = set(containers)
    while waiting:
        seen |= waiting
        flows = came_from(session, waiting)
        batches |= {flow.batch for flow in flows if flow.batch is not None}
        waiting = {flow.source for flow in flows} - seen
    stuff = {one.material_id for one in _boxes(session, seen).values()}
    for some in batched(sorted(batches)):
        asked = select(Addition.material_id).where(col(Addition.batch_id).in_(some)).distinct()
        stuff |= set(session.exec(asked).all())
    return bool(formers_among(session, stuff))


def doubt_what_is_of_the_same(act: Act, held: Held) -> None:
    """Doubt what a container with peroxides came from, and all else that came of that or of its batches."""
    sources, batches = _where_from(act.session, held.container_id)
    near = sources | jars_of_batches(act.session, batches)
    for number in list(near):
        near |= set(what_came_of_it(act, number)[0])
    near -= {held.container_id, *what_came_of_it(act, held.container_id)[0]}
    code, what = show_code(held.container.code), found_words(Found.PEROXIDE_OVER)
    told = hold(act.session, near) if near else {}
    for _, box in sorted(told.items()):
        why = f"{FOUND_ELSEWHERE}in {code}, which came of the same stuff"
        write_finding(act, box, CheckOutcome.DOUBTED, Found.PEROXIDE_OVER.value, why)
    here = [show_code(told[number].container.code) for number in in_store(act.session, set(told))]
    if here:
        more = f" and {len(here) - _NAMED} more" if len(here) > _NAMED else ""
        words = (
            f"{', '.join(here[:_NAMED])}{more}: of the same stuff as {code}, so “{what}” is a doubt there "
            "too. Hold a strip into each before anybody uses it."
        )
        act.note(warn("peroxides-near", words))


def _where_from(session: Session, container_id: int) -> tuple[set[int], set[int]]:
    """The containers from which peroxides in this one can have come, and the batches they went through."""
    found: set[int] = set()
    batches: set[int] = set()
    waiting = {container_id}
    while waiting:
        flows = came_from(session, waiting)
        turn = {flow.source for flow in flows if flow.batch is None}
        drawn = [flow for flow in flows if flow.batch is not None]
        batches |= {flow.batch for flow in drawn if flow.batch is not None}
        waiting = (turn | _suspects(session, drawn)) - found - {container_id}
        found |= waiting
    return found, batches


def _suspects(session: Session, drawn: Iterable[Flow]) -> set[int]:
    """Of what went into each batch that which forms peroxides or holds some; where none is known to, all that
    may: its solvents, chemicals and mixes.
    """
    of_batch: dict[int | None, set[int]] = {}
    for flow in drawn:
        of_batch.setdefault(flow.batch, set()).add(flow.source)
    found: set[int] = set()
    for sources in of_batch.values():
        boxes = _boxes(session, sources)
        known = {number for number in boxes if holds_a_former(session, [number])}
        found |= known or {number for number, box in boxes.items() if box.kind in _MAY_HOLD}
    return found


class _Box(NamedTuple):
    material_id: int
    kind: MaterialKind


def _boxes(session: Session, containers: Iterable[int]) -> dict[int, _Box]:
    found: dict[int, _Box] = {}
    for some in batched(sorted(containers)):
        rows = session.exec(
            select(Container.id, Container.material_id, Material.kind)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(col(Container.id).in_(some))
        ).all()
        found |= {number or 0: _Box(material, MaterialKind(kind)) for number, material, kind in rows}
    return found
