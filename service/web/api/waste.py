"""``GET /api/waste``: what became waste by the books, month by month, against the US generator categories."""

from datetime import date

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.look_at_waste import look_at_waste
from service.core.findings import Verdict
from service.core.waste import say_kg
from service.core.waste_rules import Kind
from service.web.access_gate import Signed
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.deps import Data, shop_zone

router = APIRouter(prefix="/api/waste", tags=["store"])


class LineOut(BaseModel):
    """One thing that became waste; ``kg`` null: not known, and ``why_not`` says what is missing."""

    on: date
    what: str
    container: str
    kg: str | None
    estimated: bool
    where: str
    why_not: str


class WasteMonthOut(BaseModel):
    """A calendar month of the shop; ``category`` null: it is not certain, but at least ``at_least``."""

    month: str
    kg: str = Field(description="What is known of it")
    kg_is_at_least: bool
    category: str | None
    at_least: str
    lines: list[LineOut]


class WasteBookOut(BaseModel):
    """All months, the newest first."""

    months: list[WasteMonthOut]
    findings: list[FindingOut]
    complete: bool


@router.get("", summary="What became waste, by calendar month")
def waste(data: Data, actor: Signed) -> WasteBookOut:
    """Discards, losses and what was thrown away from pots with where it went, and rags that went away."""
    with data.reading() as session:
        book = look_at_waste(session, shop_zone(session))
    found = [*(one for judged, _ in book.months for one in judged.findings), *book.findings]
    verdict = Verdict.of(found)
    return WasteBookOut(
        months=[
            WasteMonthOut(
                month=judged.month.name,
                kg=say_kg(judged.month.of(Kind.WASTE).kg),
                kg_is_at_least=judged.month.of(Kind.WASTE).more,
                category=judged.category.value if judged.category else None,
                at_least=judged.at_least.value,
                lines=[
                    LineOut(
                        on=line.on, what=line.what, container=line.code, estimated=line.about,
                        kg=None if line.kg is None else say_kg(line.kg), where=line.where,
                        why_not=line.why_not,
                    )
                    for line in lines
                ],
            )
            for judged, lines in book.months
        ],
        findings=[finding_out(one) for one in verdict],
        complete=verdict.complete,
    )  # fmt: skip
