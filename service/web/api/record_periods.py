"""`/api/record-periods` and `/api/uses`: how long each log is kept, and each material's trace."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from service.core.record_periods import Basis, Start
from service.core.sources import Provenance
from service.records.knowledge_periods import record_periods
from service.records.use_queries import uses
from service.web.api.posting import PROBLEMS
from service.web.deps import Data, shop_zone
from service.web.fields import PageSize

router = APIRouter(prefix="/api", tags=["records"], responses=PROBLEMS)


class PeriodOut(BaseModel):
    """`years` null: no figure; the period is in `kept`."""

    log: str
    words: str
    tables: list[str]
    years: int | None
    start: Start
    kept: str
    basis: Basis
    citation: str
    grade: Provenance
    note: str


class PeriodList(BaseModel):
    items: list[PeriodOut]


class UseOut(BaseModel):
    """`first`, `last` null: no container of it was ever written down."""

    material: int
    name: str
    maker: str
    colour_index: str
    cas: str
    archived: bool
    first: date | None
    last: date | None
    here: bool = Field(description="A container of it is not gone")
    places: list[str]
    containers: int
    keep_until: date | None = Field(description="30 years after the last use; null while it is here")


class UseList(BaseModel):
    total: int
    items: list[UseOut]


@router.get("/record-periods", summary="How long each log is kept, and on whose word")
def periods() -> PeriodList:
    """A period is the least; no call deletes anything."""
    return PeriodList(
        items=[
            PeriodOut(
                log=one.log, words=one.words, tables=list(one.tables), years=one.years, start=one.start,
                kept=one.kept, basis=one.basis, citation=one.citation, grade=one.grade, note=one.note,
            )
            for one in record_periods()
        ]
    )  # fmt: skip


@router.get("/uses", summary="Where and when each material was used")
def used(
    data: Data, after: Annotated[int, Query(ge=0, le=1_000_000)] = 0, limit: PageSize = 200
) -> UseList:
    """By name, from the ledger; `after` so many of them."""
    with data.reading() as session:
        found = uses(session, shop_zone(session))
        items = [
            UseOut(
                material=one.use.material, name=one.row.name, maker=one.row.maker,
                colour_index=one.row.ci_name, cas=one.row.cas, archived=not one.row.active,
                first=one.use.first, last=one.use.last, here=one.use.here, places=list(one.places),
                containers=one.containers, keep_until=one.keep_until,
            )
            for one in found[after : after + limit]
        ]  # fmt: skip
        return UseList(total=len(found), items=items)
