"""``GET /api/alerts``: what wants attention now and in the next days, worst first."""

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from service.actions.list_alerts import MOST_DAYS, count_soon, list_alerts
from service.actions.manage_channels import reach_findings
from service.core.alerts import SOON_DAYS, AlertKind
from service.core.findings import Severity
from service.web.deps import Config, Data, Now, shop_today

router = APIRouter(prefix="/api", tags=["store"])

_PROBLEMS: dict[int | str, dict[str, Any]] = {
    401: {"description": "no token"},
    403: {"description": "the token's role does not see the store"},
    422: {"description": "`days` is no whole number from 0 to 366, or the shop is not set up"},
}


class AlertOut(BaseModel):
    """One thing to do."""

    kind: AlertKind
    severity: Severity
    due: date = Field(description="The shop's day it is due, or since when it stands so")
    sentence: str
    what_to_do: str
    about: str = Field(description="A shelf code, a material, a rag load")
    owner: str = Field(description="Who sees to it")
    people: list[int] = Field(description="The same persons by their numbers; any one of them may do it")
    ref: str = Field(description="What it is found by: “container R4F34T”, “material 7”, “rag-load 2”")


class AlertsOut(BaseModel):
    """The alerts of a moment. Nothing in the list is no promise that all is well: only that no rule spoke."""

    as_of: datetime
    today: date
    days: int
    total: int = Field(description="How many there are; the worst stand in `alerts`, at most `limit` of them")
    alerts: list[AlertOut]


@router.get("/alerts", responses=_PROBLEMS, summary="What wants attention now and soon")
def alerts(
    data: Data,
    config: Config,
    now: Now,
    days: Annotated[int, Query(ge=0, le=MOST_DAYS, description="How far to look ahead")] = SOON_DAYS,
    limit: Annotated[int, Query(ge=1, le=2000)] = 500,
) -> AlertsOut:
    """Containers past, to look at first, not known or soon to change; missing facts; duties; oily rags."""
    with data.reading() as session:
        reach = reach_findings(session, now, config)
        found = list_alerts(session, now, days, soon_at_most=limit, reach=reach)
        soon = sum(one.kind is AlertKind.SOON for one in found)
        total = len(found) - soon + count_soon(session, now, days)
        today = shop_today(session, now)
    rows = [
        AlertOut(
            kind=one.kind, severity=one.severity, due=one.due, sentence=one.sentence,
            what_to_do=one.what_to_do, about=one.about, owner=one.owner, people=list(one.people),
            ref=one.ref,
        )
        for one in found[:limit]
    ]
    return AlertsOut(as_of=now, today=today, days=days, total=total, alerts=rows)
