"""POST /api/calc/flash-point: the closed-cup flash point of a liquid mix, and what it may decide."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter
from pydantic import Field

from service.core.solvents.activity import Variant
from service.core.solvents.flash_judgement import METHOD, FlashJudgement, coefficients_at, judge_flash
from service.core.solvents.flash_point import VariantFlash
from service.core.solvents.flash_use import FlashCategory
from service.core.solvents.properties import Component
from service.core.solvents.shares import grams_of, readings
from service.core.solvents.viscosity import THINNEST_MM2_S, Blend, blend_viscosity
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import Temperature
from service.web.api.solvent_components import (
    MOST_COMPONENTS,
    ComponentIn,
    DataUsedOut,
    components_of,
    data_used_out,
)
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])


class FlashPointIn(ApiModel):
    """A liquid mix. ``at_temperature_c``: where coefficients are shown; missing: at the flash point."""

    components: Annotated[list[ComponentIn], Field(min_length=1, max_length=MOST_COMPONENTS)]
    at_temperature_c: Annotated[Temperature, Field(ge=-90, le=400)] | None = None
    measured_flash_point_c: Annotated[
        Temperature | None, Field(description="closed cup, measured on this product: it counts before ours")
    ] = None
    flash_point_confirmed: Annotated[
        bool, Field(description="that figure was looked at again: in °C, closed cup, this very product")
    ] = False


class VariantOut(ApiModel):
    """What one variant gives; ``ideal`` is shown beside the others and never decides."""

    variant: str
    flash_point_c: float | None
    why_not: str


class CoefficientOut(ApiModel):
    """Activity coefficients of one component at ``at_c``; null where a variant has no groups for it."""

    name: str
    at_c: float
    mole_fraction: float | None
    original: float | None
    dortmund: float | None


class LeftOutOut(ApiModel):
    name: str
    why: str


class CategoryOut(ApiModel):
    """The category under one law: "1" to "4", or "" for none. ``may_be_used``: the flash point decided it."""

    category: str
    may_be_used: bool
    because: list[str]


class BlendOut(ApiModel):
    """Kinematic viscosity at 40 °C of the whole, estimated; a measured one counts before it."""

    blending_number: float
    mm2_s: float


class FlashPointOut(ApiModel):
    """``flash_point_c`` null: not known, or nothing volatile burns (see findings)."""

    flash_point_c: float | None
    by_variant: list[VariantOut]
    ideal: VariantOut | None
    method: str
    left_out: list[LeftOutOut]
    activity_coefficients: list[CoefficientOut]
    lower_than_every_ingredient: bool
    category: dict[str, CategoryOut]
    viscosity_40c: BlendOut | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/flash-point", summary="The flash point of a liquid mix and its category under each law")
def flash_point(asked: FlashPointIn) -> FlashPointOut:
    """Works out the closed-cup flash point of a mix from those of its parts. Touches no stock.

    A calculated value may make a category more severe; milder only where the standard allows the calculation.
    """
    read = components_of(asked.components)
    measured = None if asked.measured_flash_point_c is None else float(asked.measured_flash_point_c)
    sure = asked.flash_point_confirmed
    judged = judge_flash(read.components, read.findings, measured_c=measured, confirmed=sure)
    at = None if asked.at_temperature_c is None else float(asked.at_temperature_c)
    return FlashPointOut(
        flash_point_c=_short(judged.flash_c),
        by_variant=[_variant(one) for one in (judged.reading.variants if judged.reading else ())],
        ideal=_variant(judged.reading.ideal) if judged.reading else None,
        method=METHOD,
        left_out=[LeftOutOut(name=one.name, why=one.why) for one in judged.left_out],
        activity_coefficients=_coefficients(read.components, judged, at),
        lower_than_every_ingredient=judged.is_lower_than_all,
        category={one.regime.value: _category(one) for one in judged.categories},
        viscosity_40c=_blend(read.components),
        findings=[finding_out(one) for one in judged.verdict],
        complete=judged.verdict.complete,
        data_used=data_used_out(judged.data_used),
    )


def _short(number: float | None) -> float | None:
    return None if number is None else round(number, 4)


def _variant(one: VariantFlash) -> VariantOut:
    return VariantOut(variant=one.variant, flash_point_c=_short(one.celsius), why_not=one.why_not)


def _category(one: FlashCategory) -> CategoryOut:
    return CategoryOut(category=one.category, may_be_used=one.may_be_used, because=list(one.because))


def _coefficients(
    components: Sequence[Component], judged: FlashJudgement, at: float | None
) -> list[CoefficientOut]:
    if at is None:
        at = judged.flash_c
    if at is None:
        return []
    found = coefficients_at(components, at)
    volatile = [one for one in components if one.volatile is not False]
    names = {one.name: x for one, x in _fractions(judged)}

    def of(variant: Variant, place: int) -> float | None:
        return float(f"{found[variant][place]:.8g}") if variant in found else None

    return [
        CoefficientOut(
            name=one.name,
            at_c=round(at, 4),
            mole_fraction=names.get(one.name),
            original=of(Variant.ORIGINAL, place),
            dortmund=of(Variant.DORTMUND, place),
        )
        for place, one in enumerate(volatile)
    ]


def _fractions(judged: FlashJudgement) -> list[tuple[Component, float]]:
    if judged.reading is None:
        return []
    return [
        (one, round(x, 8))
        for one, x in zip(judged.reading.components, judged.reading.fractions, strict=True)
    ]


def _blend(components: Sequence[Component]) -> BlendOut | None:
    """Of liquids whose viscosities are all known, at the first corner of ranges; else it is not known."""
    grams, _ = grams_of(next(readings(components)))
    known = [one.viscosity.value for one in components if one.viscosity is not None]
    if grams is None or len(known) < len(components) or min(known) <= THINNEST_MM2_S or sum(grams) <= 0:
        return None
    blend: Blend = blend_viscosity(grams, known)
    return BlendOut(blending_number=round(blend.number, 5), mm2_s=round(blend.mm2_s, 5))
