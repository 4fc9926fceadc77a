"""A bought material as the hazard rules see it: its substances with their shares, and its supplier's classes.

What a petroleum cut does near a flame comes from its own flash point, never from its number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from service.actions.component_figures import open_limits, with_figures
from service.actions.write_components import component_of_row
from service.core.findings import Finding, Invalid, unknown
from service.core.hazards.classes import Family, Hazard, most_severe
from service.core.hazards.flammable import flash_category
from service.core.hazards.mix import HUNDRED, Ingredient
from service.core.hazards.read_class import read_class, read_classes
from service.core.hazards.regimes import Regime
from service.core.sources import Grade
from service.records.components import MaterialComponent
from service.records.knowledge import load_known_materials
from service.records.knowledge_compositions import (
    CompositionLine,
    Role,
    composition_of,
    own_flash_numbers,
)
from service.records.materials import Material
from service.records.substance_facts import listed, substance_ingredient

BENZENE: Final = "71-43-2"


@dataclass(frozen=True)
class Composition:
    """A material as ingredients of itself (shares of it), and what is not known of them.

    ``open_limits``: names with the classes for which limits of their own may exist that nobody told.
    """

    ingredients: tuple[Ingredient, ...]
    lines: tuple[CompositionLine, ...]
    findings: tuple[Finding, ...]
    open_limits: tuple[tuple[str, Hazard], ...] = ()


def supplier_classes(material: Material) -> tuple[tuple[Hazard, ...] | None, list[Finding]]:
    """The supplier's classes as the rules read them; a line that cannot be read is a finding and is not
    left out
    silently: the rest counts, and the material is not complete.
    """
    if material.hazards is None:
        return None, []
    read: list[Hazard] = []
    findings: list[Finding] = []
    for written in material.hazards:
        try:
            read += read_class(str(written)).hazards
        except Invalid as wrong:
            findings.append(
                unknown("class-not-read", f"{material.name}: {wrong.sentence}", about=material.name)
            )
    return tuple(dict.fromkeys(read)), findings


def own_lines(rows: Sequence[MaterialComponent]) -> tuple[CompositionLine, ...]:
    """The shop's own lines as a composition: each adds up, and its source is what the keeper wrote."""
    return tuple(
        CompositionLine(
            material="",
            substance=row.name,
            cas=row.cas or None,
            low=row.low,
            high=row.high,
            role=Role.PART,
            own_flash=row.cas in own_flash_numbers(),
            source=(row.source,),
            grade=Grade.VENDOR,
            note=row.note,
            classes=said.hazards,
            limits=said.limits,
            m_acute=said.m_acute,
            m_chronic=said.m_chronic,
            ate=tuple(said.ate.items()),
        )
        for row in rows
        for said in (component_of_row(row),)
    )


def composition_as_ingredients(
    material: Material, regime: Regime, own: Sequence[MaterialComponent] = ()
) -> Composition:
    """The substances of a material with their shares of it, from the shop's own lines, else as published.

    A share nobody publishes counts up to what the others leave. Of alternatives in one jar the worst counts.
    """
    lines = own_lines(own) or composition_of(material.known_key or "")
    if not lines and material.cas:
        lines = _by_number(material)
    if not lines:
        name = material.name
        words = (
            f"What {name} is made of is not known. Copy section 3 of its sheet, or pick its published facts."
        )
        unknown_part = Ingredient(name, HUNDRED, HUNDRED, None)
        return Composition((unknown_part,), (), (unknown("composition-not-known", words, about=name),))
    added = [line for line in lines if line.role in (Role.MAIN, Role.PART, Role.IMPURITY)]
    least = sum((line.low or Decimal(0) for line in added), Decimal(0))
    benzene = next((line.high for line in lines if line.role is Role.WITHIN and line.cas == BENZENE), None)
    ingredients: list[Ingredient] = []
    findings: list[Finding] = []
    open_ones: list[tuple[str, Hazard]] = []

    def add(line: CompositionLine, share: tuple[Decimal, Decimal]) -> None:
        one, said = with_figures(_substance(line, share, regime, benzene), line, regime)
        ingredients.append(one)
        findings.extend(said)
        findings.extend(listed(line.cas, regime).findings if line.cas else ())
        open_ones.extend((one.name, hazard) for hazard in open_limits(one, line))

    for line in added:
        rest = max(HUNDRED - least + (line.low or Decimal(0)), Decimal(0))
        share = (line.low or Decimal(0), line.high if line.high is not None else rest)
        if line.high is None:
            findings.append(_share_unknown(material, line))
        add(line, share)
    for line in lines:
        if line.role is Role.ONE_OF:
            add(line, (Decimal(0), line.high or HUNDRED))
    if any(line.role is Role.NOT_KNOWN for line in lines) and not ingredients:
        ingredients.append(Ingredient(material.name, HUNDRED, HUNDRED, None))
    for line in lines:
        if line.role is Role.NOT_KNOWN:
            findings.append(
                unknown(
                    "composition-not-known",
                    f"What {material.name} is made of is not published. Copy section 3 of its sheet.",
                    about=material.name,
                )
            )
    if any(line.own_flash for line in lines):
        ingredients = [with_own_flash(one, material) for one in ingredients]
        if material.flash_point_c is None:
            findings.append(_lowest_grade(material, lines))
    return Composition(tuple(ingredients), lines, tuple(dict.fromkeys(findings)), tuple(open_ones))


