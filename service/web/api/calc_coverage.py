"""POST /api/calc/coverage: litres for an area at a spreading rate, and the wet film."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter
from pydantic import BaseModel, Field, field_validator

from service.core.coverage import dry_film_um, litres_for, wet_film_um
from service.core.findings import Verdict, note
from service.web.api.film_figures import Figure, given, span_of, told
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import Span as SpanIn
from service.web.api.hazard_mix import span_or_sentence
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])


class CoverageIn(ApiModel):
    """An area and what a litre covers: a number or a range, low end first."""

    area_m2: SpanIn
    rate_m2_l: SpanIn
    coats: Annotated[int, Field(ge=1, le=100)] = 1
    volume_solids_percent: Annotated[
        SpanIn | None, Field(description="for the dry film; the film calculator gives it")
    ] = None

    @field_validator("area_m2", "rate_m2_l", "volume_solids_percent", mode="before")
    @classmethod
    def _range(cls, value: Any) -> Any:
        return value if value is None else span_or_sentence(value)


class CoverageOut(BaseModel):
    """``litres`` lowest and highest over all coats: have the highest at hand. Films are of one coat."""

    litres: list[float]
    wet_film_um: Figure
    dry_film_um: Figure
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/coverage", summary="Litres for an area, and the wet film of a coat")
def coverage(asked: CoverageIn) -> CoverageOut:
    """Area over rate, and 1000 over rate for the film if none of it soaks in. Touches no stock."""
    area = span_of(asked.area_m2, "area_m2", (1e-6, 1e9))
    rate = span_of(asked.rate_m2_l, "rate_m2_l", (1e-3, 1e6))
    solids = span_of(asked.volume_solids_percent, "volume_solids_percent", (0, 100))
    assert area is not None and rate is not None
    litres = litres_for(area, rate, asked.coats)
    row = given("the surface")
    used = [*row("area", area, "m2"), *row("rate", rate, "m2/l")]
    used += row("volume solids", solids, "%")
    words = "The film is what lies on the surface if none soaks in; bare wood takes up most of a stain."
    verdict = Verdict.of([note("none-soaks-in", words)])
    return CoverageOut(
        litres=[float(f"{end:.9g}") for end in litres],
        wet_film_um=told(wet_film_um(rate)),
        dry_film_um=told(dry_film_um(rate, solids)) if solids else None,
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out(used),
    )
