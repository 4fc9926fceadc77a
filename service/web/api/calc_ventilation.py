"""POST /api/calc/ventilation-class: how much the air over a bench must be helped, by control banding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.findings import Finding, Invalid, note
from service.core.hazards.dustiness import Dustiness, dustiness_of
from service.core.hazards.hazard_band import Scheme, Statements, statements_of
from service.core.hazards.mix import MixForm
from service.core.hazards.read_class import read_classes
from service.core.hazards.risk_phrases import read_phrases
from service.core.hazards.ventilation_class import (
    HEALTH_ONLY,
    RESPIRATOR,
    USUAL_C,
    Task,
    VentilationClass,
    ventilation_class,
)
from service.core.hazards.ventilation_matrix import CLASS_NAMES
from service.core.hazards.ventilation_parts import Part, shares_known
from service.core.hazards.ventilation_reasons import OURS, About, Reason
from service.core.solvents.properties import Component
from service.core.solvents.shares import missing_share, readings
from service.core.sources import Provenance
from service.records.banding_facts import with_the_lists
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import MOST_CLASSES, ClassText, Temperature
from service.web.api.solvent_components import (
    MOST_COMPONENTS,
    ComponentIn,
    DataUsedOut,
    Positive,
    components_of,
    data_used_out,
)
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])
Codes = Annotated[list[ClassText], Field(max_length=MOST_CLASSES)]
Phrases = Annotated[list[Annotated[str, Field(max_length=60)]], Field(max_length=MOST_CLASSES)]
Amount = Annotated[Decimal, Field(gt=0, le=10_000_000)]
Operating = Annotated[Decimal, Field(ge=-40, le=500)]
_NAMES_MEAN_SEVERAL: Final = "name-means-several"
_ALWAYS: Final = frozenset(
    {"name-and-number-differ", "given-contradicts-published", "said-not-to-evaporate"}
)
"""What was found out about the question itself."""


class BandedComponentIn(ComponentIn):
    """A component with its own statements; all three null or left out: not known. ``form`` solid: a powder
    that is weighed and tipped in."""

    h_codes: Codes | None = None
    hazards: Codes | None = None
    r_phrases: Phrases | None = None
    form: MixForm = MixForm.LIQUID
    dustiness: Dustiness | None = None


class VentilationIn(ApiModel):
    """A material, or a mix with ``components``. ``h_codes``, ``hazards``, ``r_phrases``: any of them; an
    empty list is "examined, none"; all null: not known. Of a mix they are its own and count before its
    components'.
    """

    name: Annotated[str, Field(max_length=120)] = ""
    substance: Annotated[str, Field(max_length=120)] = ""
    cas: Annotated[str, Field(max_length=20)] = ""
    h_codes: Codes | None = None
    hazards: Codes | None = None
    r_phrases: Phrases | None = None
    form: Annotated[
        MixForm | None, Field(description="missing: solid with a dustiness or kilograms alone")
    ] = None
    boiling_point_c: Annotated[Temperature | None, Field(description="initial, the lowest of a range")] = None
    vapour_pressure_kpa: Positive | None = None
    at_c: Annotated[
        Temperature | None, Field(description="of vapour_pressure_kpa; missing: the operating temperature")
    ] = None
    volatile: bool | None = None
    density_g_ml: Annotated[Decimal, Field(gt=0, le=25)] | None = None
    dustiness: Dustiness | None = None
    amount_l: Amount | None = None
    amount_kg: Amount | None = None
    operating_temperature_c: Operating | None = None
    spray: bool = False
    wetted_area_m2: Annotated[Decimal, Field(ge=0, le=1_000_000)] | None = None
    scheme: Annotated[Scheme, Field(description="missing: the worse of both")] = Scheme.WORSE
    components: Annotated[list[BandedComponentIn], Field(max_length=MOST_COMPONENTS)] = Field(
        default_factory=list
    )


class ReasonOut(BaseModel):
    """One step of the banding. ``grade``: read, memory (written down from memory, check first) or derived."""

    about: About
    sentence: str
    statement: str
    component: str
    criterion: str
    value: float | None
    unit: str
    cell: str
    source: str
    grade: Provenance


class NotCoveredOut(BaseModel):
    what: str
    sentence: str


class VentilationOut(BaseModel):
    """``class`` null: not known; then treat it as ``class_at_least`` and find out what is missing."""

    group: str | None
    group_at_least: str
    volatility: str | None
    dustiness: str | None
    amount_band: str | None
    class_: Annotated[int | None, Field(serialization_alias="class")]
    class_name: str | None
    class_at_least: int
    class_at_least_name: str
    skin: bool | None
    not_covered: list[NotCoveredOut]
    because: list[ReasonOut]
    scheme: Scheme
    operating_temperature_c: float
    cautions: list[str]
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/ventilation-class", summary="Ventilation class 1 to 4 by control banding, with its reasons")
def judge(asked: VentilationIn) -> VentilationOut:
    """The control approach for a material or a mix: 1 general, 2 local exhaust, 3 containment, 4
    specialist. Touches no stock.
    """
    form = _form(asked)
    task = Task(
        litres=_float(asked.amount_l),
        kilos=_float(asked.amount_kg),
        operating_c=_float(asked.operating_temperature_c),
        spray=asked.spray,
        wetted_m2=_float(asked.wetted_area_m2),
        scheme=asked.scheme,
    )
    findings: list[Finding] = _not_told(asked)
    whole, about_whole = _whole(asked, form)
    if not asked.components:
        part, about_hazards = _part(whole, asked, form, None, asked.scheme)
        findings += about_hazards
        answer = ventilation_class([part], task, form)
    else:
        parts, untold, found = _parts(asked)
        about_whole = [*about_whole, *found]
        own = _said(asked, "the mix")
        measured = whole if whole.boiling_point or whole.vapour_pressures else None
        answer = ventilation_class(parts, task, form, own=own, whole=measured, untold_percent=untold)
    return _told(answer, task, [*findings, *about_whole])


def _form(asked: VentilationIn) -> MixForm:
    if asked.form is not None:
        return asked.form
    if asked.components:
        dry = all(one.form is MixForm.SOLID for one in asked.components)
        return MixForm.SOLID if dry else MixForm.LIQUID
    liquid = (asked.boiling_point_c, asked.vapour_pressure_kpa, asked.amount_l)
    dusty = asked.dustiness is not None or asked.amount_kg is not None
    return MixForm.SOLID if dusty and all(one is None for one in liquid) else MixForm.LIQUID


def _not_told(asked: VentilationIn) -> list[Finding]:
    if asked.form is None and not asked.components:
        words = f"Liquid or solid is not told: judged as a {_form(asked).value}."
        return [note("form-taken", words, OURS)]
    return []


def _whole(asked: VentilationIn, form: MixForm) -> tuple[Component, Sequence[Finding]]:
    """The material as a component, with what the tables hold of it by its name or number."""
    one = ComponentIn(
        name=asked.name,
        substance=asked.substance,
        cas=asked.cas,
        percent=Decimal(100),
        boiling_point_c=asked.boiling_point_c,
        vapour_pressure_kpa=asked.vapour_pressure_kpa,
        at_c=_at(asked.vapour_pressure_kpa, asked.at_c, asked.operating_temperature_c),
        volatile=asked.volatile,
        density_g_ml=asked.density_g_ml,
    )
    read = components_of([one])
    (component,) = read.components
    name = asked.name or asked.substance or asked.cas or ("the mix" if asked.components else "it")
    needed = asked.boiling_point_c is None and asked.vapour_pressure_kpa is None and form is MixForm.LIQUID
    wanted = {*_ALWAYS, _NAMES_MEAN_SEVERAL} if needed else _ALWAYS
    findings = [one for one in read.findings if one.code in wanted]
    return replace(component, name=name, share=None), findings


def _at(pressure: Decimal | None, at: Decimal | None, operating: Decimal | None) -> Decimal | None:
    """A vapour pressure without its temperature is one of the task."""
    if pressure is None or at is not None:
        return at
    return Decimal(str(USUAL_C)) if operating is None else operating


def _parts(asked: VentilationIn) -> tuple[list[Part], float, Sequence[Finding]]:
    given = [
        one.model_copy(update={"at_c": _at(one.vapour_pressure_kpa, one.at_c, asked.operating_temperature_c)})
        for one in asked.components
    ]
    read = components_of(given)
    next(readings(read.components))
    percents = shares_known(read.components)
    untold = 100 * missing_share(read.components)
    made = [
        _part(component, one, one.form, percent, asked.scheme)
        for component, one, percent in zip(read.components, given, percents, strict=True)
        if component.share is not None and component.share.high > 0
    ]
    parts = [part for part, _ in made]
    without = {part.name for part in parts if part.component.boiling_point is None}
    told = [f for f in read.findings if f.code in _ALWAYS]
    told += [f for f in read.findings if f.code == _NAMES_MEAN_SEVERAL and f.about in without]
    return parts, untold, [*told, *(one for _, found in made for one in found)]


def _part(
    component: Component, asked: VentilationIn | BandedComponentIn, form: MixForm, percent: float | None,
    scheme: Scheme,
) -> tuple[Part, tuple[Finding, ...]]:  # fmt: skip
    dusty: Dustiness | None = asked.dustiness
    reasons: tuple[Reason, ...] = ()
    if form is MixForm.SOLID and dusty is not None:
        words = f"{component.name}: {dusty.value} dustiness, as given."
        reasons = (
            Reason(
                About.DUSTINESS,
                words,
                "given",
                Provenance.READ,
                component=component.name,
                criterion="dustiness",
            ),
        )
    elif form is MixForm.SOLID:
        for name in (asked.name, asked.substance):
            if name and (found := dustiness_of(name)):
                dusty, reasons = found[0], (found[1],)
                break
    said, findings = with_the_lists(_said(asked, component.name), component.cas, component.name, scheme)
    also = tuple(name for name in (asked.substance, asked.name) if name)
    return Part(component, said, form, percent, dusty, reasons, also), findings


def _said(asked: VentilationIn | BandedComponentIn, name: str) -> Statements | None:
    """What is said of the hazards, in whatever way; None where nothing is."""
    if asked.h_codes is None and asked.hazards is None and asked.r_phrases is None:
        return None
    try:
        read = read_classes([*(asked.h_codes or []), *(asked.hazards or [])])
        phrases = read_phrases(asked.r_phrases or [])
    except Invalid as wrong:
        raise Invalid(f"{name}: {wrong.sentence}", {"h_codes": f"{name}: {wrong.sentence}"}) from None
    return statements_of(read.hazards, read.supplements, phrases)


def _told(answer: VentilationClass, task: Task, findings: Sequence[Finding]) -> VentilationOut:
    verdict = answer.verdict + findings
    return VentilationOut(
        group=answer.group,
        group_at_least=answer.group_at_least,
        volatility=answer.volatility,
        dustiness=answer.dustiness,
        amount_band=answer.amount,
        class_=answer.number,
        class_name=answer.name,
        class_at_least=answer.at_least,
        class_at_least_name=CLASS_NAMES[answer.at_least],
        skin=answer.skin,
        not_covered=[NotCoveredOut(what=one.what, sentence=one.sentence) for one in answer.not_covered],
        because=[ReasonOut(**_reason(one)) for one in answer.because],
        scheme=task.scheme,
        operating_temperature_c=USUAL_C if task.operating_c is None else task.operating_c,
        cautions=[HEALTH_ONLY, RESPIRATOR],
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(answer.used),
    )


def _reason(one: Reason) -> dict[str, Any]:
    return vars(one)


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
