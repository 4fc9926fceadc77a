"""POST /api/calc/voc: volatile organic compounds of a mix in g/l, and the limits they are held against."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, BeforeValidator, Field

from service.core.findings import Finding, Verdict, note
from service.core.solvents.composite_pressure import composite_pressure
from service.core.solvents.properties import DataUsed
from service.core.solvents.voc import Figure, VocAnswer, VocFigures, work_out
from service.core.solvents.voc_limits import JudgedLimit, JudgedLimits, judge_limits
from service.core.solvents.voc_mix import MOST_THINNERS
from service.core.solvents.voc_rules import Base, Jurisdiction, VocBasis
from service.records.knowledge_voc import exempt_list, voc_limits
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import (
    MOST_COMPONENTS,
    ComponentIn,
    DataUsedOut,
    components_of,
    data_used_out,
)
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])
_ALSO_CALLED: Final = {"us": "us-federal", "us-aim": "us-federal", "federal": "us-federal", "ca": "canada"}


def _as_listed(value: Any) -> Any:
    return _ALSO_CALLED.get(value.strip().lower(), value) if isinstance(value, str) else value


Law = Annotated[Jurisdiction, BeforeValidator(_as_listed)]


class VocIn(ApiModel):
    """A product by its parts. Without a jurisdiction nothing is exempt and no limit is looked up."""

    components: Annotated[list[ComponentIn], Field(min_length=1, max_length=MOST_COMPONENTS)]
    jurisdiction: Law | None = None
    product_category: Annotated[
        str, Field(max_length=120, description="a category of the limits, or its first word; empty: all")
    ] = ""
    base: Annotated[Base | None, Field(description="WB or SB; only the EU's limits ask")] = None
    container_ml: Annotated[Decimal, Field(gt=0, le=10_000_000)] | None = None
    density_g_ml: Annotated[
        Decimal | None, Field(gt=0, le=25, description="of the whole as supplied; missing: volumes add up")
    ] = None
    thinning: Annotated[
        list[ComponentIn],
        Field(
            max_length=MOST_THINNERS,
            description="volume_fraction: volumes to one volume of the mix; percent: by mass to 100 of it; "
            "mass_g, volume_ml: added to a mix that is written in amounts",
        ),
    ] = Field(default_factory=list)


class LimitOut(BaseModel):
    """A row and what the product does with it. ``met`` is null where it is not known.

    ``word`` says it with "not checked" where the row, or an exemption the figure rests on, is from memory.
    """

    row: str
    title: str
    base: Base | None
    stage: str
    since: str
    limit: float
    unit: str
    basis: VocBasis
    compared: float | None
    met: bool | None
    word: str
    checked: bool
    because: str
    citation: str
    grade: str
    provenance: str


class FiguresOut(BaseModel):
    """Figures of the mix in g/l of it. What nobody knows counts as VOC; null is not known."""

    actual_g_l: float | None
    regulatory_g_l: float | None
    eu_g_l: float | None
    exempt_g_l: float | None
    water_g_l: float | None
    solids_g_l: float | None
    voc_per_l_solids_g: float | None
    at_least: list[str]


class VocOut(FiguresOut):
    """The mix ready to use, thinner and all. ``at_least`` names the figures that may be higher than shown.

    ``low_solids``: at most 120 g/l stays in the film. ``as_supplied`` is without the thinner.
    """

    low_solids: bool | None
    composite_vapour_pressure_kpa: float | None
    as_supplied: FiguresOut
    limits: list[LimitOut]
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/voc", summary="VOC of a mix in g/l, and the limits of its kind of product")
def voc(asked: VocIn) -> VocOut:
    """VOC of all of the product, less water and exempt compounds, and as the EU counts it. Touches no stock.

    A calculated content does not replace the test method the law names, nor the law in force.
    """
    read = components_of(asked.components)
    thinners = components_of(asked.thinning)
    exempt = exempt_list(asked.jurisdiction)
    density = None if asked.density_g_ml is None else float(asked.density_g_ml)
    answer = work_out(read.components, exempt, density, thinners.components)
    container = None if asked.container_ml is None else float(asked.container_ml)
    judged = judge_limits(
        answer, voc_limits(), asked.jurisdiction, asked.product_category, asked.base, container
    )
    pressure, lacks = composite_pressure(read.components, exempt)
    findings = [*read.findings, *thinners.findings, *answer.findings, *judged.findings]
    findings += [_no_pressure(lacks)] if pressure is None else []
    given = [DataUsed("the mix", "density", density, "g/ml", "given", "given")] if density else []
    return _told(answer, judged, pressure, Verdict.of(findings), given)


def _told(
    answer: VocAnswer, judged: JudgedLimits, pressure: float | None, verdict: Verdict, given: list[DataUsed]
) -> VocOut:
    return VocOut(
        **_figures(answer.ready).model_dump(),
        low_solids=answer.ready.low_solids,
        composite_vapour_pressure_kpa=pressure,
        as_supplied=_figures(answer.supplied),
        limits=[_limit(one) for one in judged.limits],
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out([*given, *answer.data_used]),
    )


def _figures(made: VocFigures) -> FiguresOut:
    named: dict[str, Figure] = {
        "actual_g_l": made.actual, "regulatory_g_l": made.regulatory, "eu_g_l": made.eu,
    }  # fmt: skip
    return FiguresOut(
        actual_g_l=_shown(made.actual.value),
        regulatory_g_l=_shown(made.regulatory.value),
        eu_g_l=_shown(made.eu.value),
        exempt_g_l=_shown(made.exempt_g_l),
        water_g_l=_shown(made.water_g_l),
        solids_g_l=_shown(made.solids_g_l),
        voc_per_l_solids_g=_shown(made.per_l_solids),
        at_least=[name for name, one in named.items() if one.at_least],
    )


def _shown(value: float | None) -> float | None:
    """Nine figures: more are only what adding up left behind."""
    return None if value is None else float(f"{value:.9g}")


def _limit(one: JudgedLimit) -> LimitOut:
    row = one.row
    return LimitOut(
        row=row.key,
        title=row.title,
        base=row.base,
        stage=row.stage,
        since=row.since,
        limit=row.limit_g_l,
        unit="g/l",
        basis=one.basis,
        compared=_shown(one.compared_g_l),
        met=one.met,
        word=one.word,
        checked=one.checked,
        because=one.because,
        citation=row.citation,
        grade=row.grade,
        provenance=row.provenance,
    )


def _no_pressure(lacks: tuple[str, ...]) -> Finding:
    missing = "; ".join(lacks[:6]) or "nothing in it evaporates"
    words = f"The composite vapour pressure was not worked out. Missing: {missing}."
    return note("composite-pressure-not-known", words)
