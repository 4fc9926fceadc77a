"""POST /api/calc/exposure: the average over a shift, and the sum of shares of the limits."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.findings import Invalid, Verdict
from service.core.solvents.exposure import Breathed, Exposure, Measured, judge_exposure
from service.core.solvents.properties import Component, ExposureLimit, LimitKind, LimitUnit
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import (
    ComponentIn,
    DataUsedOut,
    Positive,
    components_of,
    data_used_out,
)
from service.web.api_model import ApiModel

MOST_MEASURED: Final = 100
Concentration = Annotated[Decimal, Field(ge=0, le=1_000_000_000)]
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class MeasuredIn(ApiModel):
    """One measurement in the air that was breathed: ``ppm`` or ``mg_m3``, not both."""

    name: Annotated[str, Field(max_length=120)] = ""
    substance: Annotated[str, Field(max_length=120)] = ""
    cas: Annotated[str, Field(max_length=20)] = ""
    ppm: Concentration | None = None
    mg_m3: Concentration | None = None
    hours: Annotated[
        Decimal | None, Field(ge=-1000, le=1000, description="missing: measured over the whole shift")
    ] = None
    limit: Annotated[Positive | None, Field(description="over 8 hours; missing: the lowest one held")] = None
    limit_unit: Annotated[LimitUnit | None, Field(description="missing: that of the measurement")] = None
    molar_mass_g_mol: Positive | None = None


class ExposureIn(ApiModel):
    """What one person breathed in one shift. Several lines of one substance are its stretches of time."""

    measured: Annotated[list[MeasuredIn], Field(min_length=1, max_length=MOST_MEASURED)]


class LimitUsedOut(BaseModel):
    """The limit a substance is held against. ``checked`` false: it was written from memory."""

    value: float
    unit: LimitUnit
    kind: LimitKind
    body: str
    edition: str
    source: str
    grade: str
    checked: bool


class BreathedOut(BaseModel):
    """One substance. ``share`` is of its limit; null: its limit is not known."""

    name: str
    twa: float
    unit: LimitUnit
    twa_is_at_least: bool
    limit: LimitUsedOut | None
    limit_in_unit: float | None
    share: float | None


class ExposureOut(BaseModel):
    """``twa`` and ``twa_unit`` where one substance was measured; of several each stands in ``substances``.

    ``over`` is true when the index is over 1, false only when nothing is missing, else null.
    """

    twa: float | None
    twa_unit: LimitUnit | None
    twa_is_at_least: bool | None
    index: float | None
    index_is_at_least: bool
    over: bool | None
    substances: list[BreathedOut]
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/exposure", summary="What was breathed over a shift, against its limits")
def exposure(asked: ExposureIn) -> ExposureOut:
    """Averages over 8 hours and the index of a mixture, by 29 CFR 1910.1000(d). Touches no stock.

    An index under 1 shows only that this sum is not over it: the limits of other bodies, skin contact and
    short peaks are not in it.
    """
    read = components_of([_component(one, n) for n, one in enumerate(asked.measured, 1)])
    lines = [_measured(one, made) for one, made in zip(asked.measured, read.components, strict=True)]
    result = judge_exposure(lines)
    verdict = Verdict.of([*read.findings, *result.findings])
    return _told(result, verdict)


def _told(result: Exposure, verdict: Verdict) -> ExposureOut:
    only = result.substances[0] if len(result.substances) == 1 else None
    return ExposureOut(
        twa=only.twa if only else None,
        twa_unit=only.unit if only else None,
        twa_is_at_least=only.is_at_least if only else None,
        index=result.index,
        index_is_at_least=result.index_is_at_least,
        over=result.over,
        substances=[_substance(one) for one in result.substances],
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(result.data_used),
    )


def _substance(one: Breathed) -> BreathedOut:
    limit = one.limit
    return BreathedOut(
        name=one.name,
        twa=one.twa,
        unit=one.unit,
        twa_is_at_least=one.is_at_least,
        limit=None
        if limit is None
        else LimitUsedOut(
            value=limit.value,
            unit=limit.unit,
            kind=limit.kind,
            body=limit.body,
            edition=limit.edition,
            source=limit.source,
            grade=limit.grade,
            checked=one.checked,
        ),
        limit_in_unit=one.limit_in_unit,
        share=one.share,
    )


def _component(one: MeasuredIn, number: int) -> ComponentIn:
    """The substance as the tables know it; its amount is a matter of the air, so one stands in for it."""
    return ComponentIn(
        name=one.name or one.substance or one.cas or f"measurement {number}",
        substance=one.substance,
        cas=one.cas,
        molar_mass_g_mol=one.molar_mass_g_mol,
        mole_fraction=Decimal(1),
    )


def _measured(one: MeasuredIn, component: Component) -> Measured:
    name = component.name
    if (one.ppm is None) == (one.mg_m3 is None):
        words = f"{name}: give ppm or mg_m3, exactly one of them."
        raise Invalid(words, {"measured": words})
    unit = LimitUnit.PPM if one.ppm is not None else LimitUnit.MG_M3
    value = one.ppm if one.ppm is not None else one.mg_m3
    if one.limit is None and one.limit_unit is not None:
        words = f"{name}: limit_unit belongs to limit. Give both or neither."
        raise Invalid(words, {"measured": words})
    limit = (
        None
        if one.limit is None
        else ExposureLimit(float(one.limit), one.limit_unit or unit, LimitKind.TWA, "given")
    )
    hours = None if one.hours is None else float(one.hours)
    return Measured(component, float(value or 0), unit, hours, limit)
