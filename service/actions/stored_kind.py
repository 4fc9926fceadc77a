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
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import Temperature
from service.core.storage_rules import MATERIAL_CLASSES
from service.core.stored_stuff import GROUP_WORDS, class_by_classes, classes_open, groups_by_classes
from service.records.materials import Material
from service.records.stock import Container
from service.records.store_storage import MaterialStorage

_DRY: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})


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
        liquid = calculated(session, what_is_in_container(session, box), liquid, regime)
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
