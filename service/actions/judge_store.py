"""The store of the book under the storage tables that hold in this shop, room by room. Only looks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from sqlmodel import Session

from service.actions.drums_in_store import drums_in_store
from service.actions.store_in_use import in_use
from service.actions.stored_kind import Kind, kind_of
from service.actions.thrown_in_store import thrown_in_store
from service.core.containers import ContainerState
from service.core.findings import unknown
from service.core.materials import Basis
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.core.storage_items import Stored
from service.core.storage_limits import NEAR_SHARE
from service.core.storage_rules import RuleSet, Scope, Vessel
from service.core.store_limits import Box, StoreJudged, judge_store, rule_sets_of
from service.core.store_tree import StoreTree
from service.core.stored_stuff import kilograms, litres
from service.records.knowledge_storage import storage_tables
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.storage_queries import (
    AS_IT_IS,
    Alike,
    Otherwise,
    containers_alike,
    empties_alike,
    free_of_vapour,
    materials_for_storage,
    most_held,
    places_as_spots,
)


@dataclass(frozen=True)
class Store:
    """The store as it stands, ready to be judged, also with something more or elsewhere."""

    rule_sets: tuple[RuleSet, ...]
    tree: StoreTree
    boxes: tuple[Box, ...]

    def with_more(self, more: Sequence[Box]) -> Store:
        return replace(self, boxes=(*self.boxes, *more))

    def judged(self, scopes: frozenset[Scope] = frozenset(Scope), near: Fraction = NEAR_SHARE) -> StoreJudged:
        return judge_store(storage_tables(), self.rule_sets, self.tree, self.boxes, near=near, scopes=scopes)


def the_store(session: Session, otherwise: Otherwise = AS_IT_IS) -> Store:
    """What stands in the store by the book, or would, and which tables hold."""
    shop = session.get(ShopProfile, 1)
    regime = shop.regime if shop else ""
    rule_sets = rule_sets_of(shop.storage_rules if shop else None, regime)
    lines = list(containers_alike(session, otherwise))
    facts = materials_for_storage(session, {line.material_id for line in lines})
    free, held = free_of_vapour(session), most_held(session)
    tree = StoreTree.of(places_as_spots(session))
    boxes: list[Box] = []
    for line in lines:
        material, told = facts[line.material_id]
        kind = kind_of(session, material, told, line.first if line.made else None, regime)
        found = _boxes(line, material, kind, tree, free, held, session)
        whose = ("container", line.first_code)
        boxes += [replace(box, handed=line.handed, told_of=whose) for box in found]
    if otherwise.only is None:
        boxes += in_use(session, tree, regime, otherwise.finished)
        boxes += drums_in_store(session, tree)
        boxes += thrown_in_store(session, tree, regime)
    return Store(rule_sets, tree, tuple(boxes))


def look_at_store(session: Session) -> StoreJudged:
    """Every room and building in which something stands, under every table that holds."""
    return the_store(session).judged()


def _boxes(
    line: Alike, material: Material, kind: Kind, tree: StoreTree, free: frozenset[int],
    held: Mapping[int, int], session: Session,
) -> Iterator[Box]:  # fmt: skip
    """Containers alike as the rules count them: known amounts as one sum, unknown and empty ones each."""
    where = tree.name(line.place_id or 0, "no place")
    if line.handed:
        where, kind = _handed(line, material, kind, where)
    vessel = Vessel(line.vessel) if line.vessel else None
    one = replace(
        kind.stored, vessel=vessel, use_sure=line.state is not ContainerState.SEALED,
        capacity_l=None if line.capacity_ul is None else litres(line.capacity_ul),
    )  # fmt: skip
    if line.state is ContainerState.EMPTY:
        for number, code in _numbers(session, line):
            what = _empty(one, number, free, held, material, kind)
            name = f"{material.name}, empty, {show_code(code)}, {where}"
            yield Box(_named(what, name), line.place_id, 1, line.material_id, kind.findings)
        return
    if line.together is None:
        for turn in range(1, line.count + 1):
            name = f"{material.name}, amount not known, {where}" + (f", {turn}" if line.count > 1 else "")
            yield Box(_named(one, name), line.place_id, 1, line.material_id, kind.findings)
        return
    many = f"{line.count} containers, " if line.count > 1 else ""
    each = line.each if line.each is not None else line.together
    basis = material.basis or Basis.PIECES
    amount = show_amount(each, basis) + (" in each" if line.each is not None and many else "")
    jar = f", {show_code(line.first_code)}" if line.made else ""
    opened = ", open" if line.state is ContainerState.OPEN else ""
    size = f" in {show_amount(line.capacity_ul, Basis.VOLUME)}" if line.capacity_ul else ""
    name = f"{material.name}, {many}{amount}{size}{opened}{jar}, {where}"
    what = _with_amount(one, line, material.basis)
    yield Box(_named(what, name), line.place_id, line.count, line.material_id, kind.findings)


def _handed(line: Alike, material: Material, kind: Kind, where: str) -> tuple[str, Kind]:
    """What was handed out counts where it was last, and nobody knows that it is there."""
    code = show_code(line.first_code)
    place = where if line.place_id is not None else "no place the book knows"
    words = (
        f"{material.name}, {code}, was handed out and nobody wrote that it came back. It counts where it was "
        f"last: {place}. Move it in the book to where it stands."
    )
    said = unknown("handed-out", words, about=code)
    return f"handed out, last at {where}, {code}", replace(kind, findings=(*kind.findings, said))


def delivery_boxes(
    session: Session, store: Store, material_id: int, place_id: int | None, packs: Mapping[int, int]
) -> list[Box]:
    """What a delivery would be: so many packs of so many smallest units each, put at a place.

    Args:
        packs: number of packs by what is in each.
    """
    shop = session.get(ShopProfile, 1)
    material, told = materials_for_storage(session, [material_id])[material_id]
    kind = kind_of(session, material, told, None, shop.regime if shop else "")
    found: list[Box] = []
    for each, many in packs.items():
        size = each if material.basis is Basis.VOLUME else None
        line = Alike(
            material_id, place_id, ContainerState.SEALED, size, None, many, each, each * many, 0, "", False
        )
        for box in _boxes(line, material, kind, store.tree, frozenset(), {}, session):
            found.append(replace(box, what=_named(box.what, f"ordered: {box.what.name}")))
    return found


def _named(what: Stored, name: str) -> Stored:
    return replace(what, liquid=replace(what.liquid, name=name))


def _numbers(session: Session, line: Alike) -> list[tuple[int, str]]:
    return [(line.first, line.first_code)] if line.count == 1 else empties_alike(session, line)


def _empty(
    one: Stored, number: int, free: frozenset[int], held: Mapping[int, int], material: Material, kind: Kind
) -> Stored:
    most = held.get(number)
    seen = None
    if most is not None and material.basis is Basis.VOLUME:
        seen = litres(most)
    elif most is not None and material.basis is Basis.MASS and kind.density:
        seen = kilograms(most) / kind.density
    return replace(one, emptied=True, vapour_free=number in free, held_l=seen)


def _with_amount(one: Stored, line: Alike, basis: Basis | None) -> Stored:
    assert line.together is not None
    part = {Basis.VOLUME: litres, Basis.MASS: kilograms}.get(basis or Basis.PIECES)
    if part is None:
        return one
    amount = part(line.each) * line.count if line.each is not None else part(line.together)
    if basis is Basis.VOLUME:
        return replace(one, volume_l=amount)
    return replace(one, mass_kg=amount)
