"""The store of the book under the storage tables that hold in this shop, room by room. Only looks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Final

from sqlmodel import Session

from service.actions.mix_components import components_of_mix
from service.actions.mix_of_materials import shares_by_mass
from service.actions.mixes_inside import what_is_in_container
from service.core.containers import ContainerState
from service.core.findings import Finding, Invalid, unknown
from service.core.hazards.regimes import Regime
from service.core.material_facts import FlashMethod
from service.core.materials import Basis, Form
from service.core.quantities import show_amount
from service.core.shelf_codes import show_code
from service.core.solvents.flash_judgement import FlashJudgement, judge_flash
from service.core.solvents.properties import Component
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import Temperature
from service.core.storage_limits import NEAR_SHARE
from service.core.storage_rules import MATERIAL_CLASSES, RuleSet, Scope, Vessel
from service.core.store_limits import Box, StoreJudged, judge_store, rule_sets_of
from service.core.store_tree import StoreTree
from service.core.stored_stuff import (
    GROUP_WORDS,
    class_by_classes,
    classes_open,
    groups_by_classes,
    kilograms,
    litres,
)
from service.records.knowledge_storage import storage_tables
from service.records.materials import Material
from service.records.shop import ShopProfile
from service.records.stock import Container
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
from service.records.store_storage import MaterialStorage

_DRY: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})


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
        boxes += _boxes(line, material, kind, tree, free, held, session)
    return Store(rule_sets, tree, tuple(boxes))


def look_at_store(session: Session) -> StoreJudged:
    """Every room and building in which something stands, under every table that holds."""
    return the_store(session).judged()


@dataclass(frozen=True)
class Kind:
    """A material for the tables, without its amount; ``density``: kg/l."""

    stored: Stored
    density: Fraction | None
    findings: tuple[Finding, ...]


def kind_of(
    session: Session, material: Material, told: MaterialStorage | None, jar_id: int | None, regime: str
) -> Kind:
    """What the tables ask of a material; of a jar made here, by what went in where nothing is told of it.

    Of two flash points told, the lower counts. Dry things are no liquids.
    """
    classes = None if material.hazards is None else [str(one) for one in material.hazards]
    box = session.get(Container, jar_id) if jar_id is not None else None
    if box is not None and box.inherited_hazards is not None:
        classes = [*(classes or ()), *(str(one) for one in box.inherited_hazards)]
    groups = groups_by_classes(classes or ()) | frozenset(str(one) for one in (told.groups if told else ()))
    category = told.category if told else None
    if category is None and material.form in _DRY:
        category = class_by_classes(classes or ())
    findings = list(_missing(material, classes, groups, category))
    liquid = _liquid(material, told, None if category in MATERIAL_CLASSES else category)
    if box is not None and liquid.flash is None and not liquid.no_flash_point and liquid.category is None:
        liquid = _calculated(session, box, liquid, regime)
    density = None if material.density_g_ml is None else Fraction(material.density_g_ml)
    stored = Stored(
        liquid,
        material_class=category if category in MATERIAL_CLASSES else None,
        density_kg_l=density,
        groups=groups,
    )
    return Kind(stored, density, tuple(findings))


def _missing(
    material: Material, classes: list[str] | None, groups: frozenset[str], category: str | None
) -> Iterator[Finding]:
    name = material.name
    if classes is None and not groups:
        words = (
            f"The hazard classes of {name} are not known, so nobody knows from what it is kept apart. Write "
            "down what section 2 of its sheet says, also if that is none."
        )
        yield unknown("classes-not-known", words, about=name)
    for group in classes_open(groups, category):
        words = (
            f"{name}: {GROUP_WORDS[group]}. Its class in the fire code is not known, and no row of the code "
            "for it could be judged. Write the class down under Storage on the page of the material."
        )
        yield unknown("fire-code-class-not-known", words, "IFC Table 5003.1.1(1)", name)


def _liquid(material: Material, told: MaterialStorage | None, category: str | None) -> LiquidFacts:
    flash = None if material.flash_point_c is None else Temperature(Fraction(material.flash_point_c), "C")
    method = FlashMethod(material.flash_point_method) if material.flash_point_method else None
    if told is not None and told.flash_point is not None:
        written = Temperature(Fraction(told.flash_point), told.flash_unit)
        if flash is None:
            method = FlashMethod.CLOSED_CUP
        if flash is None or _same(written, flash) or _in_c(written) < _in_c(flash):
            flash = written
        method = method or FlashMethod.CLOSED_CUP
    boiling = None
    if told is not None and told.boiling_point is not None:
        boiling = Temperature(Fraction(told.boiling_point), told.boiling_unit)
    dry = material.form in _DRY and flash is None and category is None
    return LiquidFacts(
        name=material.name,
        category=category,
        flash=flash,
        boiling=boiling,
        method=method if flash is not None else FlashMethod.CLOSED_CUP,
        no_flash_point=flash is None and (bool(material.no_flash_reason) or dry),
    )


def _in_c(one: Temperature) -> Fraction:
    return one.in_unit("C")


def _same(written: Temperature, flash: Temperature) -> bool:
    """Whether one is the other, rounded to a tenth of a degree."""
    return abs(_in_c(written) - _in_c(flash)) <= Fraction(1, 20)


def _calculated(session: Session, box: Container, liquid: LiquidFacts, regime: str) -> LiquidFacts:
    """The calculated flash point of what went into a jar; it stays not known where it cannot be had."""
    try:
        shares = shares_by_mass(what_is_in_container(session, box))
        law = Regime(regime) if regime in {one.value for one in Regime} else Regime.UN_GHS
        mix = components_of_mix(session, shares.parts, law)
        judged = _flash_of(mix.components, (*shares.findings, *mix.findings)) if shares.parts else None
    except Invalid:
        return liquid
    if judged is None or judged.flash_c is None:
        return liquid
    burning = [one for one in mix.components if one.volatile is not False and not one.no_flash_because]
    parts = [one.flash_point.value for one in burning if one.flash_point is not None]
    whole = len(parts) == len(burning) and parts
    boiling = judged.initial_boiling_c
    return replace(
        liquid,
        flash=_celsius(judged.flash_c),
        method=FlashMethod.CALCULATED,
        calculation_allowed=not judged.why_not,
        part_flash=_celsius(min(parts)) if whole else None,
        boiling=None if boiling is None else _celsius(boiling),
    )


@lru_cache(maxsize=512)
def _flash_of(components: tuple[Component, ...], found: tuple[Finding, ...]) -> FlashJudgement:
    return judge_flash(components, found)


def _celsius(figure: float) -> Temperature:
    return Temperature(Fraction(str(round(figure, 2))), "C")


def _boxes(
    line: Alike, material: Material, kind: Kind, tree: StoreTree, free: frozenset[int],
    held: Mapping[int, int], session: Session,
) -> Iterator[Box]:  # fmt: skip
    """Containers alike as the rules count them: known amounts as one sum, unknown and empty ones each."""
    where = tree.name(line.place_id or 0, "no place")
    vessel = Vessel(line.vessel) if line.vessel else None
    one = replace(
        kind.stored, vessel=vessel, capacity_l=None if line.capacity_ul is None else litres(line.capacity_ul)
    )
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
