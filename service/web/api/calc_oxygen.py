"""POST /api/calc/oxygen: the oxygen above an oil in its can, and how much oil it can skin. An estimate."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.core.findings import Verdict, note
from service.core.headspace import UPTAKE, oil_spent_g, oxygen_g, skin_um
from service.core.solvents.properties import GIVEN, DataUsed
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])


class OxygenIn(ApiModel):
    """The air above the oil. Each opening lets in fresh air; missing: closed once."""

    head_space_l: Annotated[Decimal, Field(ge=0, le=1_000_000)]
    temperature_c: Annotated[Decimal, Field(ge=-60, le=200)] = Decimal(20)
    pressure_pa: Annotated[Decimal, Field(ge=1000, le=10_000_000)] = Decimal(101325)
    openings: Annotated[int, Field(ge=1, le=100_000)] = 1
    uptake_fraction: Annotated[
        Decimal | None, Field(gt=0, le=1, ge=Decimal("0.001"), description="missing: 0.16, linseed oil")
    ] = None
    free_surface_cm2: Annotated[Decimal | None, Field(ge=Decimal("0.01"), le=1_000_000)] = None


class OxygenOut(BaseModel):
    """``oil_spent_g`` is at most; ``skin_um`` is null where the free surface was not told."""

    oxygen_g: float
    oil_spent_g: float
    skin_um: float | None
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/oxygen", summary="Oxygen above an oil in a closed can, and the skin it can make")
def oxygen(asked: OxygenIn) -> OxygenOut:
    """By the gas law; an estimate that never makes a date later. Touches no stock."""
    uptake = UPTAKE if asked.uptake_fraction is None else float(asked.uptake_fraction)
    held = oxygen_g(float(asked.head_space_l), float(asked.temperature_c), float(asked.pressure_pa))
    held *= asked.openings
    spent = oil_spent_g(held, uptake)
    surface = asked.free_surface_cm2
    words = "An estimate: it never makes a date later. Cut a skin out, strain the rest, and look at it."
    verdict = Verdict.of([note("oxygen-estimate", words)])
    source, grade = ("Gardner 1911, p. 17", "H") if asked.uptake_fraction is None else (GIVEN, GIVEN)
    return OxygenOut(
        oxygen_g=_shown(held),
        oil_spent_g=_shown(spent),
        skin_um=None if surface is None else _shown(skin_um(spent, float(surface))),
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
        data_used=data_used_out([DataUsed("the oil", "oxygen uptake", uptake, "share", source, grade)]),
    )


def _shown(value: float) -> float:
    return float(f"{value:.9g}")
