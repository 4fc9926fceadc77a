"""The hazards of a material as bought, and of a mix of materials: composition, supplier's sheet and the
rules together.

A material's classes come from two sides: what its supplier says of the whole, and what the rules make of its
substances. Of each kind of hazard the more severe counts. What neither side knows is a finding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from service.actions.component_figures import limits_not_known, one_estimate
from service.actions.material_composition import (
    Composition,
    composition_as_ingredients,
    supplier_classes,
    with_own_flash,
)
from service.core.findings import Finding, Invalid, Verdict, note, unknown
from service.core.hazards.classes import Family, Hazard, Route
from service.core.hazards.classify import Classification, Classified, classify
from service.core.hazards.mix import HUNDRED, Ingredient, Mix, MixForm
from service.core.hazards.read_class import read_class
from service.core.hazards.reasons import Because
from service.core.hazards.regimes import Regime
from service.core.hazards.two_views import Difference, compare, more_severe
from service.core.material_facts import FlashMethod, MaterialFacts, review
from service.core.materials import Form
from service.records.components import MaterialComponent, components_of, components_of_all
from service.records.knowledge_compositions import CompositionLine
from service.records.material_queries import facts_of, own_facts
from service.records.materials import Material
from service.records.stock import Container
from service.records.substance_facts import HARMLESS

SHEET_YEARS: Final = 5
_COVERED: Final = frozenset(
    {
        "hazards-not-known",
        "remainder-not-told",
        "share-not-known",
        "composition-not-known",
        "small-shares-not-counted",
        "ph-not-known",
        "own-limits-not-known",
        "unknown-aquatic-hazard",
    }
)
UNKNOWN_TOXICITY: Final = frozenset({f"unknown-{way}-toxicity" for way in ("oral", "dermal", "inhalation")})
_SETTLED_BY: Final = {
    "viscosity-not-known": Family.ASPIRATION,
    "boiling-point-not-known": Family.FLAMMABLE_LIQUID,
}
# One question about a figure of the whole, not one a view.
_ASKED_ONCE: Final = frozenset({"flash-point-to-confirm", "viscosity-to-confirm", "viscosity-not-known"})
_PLACE: Final = {family: place for place, family in enumerate(Family)}
_SOLID: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})


@dataclass(frozen=True)
class Part:
    """A material in a mix with its share in per cent by mass."""

    material: Material
    low: Decimal
    high: Decimal


@dataclass(frozen=True)
class JudgedHazards:
    """Hazards of one material or mix under one law.

    Args:
        supplier: the supplier's classes of a material as bought; None = not known; () = examined, none.
        ours: what the rules make of its substances.
        classes: of each kind the more severe of both, with reasons.
        verdict: complete only when nothing is missing: only then may a page show that all is told.
        unknown_acute_percent: per cent by route of which nobody says how poisonous it is; none where the
            supplier's classes of the whole answer for it.
        sheet_answers: codes of what is not known of the parts and is covered by those classes.
        unknown_aquatic_percent: the same of danger to water, where the law judges that.
    """

    regime: Regime
    supplier: tuple[Hazard, ...] | None
    supplier_source: str
    ours: Classification
    classes: tuple[Classified, ...]
    differences: tuple[Difference, ...]
    composition: Composition
    verdict: Verdict
    unknown_acute_percent: dict[Route, Decimal]
    sheet_answers: frozenset[str] = frozenset()
    unknown_aquatic_percent: Decimal = Decimal(0)

    @property
    def hazards(self) -> tuple[Hazard, ...]:
        return tuple(one.hazard for one in self.classes)


def judge_material(
    session: Session, material: Material, regime: Regime, today: date, *,
    facts: MaterialFacts | None = None, own: Sequence[MaterialComponent] | None = None,
) -> JudgedHazards:  # fmt: skip
    """The hazards of a material as bought.

    Args:
        facts, own: what the book holds of it and of its components, where many are judged in one pass;
            None: read here.
    """
    if own is None:
        own = components_of(session, material.id) if material.id is not None else ()
    composition = composition_as_ingredients(material, regime, own)
    ours = classify(_mix(material, composition.ingredients), regime)
    supplier, unread = supplier_classes(material)
    source = material.hazards_source
    views = compare(supplier or (), ours.classes, source)
    sheet = _sheet_findings(session, material, regime, today, composition, facts)
    findings = [*unread, *sheet]
    # What a whole sheet of this law says of the whole covers what no list says of a part; nothing else does.
    speaks = supplier is not None and not sheet and not unread
    answered: list[str] = []
    limits = limits_not_known(composition.open_limits, ours.hazards)
    for finding in (*composition.findings, *limits, *(_named(one, material) for one in ours.verdict)):
        covered = speaks and covered_by_supplier(finding, supplier or ())
        answered += [finding.code] if covered else []
        findings.append(_covered(finding) if covered else finding)
    if supplier is None and not only_harmless(composition):
        findings.append(_no_supplier(material))
    return JudgedHazards(
        regime,
        supplier,
        source,
        ours,
        in_order(views.classes),
        views.differences,
        composition,
        Verdict.of(findings),
        {} if speaks else ours.unknown_acute_percent,
        frozenset(answered),
        unknown_aquatic_percent=Decimal(0) if speaks else ours.unknown_aquatic_percent,
    )


def judge_mix(
    session: Session, parts: Sequence[Part], regime: Regime, mix: Mix | None, today: date
) -> JudgedHazards:
    """The hazards of a mix of materials: by its substances, and by the suppliers' classes of its materials.

    Args:
        mix: what was measured on the whole (its ingredients are not looked at); None = nothing.

    Raises Invalid for no material, or for shares over 100 % together.
    """
    if not parts:
        raise Invalid("Name at least one material with its share.", {"parts": "At least one."})
    by_substance: list[Ingredient] = []
    by_material: list[Ingredient] = []
    findings: list[Finding] = []
    lines: list[CompositionLine] = []
    open_ones: list[tuple[str, Hazard]] = []
    own = components_of_all(session, [part.material.id for part in parts if part.material.id is not None])
    for part in parts:
        composition = composition_as_ingredients(part.material, regime, own.get(part.material.id or 0, ()))
        lines += composition.lines
        supplier, unread = supplier_classes(part.material)
        sheet = _sheet_findings(session, part.material, regime, today, composition)
        findings += [*unread, *sheet]
        scaled = [_scaled(one, part) for one in composition.ingredients]
        told = sum((one.high for one in composition.ingredients), Decimal(0))
        if supplier is None:
            findings += [] if only_harmless(composition) else [_no_supplier(part.material)]
            findings += composition.findings
            open_ones += composition.open_limits
            scaled += _rest(f"what is not told of {part.material.name}", part, told, None)
            by_material += scaled
        else:
            speaks = not sheet and not unread
            findings += [_covered(one) if speaks else one for one in composition.findings]
            # A class the whole has can get lost by thinning; one it does not have cannot come from that.
            named = {hazard.family for hazard in supplier}
            open_ones += [one for one in composition.open_limits if not speaks or one[1].family in named]
            # The sheet speaks for those parts that no list knows.
            scaled = [one if one.hazards is not None else replace(one, hazards=()) for one in scaled]
            scaled += _rest(f"the rest of {part.material.name}", part, told, ())
            whole = Ingredient(_called(part, parts), part.low, part.high, supplier)
            by_material.append(with_own_flash(whole, part.material))
        by_substance += [with_own_flash(one, part.material, composition) for one in scaled]
    by_substance, by_material = list(one_estimate(by_substance)), list(one_estimate(by_material))
    measured = mix or Mix(tuple(by_substance))
    first = classify(replace(measured, ingredients=tuple(by_substance)), regime)
    second = classify(replace(measured, ingredients=tuple(by_material)), regime)
    classes = in_order(more_severe(first.classes, second.classes))
    asked = _ASKED_ONCE & first.verdict.codes
    findings += [*first.verdict, *(one for one in second.verdict if one.code not in asked)]
    findings += limits_not_known(open_ones, [one.hazard for one in classes])
    return JudgedHazards(
        regime,
        None,
        "",
        first,
        classes,
        (),
        Composition(tuple(by_substance), tuple(lines), ()),
        Verdict.of(findings),
        first.unknown_acute_percent,
        unknown_aquatic_percent=first.unknown_aquatic_percent,
    )


def with_what_went_in(judged: JudgedHazards, box: Container) -> JudgedHazards:
    """The hazards of what stands in one container: beside its material's, the classes it took over when
    something was poured into it. Of each kind the more severe counts.
    """
    taken: list[Classified] = []
    findings: list[Finding] = []
    for written in box.inherited_hazards or ():
        try:
            found = read_class(str(written)).hazards
        except Invalid as wrong:
            findings.append(unknown("class-not-read", f"{box.code}: {wrong.sentence}", about=box.code))
            continue
        because = Because("taken over from what was poured in", "", None, None, (), "")
        taken += [Classified(hazard, (because,)) for hazard in found]
    classes = in_order(more_severe(judged.classes, taken))
    return replace(judged, classes=classes, verdict=judged.verdict + findings)


def more_severe_of(judged: JudgedHazards, mix: Material) -> JudgedHazards:
    """A mix made here beside the classes that somebody wrote down of it: they never make it milder."""
    written, unread = supplier_classes(mix)
    because = Because("written down of the mix", mix.hazards_source, None, None, (), "")
    told = [Classified(hazard, (because,)) for hazard in written or ()]
    return replace(
        judged, classes=in_order(more_severe(judged.classes, told)), verdict=judged.verdict + unread
    )


def _mix(material: Material, ingredients: tuple[Ingredient, ...]) -> Mix:
    solid = material.form in _SOLID
    return Mix(
        ingredients,
        form=MixForm.SOLID if solid else MixForm.LIQUID,
        flash_point_c=material.flash_point_c,
        flash_point_is_calculated=material.flash_point_method == FlashMethod.CALCULATED.value,
        # What the book holds by closed cup was copied with its method; a bare figure is still a question.
        flash_point_confirmed=material.flash_point_method == FlashMethod.CLOSED_CUP.value,
        does_not_flash=bool(material.no_flash_reason) and material.flash_point_c is None,
    )


def _called(part: Part, parts: Sequence[Part]) -> str:
    """The name of a material; with its number where another of that name is in the mix."""
    name = part.material.name
    alike = {one.material.id for one in parts if one.material.name.casefold() == name.casefold()}
    return name if len(alike) == 1 else f"{name}, number {part.material.id}"


def _rest(
    name: str, part: Part, told: Decimal, hazards: tuple[Hazard, ...] | None
) -> list[Ingredient]:
    """What the composition of a material leaves open, as one more ingredient of the mix."""
    if told >= HUNDRED:
        return []
    gap = (HUNDRED - told) / HUNDRED
    return [Ingredient(name, part.low * gap, part.high * gap, hazards)]


def _scaled(one: Ingredient, part: Part) -> Ingredient:
    return replace(one, low=one.low * part.low / HUNDRED, high=one.high * part.high / HUNDRED)


def only_harmless(composition: Composition) -> bool:
    """Water, or sugar in water: nobody writes a sheet for it, so none is missing."""
    return bool(composition.lines) and all(line.cas in HARMLESS for line in composition.lines)


def _sheet_findings(
    session: Session,
    material: Material,
    regime: Regime,
    today: date,
    composition: Composition,
    facts: MaterialFacts | None = None,
) -> list[Finding]:
    if only_harmless(composition):
        return []
    not_before = today.replace(year=today.year - SHEET_YEARS, day=min(today.day, 28))
    # Published facts that nobody has taken into the books have no sheet, and no number to ask by.
    held = facts or (own_facts(material) if material.id is None else facts_of(session, material))
    found = review(held, regime=regime.value, sheet_not_before=not_before)
    return [one for one in found if one.code.startswith("sheet-")]


def covered_by_supplier(finding: Finding, supplier: Sequence[Hazard]) -> bool:
    """Whether classes of the whole answer what is not known of a part.

    A figure that was not given counts as the worse one; where the supplier names that hazard too, knowing it
    could not make the class more severe.
    """
    if finding.code in _COVERED or finding.code in UNKNOWN_TOXICITY:
        return True
    family = _SETTLED_BY.get(finding.code)
    return any(hazard.family is family for hazard in supplier)


def in_order(classes: Sequence[Classified]) -> tuple[Classified, ...]:
    """In the order of the standard: physical, health, environment."""
    return tuple(sorted(classes, key=lambda one: (_PLACE[one.hazard.family], one.hazard.kind[1])))


def _named(finding: Finding, material: Material) -> Finding:
    """A finding about "the mix" of a single bought material, by its name."""
    return replace(finding, sentence=finding.sentence.replace("of the mix", f"of {material.name}"))


def _no_supplier(material: Material) -> Finding:
    words = (
        f"The supplier's hazard classes of {material.name} are not known. What is worked out from "
        "published lists is "
        "never complete: copy section 2 of its sheet."
    )
    return unknown("supplier-classes-not-known", words, about=material.name)


def _covered(finding: Finding) -> Finding:
    """What the supplier's sheet of the whole answers for, kept as a note."""
    return note(
        finding.code,
        f"{finding.sentence} The supplier's classes of the whole stand for it.",
        finding.source,
        finding.about,
    )
