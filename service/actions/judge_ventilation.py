"""The ventilation class of a material, a container, a recipe and a batch, from hazards judged before.

A material card has no task: it gets three answers, for small, medium and large amounts. What was put together
gets one, from the size of the batch. Rooms give the temperature; without one 25 C is taken and said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from sqlmodel import Session, col, select

from service.actions.judge_hazards import (
    JudgedHazards,
    Part,
    judge_material,
    more_severe_of,
    with_what_went_in,
)
from service.actions.mix_of_materials import judge_lines
from service.actions.mixes_inside import what_is_in_container
from service.actions.read_recipe import LineRead
from service.core.findings import Severity
from service.core.hazards.amount_band import HEAVIEST_SOLID, LIGHTEST_LIQUID, AmountBand, band_of
from service.core.hazards.dustiness import Dustiness, dustiness_of
from service.core.hazards.hazard_band import GROUP_OF_STATEMENT, Group, Statements, statements_of, stem
from service.core.hazards.mix import HUNDRED, Ingredient, MixForm
from service.core.hazards.regimes import Regime
from service.core.hazards.ventilation_class import USUAL_C, Task, VentilationClass, ventilation_class
from service.core.hazards.ventilation_parts import Part as Banded
from service.core.hazards.ventilation_reasons import OURS, About, Reason
from service.core.materials import Basis, Form, MaterialKind
from service.core.solvents.properties import Component
from service.core.sources import Provenance
from service.records.find_solvent import find_solvent
from service.records.knowledge import known
from service.records.known_identities import known_ci
from service.records.materials import Material
from service.records.mixing import RecipeVersion
from service.records.places import Place
from service.records.rooms import air_of
from service.records.solvent_facts import component_of
from service.records.stock import Container
from service.records.store_queries import IN_THE_STORE

# What is missing for fire or for water alone does not touch what is breathed.
_NOT_HEALTH: Final = frozenset(
    {
        "flash-point-not-known", "flash-point-by-lowest-grade", "flash-point-needs-test",
        "viscosity-not-known", "flammable-ingredient", "physical-class-needs-test", "boiling-point-not-known",
        "m-factor-not-known", "calculation-not-validated",
    }
)  # fmt: skip
# What these leave open is an acute toxicity, of which the worst is group D: it adds nothing to D and E.
_AT_MOST_D: Final = frozenset({"inhaled-form-not-told", "acute-toxicity-not-known"})
_DRY: Final = frozenset({Form.POWDER, Form.SOLID, Form.PIECES})
_SMALLEST: Final = 1_000_000


@dataclass(frozen=True)
class CardVentilation:
    """The three answers of a material card. ``headline`` is the band of the container, or of the largest one
    held; None: no size is known.
    """

    by_amount: dict[AmountBand, VentilationClass]
    headline: AmountBand | None
    written: int | None = None
    written_source: str = ""


def card_of_material(
    session: Session, material: Material, judged: JudgedHazards, operating_c: float | None = None
) -> CardVentilation | None:
    """The three answers of a material as bought, the headline for its largest container in the store.

    None for what is counted in pieces and used up as such: brushes, paper.
    """
    if material.kind is MaterialKind.CONSUMABLE:
        return None
    boxes: Sequence[Container] = []
    if material.id is not None:
        mine = col(Container.material_id) == material.id
        boxes = session.exec(select(Container).where(mine, col(Container.state).in_(IN_THE_STORE))).all()
    bands = [band for box in boxes if (band := band_of_container(material, box))]
    largest = max(bands, key=list(AmountBand).index, default=None)
    return _card(material, judged, largest, operating_c)


def card_of_container(
    session: Session, material: Material, box: Container, regime: Regime, today: date,
    operating_c: float | None = None,
) -> CardVentilation | None:  # fmt: skip
    """The same for one container, by its own size, with what was poured in; of what was made here by what
    went into its batch.
    """
    if material.kind is MaterialKind.CONSUMABLE:
        return None
    band = band_of_container(material, box)
    lines = what_is_in_container(session, box)
    if not lines:
        judged = with_what_went_in(judge_material(session, material, regime, today), box)
        return _card(material, judged, band, operating_c)
    judged, shares = judge_lines(session, lines, regime, today)
    parts = _parts_of(session, lines, shares.parts, regime, today)
    dry = all(line.material.form in _DRY for line in lines)
    own = statements(with_what_went_in(more_severe_of(judged, material), box))
    found = {
        size: ventilation_class(parts, Task(amount=size, operating_c=operating_c), _form(dry), own=own)
        for size in AmountBand
    }
    return CardVentilation(found, band, material.ventilation_class, material.ventilation_source)


def of_lines(
    session: Session, lines: Sequence[LineRead], shares: Sequence[Part], judged: JudgedHazards, today: date,
    *, version: RecipeVersion | None = None, operating_c: float | None = None,
) -> VentilationClass:  # fmt: skip
    """The class of a mix of materials, for the whole batch.

    Args:
        judged: the hazards of the mix, whose statements count before those of its materials.
        version: of a recipe, whose written yield counts where it is more than its lines.
    """
    parts = _parts_of(session, lines, shares, judged.regime, today)
    dry = all(line.material.form in _DRY for line in lines)
    amount = _batch_size(lines, dry, version)
    task = (
        Task(kilos=amount, operating_c=operating_c) if dry else Task(litres=amount, operating_c=operating_c)
    )
    return ventilation_class(parts, task, _form(dry), own=statements(judged))


def _parts_of(
    session: Session, lines: Sequence[LineRead], shares: Sequence[Part], regime: Regime, today: date
) -> list[Banded]:
    parts: list[Banded] = []
    for line, share in zip(lines, shares, strict=True):
        material, high = line.material, float(share.high)
        if high <= 0:
            continue
        alone = judge_material(session, material, regime, today)
        if material.form in _DRY:
            parts.append(_powder(material, alone, high))
        else:
            parts += _liquids(material, alone, high)
    return parts


def _form(dry: bool) -> MixForm:
    return MixForm.SOLID if dry else MixForm.LIQUID


def warm_room(session: Session, place_id: int | None) -> tuple[str, float] | None:
    """Name and temperature of the room around a place, where it is written down as warmer than 25 C.

    A cool store never makes a class milder: what stands there is used at a bench.
    """
    seen: set[int] = set()
    while place_id is not None and place_id not in seen:
        seen.add(place_id)
        place, air = session.get(Place, place_id), air_of(session, place_id)
        if air is not None and air.temperature_tenths is not None and place is not None:
            celsius = air.temperature_tenths / 10
            return (place.name, celsius) if celsius > USUAL_C else None
        place_id = place.parent_id if place else None
    return None


def band_of_container(material: Material, box: Container) -> AmountBand | None:
    """By what it holds when full, else by what is in it; None where neither is known."""
    dry = material.form in _DRY
    found = [] if box.capacity_ul is None else [_size(box.capacity_ul, Basis.VOLUME, material, dry)]
    if box.balance is not None and material.basis in (Basis.MASS, Basis.VOLUME):
        found.append(_size(box.balance, material.basis, material, dry))
    return band_of(max(found)) if found and max(found) > 0 else None


def statements(judged: JudgedHazards) -> Statements:
    """The statements of a judged material or mix; not complete where anything about health is missing."""
    open_codes = {one.code for one in judged.verdict if one.severity is Severity.UNKNOWN} - _NOT_HEALTH
    groups = {GROUP_OF_STATEMENT.get(stem(code)) for code in (hazard.code for hazard in judged.hazards)}
    if groups & {Group.D, Group.E}:
        open_codes -= _AT_MOST_D
    carried = [code for one in judged.composition.ingredients for code in one.supplements]
    carried += [one.code for one in judged.ours.supplements]
    extra = [code for code in dict.fromkeys(carried) if code in GROUP_OF_STATEMENT]
    brought = [
        (one.hazard.code, ", ".join(dict.fromkeys(name for why in one.because for name in why.ingredients)))
        for one in judged.classes
    ]
    found = statements_of(judged.hazards, extra)
    return replace(found, complete=not open_codes, brought_by=tuple(pair for pair in brought if pair[1]))


def _card(
    material: Material, judged: JudgedHazards, headline: AmountBand | None, operating_c: float | None
) -> CardVentilation:
    dry = material.form in _DRY
    parts = [_powder(material, judged, None)] if dry else _liquids(material, judged, 100.0)
    own = None if dry else statements(judged)
    found = {
        band: ventilation_class(
            parts,
            Task(amount=band, operating_c=operating_c),
            _form(dry),
            own=own,
            called=material.name,
        )
        for band in AmountBand
    }
    return CardVentilation(found, headline, material.ventilation_class, material.ventilation_source)


def _powder(material: Material, judged: JudgedHazards, percent: float | None) -> Banded:
    dusty, reason = _dustiness(material)
    names = tuple(one.name for one in judged.composition.ingredients)
    numbers = tuple(one.cas for one in judged.composition.ingredients if one.cas)
    return Banded(
        Component(material.name, None, cas=material.cas),
        statements(judged),
        MixForm.SOLID,
        percent,
        dusty,
        reason,
        (*names, *_also(material)),
        numbers,
    )


def _dustiness(material: Material) -> tuple[Dustiness | None, tuple[Reason, ...]]:
    row = known(material.known_key) if material.known_key else None
    if material.kind is MaterialKind.DRY_PIGMENT or material.form is Form.POWDER:
        words = f"{material.name} is a powder: high dustiness."
        reason = Reason(About.DUSTINESS, words, OURS, Provenance.DERIVED, component=material.name)
        return Dustiness.HIGH, (reason,)
    for name in (material.name, row.name if row else ""):
        if name and (found := dustiness_of(name)):
            return found[0], (found[1],)
    return None, ()


def _also(material: Material) -> tuple[str, ...]:
    metals = [str(one) for one in material.toxic_metals or ()]
    # As it is written, and in the plain form too: "C.I. Pigment White 1" is pw1.
    colour = (material.ci_name, *sorted(known_ci(material.ci_name)))
    return (*dict.fromkeys(name for name in (*colour, material.known_key) if name), *metals)


def _liquids(material: Material, judged: JudgedHazards, percent: float) -> list[Banded]:
    """A liquid material as itself, where figures of it are known, and its substances.

    Substances of which nothing is known count only where nothing is known of the whole.
    """
    whole = _own_component(material)
    found = [_substance(one, percent) for one in judged.composition.ingredients if one.high > 0]
    told = sum((one.high for one in judged.composition.ingredients), Decimal(0))
    if told < HUNDRED:
        name = f"what is not told of {material.name}"
        found.append(Banded(Component(name, None), None, percent=float(HUNDRED - told) * percent / 100))
    if whole is None:
        named = Banded(
            Component(material.name, None, volatile=False), None, percent=0.0, also=_also(material)
        )
        return [*found, named] if _also(material) else found
    known_parts = [one for one in found if one.component.boiling_point or one.component.curve]
    figures = [one for one in known_parts if one.component.key != whole.key]
    part = Banded(whole, statements(judged), percent=percent, also=_also(material))
    return [part, *figures]


def _own_component(material: Material) -> Component | None:
    """What the tables hold of the very material: its boiling point or curve, or that it is a drying oil."""
    row = known(material.known_key) if material.known_key else None
    held = component_of(material.known_key or "") if row is not None and row.form == material.form else None
    if held is None:
        return None
    oil = held.volatile is False and material.kind is MaterialKind.BINDER
    if not (oil or held.boiling_point or held.curve):
        return None
    return replace(held, name=material.name)


def _substance(one: Ingredient, percent: float) -> Banded:
    held = find_solvent(one.cas, "").component if one.cas else None
    component = replace(held, name=one.name) if held else Component(one.name, None, cas=one.cas)
    said = None if one.hazards is None else statements_of(one.hazards, one.supplements)
    return Banded(component, said, percent=float(one.high) * percent / 100)


def _size(amount: int, basis: Basis, material: Material, dry: bool) -> float:
    """Litres of a liquid, kilograms of what is dry; without a density as much as it can be."""
    value = amount / _SMALLEST
    if dry:
        if basis is Basis.MASS:
            return value
        high = material.bulk_high_g_ml if material.form is Form.POWDER else material.density_g_ml
        return value * float(high or HEAVIEST_SOLID)
    return value if basis is Basis.VOLUME else value / float(material.density_g_ml or LIGHTEST_LIQUID)


def _batch_size(lines: Sequence[LineRead], dry: bool, version: RecipeVersion | None) -> float | None:
    """Of the whole batch in litres, or kilograms of a dry one; upper ends. None where a line is not told."""
    sizes = [
        None
        if line.high is None or line.basis not in (Basis.MASS, Basis.VOLUME)
        else _size(line.high, line.basis, line.material, dry and line.material.form in _DRY)
        for line in lines
    ]
    told = [one for one in sizes if one is not None]
    found = [sum(told)] if len(told) == len(sizes) else []
    if version is not None and version.makes_amount is not None and version.makes_basis is not None:
        nobody = Material(
            name="", kind=MaterialKind.MADE_MIX, form=Form.POWDER if dry else Form.LIQUID,
            created_at=version.created_at,
        )  # fmt: skip
        if version.makes_basis in (Basis.MASS, Basis.VOLUME):
            found.append(_size(version.makes_amount, version.makes_basis, nobody, dry))
    return max(found, default=None) or None