def _by_number(material: Material) -> tuple[CompositionLine, ...]:
    """A material with a CAS number of its own and no published composition is taken as that substance
    alone.
    """
    twins = [m for m in load_known_materials() if material.cas in m.cas]
    return composition_of(twins[0].key) if twins else ()


def _substance(
    line: CompositionLine, share: tuple[Decimal, Decimal], regime: Regime, benzene: Decimal | None
) -> Ingredient:
    read = read_classes(list(line.classes or ()))
    told = None if line.classes is None else read.hazards
    if line.cas is None:
        return Ingredient(line.substance, *share, told, supplements=read.supplements)
    one = substance_ingredient(
        line.substance, line.cas, share, regime, without_flammable=line.own_flash, benzene_percent=benzene
    )
    if told is None:
        return one
    # The sheet of this very material and the lists together: of each kind the more severe.
    supplements = tuple(dict.fromkeys((*one.supplements, *read.supplements)))
    return replace(
        one, hazards=tuple(most_severe([*told, *(one.hazards or ())])), supplements=supplements
    )


def with_own_flash(one: Ingredient, material: Material, composition: Composition | None = None) -> Ingredient:
    """The flammable category that the material's own flash point gives (of a petroleum cut without one: the
    lowest
    of its grades), beside what is said of it; a mix looks at it for want of its own flash point.
    """
    if composition is not None and not any(line.own_flash for line in composition.lines):
        return one
    flash = material.flash_point_c
    if flash is None:
        flash = lowest_flash_of(one.cas)
    category = "" if flash is None else flash_category(flash)
    if not category or one.hazards is None:
        return one
    return replace(one, hazards=(*one.hazards, Hazard(Family.FLAMMABLE_LIQUID, category)))


def lowest_flash_of(cas: str) -> Decimal | None:
    """The lowest published flash point in °C of all seeded materials with this number; None: none is
    published.
    """
    found = [
        figure.low
        for material in load_known_materials()
        if cas and cas in material.cas
        for figure in material.figures_of("flash_point_c")
        if figure.low is not None
    ]
    return min(found, default=None)


def _lowest_grade(material: Material, lines: Sequence[CompositionLine]) -> Finding:
    flash = next(
        (f for line in lines if line.own_flash and (f := lowest_flash_of(line.cas or "")) is not None), None
    )
    words = f"The flash point of {material.name} is not known, and its number alone does not tell the grade. "
    if flash is None:
        words += "Take it from section 9 of its sheet."
    else:
        words += (
            f"The lowest published for that number, {flash:f} °C, was taken until section 9 of its sheet is "
            "copied."
        )
    return unknown("flash-point-by-lowest-grade", words, about=material.name)


def _share_unknown(material: Material, line: CompositionLine) -> Finding:
    words = (
        f"How much {line.substance} is in {material.name} is not published. As much as the rest "
        "leaves was taken; "
        "section 3 of its sheet says it."
    )
    return unknown("share-not-known", words, about=material.name)
