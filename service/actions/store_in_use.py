"""What is in use and in no container of the store: pots of running batches, what ended ones left of which
nobody said where it went, and what open jobs drew.

All of it counts as in open use where its job is. The book knows no closed system, and the figures for open
use are never the larger ones. What a job drew counts until the job is closed or the rest is put back: nobody
writes down when it is used up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

from sqlmodel import Session

from service.actions.mixes_inside import what_is_in_batch
from service.actions.read_recipe import LineRead
from service.actions.stored_kind import Kind, kind_of, of_mix
from service.core.findings import note, unknown
from service.core.materials import Basis
from service.core.pot_waste import REST_NOT_TOLD, share_of
from service.core.quantities import show_amount
from service.core.storage_items import Stored
from service.core.storage_rules import Use
from service.core.store_limits import Box
from service.core.store_tree import StoreTree
from service.core.stored_stuff import kilograms, litres
from service.records.materials import Material
from service.records.mixing_queries import returns_of
from service.records.storage_queries import materials_for_storage
from service.records.store_in_use import DrawnInJob, Pot, drawn_in_jobs, pots_left, pots_standing
from service.records.store_storage import MaterialStorage

_Facts = Mapping[int, tuple[Material, MaterialStorage | None]]
_AMOUNTS: Final = frozenset({Basis.VOLUME, Basis.MASS})


def in_use(session: Session, tree: StoreTree, regime: str, finished: frozenset[int]) -> Iterator[Box]:
    """A box for each thing in a pot, and for each material that an open job drew.

    Args:
        finished: batches whose pots count no more: what was in them stands in jars.
    """
    for pot in pots_standing(session):
        if pot.batch_id not in finished:
            yield from _pot(session, pot, tree, regime)
    for pot in pots_left(session):
        yield from _left(session, pot, tree, regime)
    drawn = drawn_in_jobs(session)
    facts = materials_for_storage(session, {one.material_id for one in drawn})
    for one in drawn:
        material, told = facts[one.material_id]
        kind = kind_of(session, material, told, one.jar_id, regime)
        yield _drawn(one, material, kind, tree)


def _pot(session: Session, pot: Pot, tree: StoreTree, regime: str) -> Iterator[Box]:
    lines = [one for one in _left_in(session, pot.batch_id) if one.high != 0]
    facts = materials_for_storage(session, {one.material.id or 0 for one in lines})
    kinds = [_of_line(session, one, facts, regime) for one in lines]
    whole = of_mix(session, lines, kinds, regime)
    where = tree.name(pot.place_id or 0, "no place")
    for line, kind in zip(lines, kinds, strict=True):
        high = share_of(line.high, pot.share)
        left = "in the pot" if pot.share == 1 else "left in no jar"
        name = f"{line.material.name}, {_shown(high, line.basis)} {left} of batch {pot.batch_id}"
        what = replace(kind.stored, liquid=replace(whole, name=f"{name}, {where}"), use=Use.OPEN)
        words = f"{name} counts as in open use until the batch has ended, and as the whole mix does."
        said = (*kind.findings, note("pot-in-use", words, about=f"batch {pot.batch_id}"))
        box = Box(_amount(what, high, line.basis), pot.place_id, 1, line.material.id, said, in_use=True)
        yield replace(box, told_of=("batch", pot.batch_id))


def _left(session: Session, pot: Pot, tree: StoreTree, regime: str) -> Iterator[Box]:
    """What an ended batch left: counted where its job was, and it may stand in any other room."""
    where = tree.name(pot.place_id or 0, "no place")
    for box in _pot(session, pot, tree, regime):
        name = box.what.liquid.name
        words = (
            f"{name}: nobody said where it went, so it counts at {where} and may stand anywhere else. "
            f"Say on the page of batch {pot.batch_id} where it went."
        )
        told = (*box.findings[:-1], unknown(REST_NOT_TOLD, words, about=f"batch {pot.batch_id}"))
        yield replace(box, findings=told, adrift=True, told_of=("rest", pot.batch_id))


def _left_in(session: Session, batch_id: int) -> Iterator[LineRead]:
    """What went in, at its most, without what was put back."""
    back: dict[int | None, int] = {}
    for movement, material in returns_of(session, batch_id):
        back[material.id] = back.get(material.id, 0) + (movement.change or 0)
    for line in what_is_in_batch(session, batch_id):
        less = back.get(line.material.id, 0) if line.basis is line.material.basis else 0
        yield replace(line, high=None if line.high is None else max(0, line.high - less))


def _of_line(session: Session, line: LineRead, facts: _Facts, regime: str) -> Kind:
    known = facts.get(line.material.id or 0)
    return kind_of(session, line.material, known[1] if known else None, None, regime)


def _drawn(one: DrawnInJob, material: Material, kind: Kind, tree: StoreTree) -> Box:
    where = tree.name(one.place_id or 0, "no place")
    name = f"{material.name}, {_shown(one.amount, material.basis)} drawn in job {one.job_id} ({one.job_name})"
    words = f"{name} counts as in open use until the job is closed or the rest is put back."
    what = replace(kind.stored, liquid=replace(kind.stored.liquid, name=f"{name}, {where}"), use=Use.OPEN)
    said = (*kind.findings, note("drawn-in-use", words, about=one.job_name))
    box = Box(_amount(what, one.amount, material.basis), one.place_id, 1, material.id, said, in_use=True)
    return replace(box, told_of=("job", one.job_id))


def _shown(amount: int | None, basis: Basis | None) -> str:
    return "an amount not known" if amount is None or basis is None else show_amount(amount, basis)


def _amount(what: Stored, amount: int | None, basis: Basis | None) -> Stored:
    if amount is None or basis not in _AMOUNTS:
        return what
    if basis is Basis.VOLUME:
        return replace(what, volume_l=litres(amount))
    return replace(what, mass_kg=kilograms(amount))
