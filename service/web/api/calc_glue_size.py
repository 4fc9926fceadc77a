"""POST /api/calc/glue-size: glue and water for a size under a stain."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.findings import Verdict, note
from service.core.glue_size import Glue, size_of
from service.web.api.film_figures import Figure, told
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import DataUsedOut
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])


class GlueSizeIn(ApiModel):
    """How much size is wanted: millilitres with white glue, grams with dry hide glue."""

    glue: Glue = Glue.WHITE
    wanted: Annotated[Decimal, Field(gt=0, le=1_000_000, description="ml of a white, g of a hide glue size")]


class GlueSizeOut(BaseModel):
    """Glue and water in ``unit``; of hide glue from a thin size to a strong one."""

    glue: Figure
    water: Figure
    unit: str
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/glue-size", summary="Glue and water for a size under a stain")
def glue_size(asked: GlueSizeIn) -> GlueSizeOut:
    """Water to white glue 2 : 1 by volume; dry hide glue by weight, 1:3 up to 1:10. Touches no stock."""
    made = size_of(asked.glue, float(asked.wanted))
    words = (
        "A size evens how blotch-prone wood takes a stain and stays colourless. Let it dry, then scuff it."
    )
    verdict = Verdict.of([note("glue-size-practice", words, "common practice, no source")])
    return GlueSizeOut(
        glue=told(made.glue_amount),
        water=told(made.water_amount),
        unit=made.unit,
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=[],
    )
