"""POST /api/calc/settling: how fast a pigment falls in its carrier, and when to stir again. An estimate."""

from __future__ import annotations

from decimal import Decimal
from math import isfinite
from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field, field_validator

from service.core.film_ranges import Span
from service.core.findings import Finding, Verdict, note, unknown
from service.core.settling import ESTIMATE, SLOW_ENOUGH, fall_mm_per_h, reynolds, stir_again_min
from service.web.api.film_figures import Figure, given, span_of, told
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import Span as SpanIn
from service.web.api.hazard_mix import span_or_sentence
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

GRAIN: Span = (0.001, 10_000.0)
HEAVY: Span = (10.0, 25_000.0)
THICK: Span = (0.01, 1_000_000.0)
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class SettlingIn(ApiModel):
    """One pigment in one liquid. Every figure is a number or a range, low end first."""

    particle_um: Annotated[SpanIn, Field(description="diameter of the grains")]
    pigment_density_kg_m3: SpanIn
    liquid_density_kg_m3: SpanIn
    viscosity_mpa_s: SpanIn
    fall_mm: Annotated[
        Decimal, Field(gt=0, le=10_000, description="the depth that may clear before it is stirred")
    ] = Decimal(10)

    @field_validator(
        "particle_um", "pigment_density_kg_m3", "liquid_density_kg_m3", "viscosity_mpa_s", mode="before"
    )
    @classmethod
    def _range(cls, value: Any) -> Any:
        return span_or_sentence(value)


class SettlingOut(BaseModel):
    """``mm_per_h`` below nothing: the grains rise. ``stir_again_min``: soonest and latest, null for never."""

    mm_per_h: Figure
    stir_again_min: list[float | None] | None
    fall_mm: float
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/settling", summary="How fast a pigment falls in its carrier, by Stokes")
def settling(asked: SettlingIn) -> SettlingOut:
    """Stokes for round grains in a still liquid: an estimate of when to stir again. Touches no stock."""
    grain = _told(asked.particle_um, "particle_um", GRAIN)
    heavy = _told(asked.pigment_density_kg_m3, "pigment_density_kg_m3", HEAVY)
    liquid = _told(asked.liquid_density_kg_m3, "liquid_density_kg_m3", HEAVY)
    thick = _told(asked.viscosity_mpa_s, "viscosity_mpa_s", THICK)
    fall = fall_mm_per_h(grain, heavy, liquid, thick)
    findings: list[Finding] = [note("stokes-estimate", ESTIMATE, "Stokes (textbook, from memory)")]
    if fall[1] < 0:
        words = "By these figures the grains are lighter than the liquid: they rise and float on it."
        findings.append(note("floats", words))
    elif fall[0] <= 0:
        words = "By some or all of these figures the grains are no heavier than the liquid: they do not sink."
        findings.append(note("does-not-sink", words))
    if (number := reynolds(grain, liquid, thick, fall)) > SLOW_ENOUGH:
        words = (
            f"Stokes holds for slow fall only. At a Reynolds number of about {number:.2g} the true fall is "
            "slower than this says, and how much is not known here."
        )
        findings.append(unknown("too-fast-for-stokes", words, "textbook, from memory"))
    elif grain[1] > 100:
        words = "Stokes holds for slow fall only: grains above about 100 µm fall slower than this says."
        findings.append(note("coarse-grains", words))
    verdict = Verdict.of(findings)
    row = given("the mix")
    used = [
        *row("grain", grain, "um"),
        *row("density of the pigment", heavy, "kg/m3"),
        *row("density of the liquid", liquid, "kg/m3"),
        *row("viscosity", thick, "mPa.s"),
    ]
    return SettlingOut(
        mm_per_h=told(fall),
        stir_again_min=_minutes(stir_again_min(fall, float(asked.fall_mm))),
        fall_mm=float(asked.fall_mm),
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(used),
    )


def _told(value: Decimal | list[Decimal], field: str, within: Span) -> Span:
    span = span_of(value, field, within)
    assert span is not None
    return span


def _minutes(span: Span | None) -> list[float | None] | None:
    """JSON has no endless number: an end that never comes is null."""
    return None if span is None else [float(f"{one:.6g}") if isfinite(one) else None for one in span]
