"""What a material is for the storage tables, without its amount; of a jar made here, by what went in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Final

from sqlmodel import Session

from service.actions.mix_components import components_of_mix
from service.actions.mix_of_materials import shares_by_mass
from service.actions.mixes_inside import what_is_in_container
from service.actions.read_recipe import LineRead
from service.core.findings import Finding, Invalid, unknown
from service.core.hazards.regimes import Regime
from service.core.material_facts import FlashMethod
from service.core.materials import Form
from service.core.solvents.flash_judgement import FlashJudgement, judge_flash
from service.core.solvents.properties import Component
from service.core.storage_categories import LiquidFacts, Reading, contradicting
from service.core.storage_items import Stored
from service.core.storage_ladders import Scheme, Temperature
from service.core.storage_rules import MATERIAL_CLASSES
from service.core.stored_stuff import class_by_classes, flammable_class, groups_by_classes
from service.records.materials import Material
from service.records.stock import Container
from service.records.storage_queries import materials_for_storage
from service.records.store_storage import MaterialStorage

_DRY: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})
_CLASSES: Final = {
    "H224": "Flam. Liq. 1 H224", "H225": "Flam. Liq. 2 H225", "H226": "Flam. Liq. 3 H226",
    "4": "Flam. Liq. 4 H227",
}  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """A material for the tables, without its amount; ``density``: kg/l."""

    stored: Stored
    density: Fraction | None
    findings: tuple[Finding, ...]


def kind_of(
    session: Session, material: Material, told: MaterialStorage | None, jar_id: int | None, regime: str
) -> Kind:
    """What the tables ask of a material; of a jar made here, by what went in too.

    Of two flash points told, the lower counts. Dry things are no liquids. What the hazard classes say, and
    what went into this very jar, counts beside the rest wherever it is the stricter.
    """
    classes = None if material.hazards is None else [str(one) for one in material.hazards]
    box = session.get(Container, jar_id) if jar_id is not None else None
    inherited = [str(one) for one in (box.inherited_hazards or ())] if box is not None else []
    if box is not None and box.inherited_hazards is not None:
        classes = [*(classes or ()), *inherited]
    groups = groups_by_classes(classes or ()) | frozenset(str(one) for one in (told.groups if told else ()))
    settled = class_by_classes(classes or ()) if material.form in _DRY else None
    category = (told.category if told else None) or settled
    burns = flammable_class(str(one) for one in material.hazards or ())
    liquid = _liquid(material, told, None if category in MATERIAL_CLASSES else category)
    if category in MATERIAL_CLASSES and _nothing_told(liquid):
        liquid = replace(liquid, category=burns)
        if material.hazards is None and material.form not in _DRY:
            perhaps = Reading(LiquidFacts(""), "nobody wrote down whether it burns")
            liquid = replace(liquid, also=(*liquid.also, perhaps))
    # The boiling point of the material stands, whatever else of it is contradicted.
    liquid = _and_its_class(liquid, burns, "its hazard classes say", liquid.boiling)
    if box is not None:
        taken = flammable_class(inherited)
        liquid = _as_a_jar(session, box, liquid, taken, regime)
    density = None if material.density_g_ml is None else Fraction(material.density_g_ml)
    stored = Stored(
        liquid,
        material_class=category if category in MATERIAL_CLASSES else None,
        density_kg_l=density,
        groups=groups,
        settled=frozenset({settled} if settled else ()),
    )
    return Kind(stored, density, tuple(_missing(material, classes, groups, category)))


def _nothing_told(liquid: LiquidFacts) -> bool:
    return liquid.flash is None and not liquid.no_flash_point and liquid.category is None


def _and_its_class(
    liquid: LiquidFacts, burns: str | None, says: str, boiling: Temperature | None = None
) -> LiquidFacts:
    if burns is None:
        return liquid
    reading = Reading(LiquidFacts("", category=burns, boiling=boiling), f"{says} {_CLASSES[burns]}", burns)
    return replace(liquid, also=(*liquid.also, reading))


def _as_a_jar(
    session: Session, box: Container, liquid: LiquidFacts, taken: str | None, regime: str
) -> LiquidFacts:
    """A jar made here. What is told of its material was found on some batch of it, and makes none milder than
    what went into this one: nothing in the book says of which batch a figure is.
    """
    lines = what_is_in_container(session, box)
    kinds = _kinds(session, lines, regime)
    if _nothing_told(liquid):
        mixed = calculated(session, lines, liquid, regime)
        return replace(mixed, also=(*mixed.also, *doubted(mixed, lines, kinds)))
    mixed = of_mix(session, lines, kinds, regime)
    said = Reading(mixed, "what went into it is more flammable, or not known well enough")
    inside = (said, *mixed.also) if lines else (said,)
    liquid = replace(liquid, also=(*liquid.also, *inside))
    return _and_its_class(liquid, taken, "what was poured into it brought")


def _kinds(session: Session, lines: Sequence[LineRead], regime: str) -> list[Kind]:
    facts = materials_for_storage(session, {one.material.id or 0 for one in lines})
    return [
        kind_of(session, one.material, facts.get(one.material.id or 0, (None, None))[1], None, regime)
        for one in lines
    ]


def doubted(mixed: LiquidFacts, lines: Sequence[LineRead], kinds: Sequence[Kind]) -> tuple[Reading, ...]:
    """What a calculation from these lines does not see: a part that flashes below all it counted, as what is
    told for storage alone, or what it takes to stay in the film; hazard classes stricter than its figures.
    """
    found: list[Reading] = []
    for line, kind in zip(lines, kinds, strict=True):
        liquid, name = kind.stored.liquid, line.material.name
        found += [
            replace(one, because=f"in it is {name}, and {one.because}")
            for one in contradicting(liquid, Scheme.CLP)
        ]
        if liquid.flash is None or mixed.part_flash is None:
            continue
        if _in_c(liquid.flash) < _in_c(mixed.part_flash) and not _same(liquid.flash, mixed.part_flash):
            because = f"in it is {name}, which flashes below all that its flash point was calculated from"
            found.append(Reading(replace(liquid, also=(), category=None), because))
    return tuple(dict.fromkeys(found))


def of_mix(
    session: Session, lines: Sequence[LineRead], kinds: Sequence[Kind], regime: str
) -> LiquidFacts:
    """A whole mix: one thing as itself, things without a flash point as without, else as calculated."""
    if len(kinds) == 1:
        return replace(kinds[0].stored.liquid, name="")
    if kinds and all(one.stored.liquid.no_flash_point for one in kinds):
        none = LiquidFacts("", no_flash_point=True)
        return replace(none, also=doubted(none, lines, kinds))
    mixed = calculated(session, lines, LiquidFacts(""), regime)
    return replace(mixed, also=doubted(mixed, lines, kinds))


def _missing(
    material: Material, classes: list[str] | None, groups: frozenset[str], category: str | None
) -> Iterator[Finding]:
    name = material.name
    hidden = category in MATERIAL_CLASSES and material.form not in _DRY
    if classes is None and (hidden or not groups):
        words = (
            f"The hazard classes of {name} are not known, so nobody knows from what it is kept apart. Write "
            "down what section 2 of its sheet says, also if that is none."
        )
        yield unknown("classes-not-known", words, about=name)


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


def calculated(
    session: Session, lines: Sequence[LineRead], liquid: LiquidFacts, regime: str
) -> LiquidFacts:
    """The calculated flash point of what went into a mix; it stays not known where it cannot be had."""
    try:
        shares = shares_by_mass(lines)
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
