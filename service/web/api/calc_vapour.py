"""POST /api/calc/vapour: what a mix does to the air of a room."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.findings import Finding, Invalid, Verdict, note
from service.core.solvents.burning_limits import ESTIMATED, atoms_of, estimated_limits
from service.core.solvents.dilution import Dilution, HazardGroup, dilution_by, dilution_in
from service.core.solvents.evaporation import Speed, Surface, speed_of
from service.core.solvents.properties import Component, Known
from service.core.solvents.room_judgement import AirAnswer, judge_air
from service.core.solvents.room_question import AirQuestion, Emission, EmissionUnit, Figures, Row
from service.core.solvents.vapour import litres_per_litre_as_cubic_feet_per_gallon
from service.core.solvents.vapour_of_mix import Basis
from service.records.dilution_facts import dilution_of
from service.records.knowledge import known
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import (
    MOST_COMPONENTS,
    ComponentIn,
    DataUsedOut,
    components_of,
    data_used_out,
)
from service.web.api_model import ApiModel

MOST_TIMES: Final = 500
_FORMULA: Final = re.compile(r"C[0-9]*H[0-9]+(O[0-9]*)?", re.ASCII)
Minutes = Annotated[Decimal, Field(ge=0, le=10_000_000)]
Ppm = Annotated[Decimal, Field(ge=0, le=1_000_000)]
router = APIRouter(prefix="/api/calc", tags=["calculators"])


class VapourComponentIn(ComponentIn):
    """One component. ``h_codes``: its hazard statements (an empty list: examined, none), or ``hazard_group``
    of control banding; missing, the published lists are asked. ``formula`` serves an estimated limit alone.
    """

    h_codes: Annotated[list[Annotated[str, Field(max_length=60)]], Field(max_length=60)] | None = None
    hazard_group: HazardGroup | None = None
    formula: Annotated[str, Field(max_length=40)] = ""


class EmissionIn(ApiModel):
    """What goes into the air all the time: grams an hour, ml of liquid a minute, or m3 of vapour an hour, of
    the part that evaporates.
    """

    value: Annotated[Decimal, Field(gt=0, le=1_000_000_000)]
    unit: EmissionUnit


class RoomIn(ApiModel):
    """The room. ``mixing_factor`` 1 (perfect) to 10 (bad) divides the airflow; missing, 10 is taken."""

    volume_m3: Annotated[Decimal, Field(gt=0, le=1_000_000_000)] | None = None
    airflow_m3_h: Annotated[Decimal, Field(ge=0, le=1_000_000_000)] | None = None
    mixing_factor: Annotated[Decimal, Field(le=1000)] | None = None
    temperature_c: Annotated[Decimal, Field(ge=-60, le=300)] | None = None
    airflow_is_natural: Annotated[bool, Field(description="through windows and doors, not by a fan")] = False


class SurfaceIn(ApiModel):
    """An open liquid: area, its length along the air (missing: the side of a square), and the air over it."""

    area_m2: Annotated[Decimal, Field(gt=0, le=1_000_000)]
    length_m: Annotated[Decimal, Field(gt=0, le=1000)] | None = None
    air_m_s: Annotated[Decimal, Field(ge=0, le=100)]


class VapourIn(ApiModel):
    """A mix, what of it evaporates, and the room.

    ``liquid_ml`` is of the whole mix; without it and without ``emission`` the components' own grams or
    millilitres evaporate. Without ``evaporation_min`` a liquid goes all at once and an emission goes on.
    """

    components: Annotated[list[VapourComponentIn], Field(min_length=1, max_length=MOST_COMPONENTS)]
    liquid_ml: Annotated[Decimal, Field(gt=0, le=1_000_000_000)] | None = None
    evaporation_min: Annotated[Decimal, Field(gt=0, le=10_000_000)] | None = None
    emission: EmissionIn | None = None
    start_ppm: Ppm | None = None
    target_ppm: Annotated[Decimal, Field(gt=0, le=1_000_000)] | None = None
    times_min: Annotated[list[Minutes], Field(max_length=MOST_TIMES)] = Field(default_factory=list)
    room: RoomIn = RoomIn()
    vapour_basis: Annotated[Basis | None, Field(description="missing: the worse of both")] = None
    open_surface: SurfaceIn | None = None
    estimate_missing_lel: Annotated[bool, Field(description="from the formula, marked as estimated")] = False


class RowOut(BaseModel):
    """A moment. ``index_is_at_least``: not every limit is known, so the index may be higher."""

    min: float | None
    ppm: float | None
    mg_m3: float | None
    percent_lel: float | None
    exposure_index: float | None
    index_is_at_least: bool


class BasisOut(BaseModel):
    """The same on one basis by itself."""

    vapour_basis: Basis
    lel_mix_vol_percent: float | None
    peak: RowOut | None
    steady_ppm: float | None
    air_for_quarter_lel_m3_h: float | None
    air_for_limits_m3_h: float | None


class AboveOut(BaseModel):
    """A vapour in the air just above the open liquid."""

    name: str
    ppm: float
    percent_lel: float | None
    vapour_hazard_ratio: float | None
    evaporates: Speed | None


class VapourOut(BaseModel):
    """Levels are averages of the room, in ppm of all vapours together; null is not known.

    ``vapour_l_per_l`` at 25 C. ``air_for_quarter_lel_m3_h`` and ``air_per_litre_m3`` are as 29 CFR 1910.94
    counts, for air that is fully mixed; ``air_for_limits_m3_h`` and ``air_needed_m3_h`` count the mixing
    factor. ``peak.min`` null: neared, never reached. ``mean_mg_m3`` is over ``mean_over_min``; ``purge_min``
    counts from the end of the release. ``open_surface_g_h`` is an upper bound: a liquid cools itself.
    """

    vapour_l_per_l: float | None
    vapour_ft3_per_gal_70f: float | None
    lel_mix_vol_percent: float | None
    series: list[RowOut]
    peak: RowOut | None
    mean_mg_m3: float | None
    mean_over_min: float | None
    ppm_if_no_air: float | None
    steady_ppm: float | None
    vapour_m3_h: float | None
    air_for_quarter_lel_m3_h: float | None
    air_for_limits_m3_h: float | None
    air_needed_m3_h: float | None
    air_per_litre_m3: float | None
    purge_min: float | None
    enough: bool | None
    by_basis: list[BasisOut]
    above_open_liquid: list[AboveOut]
    open_surface_g_h: float | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/vapour", summary="Vapour of a mix in a room, and the air it needs")
def vapour(asked: VapourIn) -> VapourOut:
    """How much vapour a mix gives, when it can burn, and what a room does with it. Touches no stock.

    This is the average of the room; near the can it is higher; above an open can it can burn.
    """
    read = components_of(asked.components)
    findings = list(read.findings)
    components = [
        _with_estimate(asked, one, component)
        for one, component in zip(asked.components, read.components, strict=True)
    ]
    if asked.room.temperature_c is None:
        findings.append(note("temperature-taken-as-25", "No temperature was told; 25 C is taken."))
    answer = judge_air(_question(asked, components))
    return _told(answer, findings)


def _question(asked: VapourIn, components: Sequence[Component]) -> AirQuestion:
    emission = asked.emission
    return AirQuestion(
        components=tuple(components),
        liquid_ml=_number(asked.liquid_ml),
        emission=None if emission is None else Emission(float(emission.value), emission.unit),
        evaporation_min=_number(asked.evaporation_min),
        start_ppm=_number(asked.start_ppm),
        target_ppm=_number(asked.target_ppm),
        times_min=tuple(float(one) for one in asked.times_min),
        volume_m3=_number(asked.room.volume_m3),
        airflow_m3_h=_number(asked.room.airflow_m3_h),
        mixing_factor=_number(asked.room.mixing_factor),
        celsius=25.0 if asked.room.temperature_c is None else float(asked.room.temperature_c),
        airflow_is_natural=asked.room.airflow_is_natural,
        basis=asked.vapour_basis,
        surface=_surface(asked.open_surface),
        dilution=tuple(_dilution(a, c) for a, c in zip(asked.components, components, strict=True)),
    )


def _surface(asked: SurfaceIn | None) -> Surface | None:
    if asked is None:
        return None
    length = asked.length_m if asked.length_m is not None else asked.area_m2.sqrt()
    return Surface(float(asked.area_m2), float(length), float(asked.air_m_s))


def _speed(key: str) -> Speed | None:
    """The faster of the published relative rates in words; ``None`` where none is held."""
    held = known(key)
    rows = held.figures_of("relative_evaporation_rate") if held else ()
    rates = [float(row.high) for row in rows if row.high is not None]
    return speed_of(max(rates)) if rates else None


def _dilution(asked: VapourComponentIn, component: Component) -> Dilution:
    if asked.hazard_group is not None and asked.h_codes is not None:
        raise _about(component.name, "give its h_codes or its hazard_group, not both.")
    try:
        if asked.h_codes is not None:
            return dilution_by(asked.h_codes)
    except Invalid as wrong:
        raise _about(component.name, wrong.sentence) from None
    return dilution_of(component.cas) if asked.hazard_group is None else dilution_in(asked.hazard_group)


def _with_estimate(asked: VapourIn, one: VapourComponentIn, component: Component) -> Component:
    try:
        atoms = atoms_of(one.formula) if one.formula else None
        if not asked.estimate_missing_lel or component.lower_limit is not None or component.water:
            return component
        held = known(component.key)
        formula = one.formula or (held.formula if held else None) or ""
        if atoms is None and not _FORMULA.fullmatch(formula):
            return component
        low, high = estimated_limits(*(atoms or atoms_of(formula)))
    except Invalid as wrong:
        raise _about(component.name, wrong.sentence) from None
    source = f"Jones, from the formula {formula}"
    upper = component.upper_limit or Known(high, "vol%", source, ESTIMATED)
    return replace(component, lower_limit=Known(low, "vol%", source, ESTIMATED), upper_limit=upper)


def _told(answer: AirAnswer, findings: list[Finding]) -> VapourOut:
    worst = answer.worst or Figures(Basis.ALL_EVAPORATES)
    verdict = Verdict.of([*answer.verdict, *findings])
    litres = worst.vapour_l_per_l
    made = VapourOut(
        vapour_l_per_l=litres,
        vapour_ft3_per_gal_70f=None if litres is None else litres_per_litre_as_cubic_feet_per_gallon(litres),
        lel_mix_vol_percent=worst.lower_limit,
        series=[_row(one) for one in worst.series],
        peak=_row(worst.peak) if worst.peak else None,
        mean_mg_m3=worst.mean_mg_m3,
        mean_over_min=worst.mean_over_min,
        ppm_if_no_air=worst.ppm_if_no_air,
        steady_ppm=worst.steady_ppm,
        vapour_m3_h=worst.vapour_m3_h,
        air_for_quarter_lel_m3_h=worst.air_for_quarter_lel,
        air_for_limits_m3_h=worst.air_for_limits,
        air_needed_m3_h=worst.air_needed,
        air_per_litre_m3=worst.air_per_litre,
        purge_min=worst.purge_min,
        # What stands in the findings of the names counts as well as what the air brought.
        enough=None if answer.enough and not verdict.complete else answer.enough,
        by_basis=[_basis(one) for one in answer.by_basis],
        above_open_liquid=[
            AboveOut(
                name=one.name,
                ppm=one.ppm,
                percent_lel=one.percent_lel,
                vapour_hazard_ratio=one.hazard_ratio,
                evaporates=_speed(one.key),
            )
            for one in answer.above
        ],
        open_surface_g_h=answer.surface_g_h,
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(answer.used),
    )
    _refuse_the_endless(made)
    return made


def _basis(one: Figures) -> BasisOut:
    return BasisOut(
        vapour_basis=one.basis,
        lel_mix_vol_percent=one.lower_limit,
        peak=_row(one.peak) if one.peak else None,
        steady_ppm=one.steady_ppm,
        air_for_quarter_lel_m3_h=one.air_for_quarter_lel,
        air_for_limits_m3_h=one.air_for_limits,
    )


def _row(one: Row) -> RowOut:
    return RowOut(**vars(one))


def _refuse_the_endless(made: BaseModel) -> None:
    """Raises Invalid where figures so far apart were given that no number can hold the answer."""
    for _, value in made:
        parts = value if isinstance(value, list) else [value]
        for part in parts:
            if isinstance(part, BaseModel):
                _refuse_the_endless(part)
            elif isinstance(part, float) and not math.isfinite(part):
                raise Invalid("These figures are too far apart for an answer. Check their units.")


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _about(name: str, sentence: str) -> Invalid:
    return Invalid(f"{name}: {sentence}", {"components": f"{name}: {sentence}"})
