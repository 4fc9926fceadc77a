"""`GET /api/inspection-pack`: the pack for an inspector as data, and with its PDF as one file."""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response
from pydantic import BaseModel, Field

from service.core.inspection_pack import NOT_IN_HERE, Pack
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS
from service.web.deps import Config, Data, Now
from service.web.fields import DayText
from service.web.pack_view import make_pack
from service.web.pages.inspection_pack import zipped

router = APIRouter(prefix="/api", tags=["records"], responses=PROBLEMS)

OnDate = Annotated[
    DayText | None, Query(description="A day of the shop's calendar; missing: today, as of this moment")
]
_PLAIN = (str, int, bool, date, type(None))


class PackSectionOut(BaseModel):
    """One table: its columns, and a list of cells for each line; null: not known, or none."""

    key: str
    title: str
    said: list[str] = Field(description="What is to be read with it")
    columns: list[str]
    rows: list[list[str | int | bool | date | datetime | None]]


class PackOut(BaseModel):
    """The pack of one day. `until`: it takes what was recorded up to then, and nothing later."""

    day: date
    past: bool
    until: datetime
    printed_at: datetime
    shop: str
    time_zone: str
    ledger_head: str
    rag_log_head: str
    not_known: list[str] = Field(description="What nobody can tell of that day any more")
    not_in_here: list[str]
    sections: list[PackSectionOut]


@router.get("/inspection-pack", summary="The pack for an inspector, of today or a past day")
def inspection_pack(
    data: Data, now: Now, config: Config, actor: Signed, on_date: OnDate = None
) -> PackOut:
    """As the books stood. What was recorded later for the time up to then is in `recorded-since` alone."""
    return _out(make_pack(data, now, config.data, on_date))


@router.get(
    "/inspection-pack.zip",
    summary="The same as one file: every table and the PDF",
    response_class=Response,
    responses={200: {"description": "The file", "content": {"application/zip": {}}}},
)
def inspection_pack_zip(
    data: Data, now: Now, config: Config, actor: Signed, on_date: OnDate = None
) -> Response:
    """A ZIP with one CSV for each section and the PDF."""
    return zipped(make_pack(data, now, config.data, on_date))


def _out(pack: Pack) -> PackOut:
    return PackOut(
        day=pack.moment.day, past=pack.moment.past, until=pack.moment.at, printed_at=pack.printed_at,
        shop=pack.shop, time_zone=pack.zone, ledger_head=pack.ledger_head, rag_log_head=pack.rag_head,
        not_known=list(pack.not_known), not_in_here=list(NOT_IN_HERE),
        sections=[
            PackSectionOut(
                key=one.key, title=one.title, said=list(one.said), columns=list(one.header),
                rows=[[_plain(cell) for cell in row] for row in one.rows],
            )
            for one in pack.sections
        ],
    )  # fmt: skip


def _plain(cell: Any) -> Any:
    return cell if isinstance(cell, _PLAIN) else str(cell)
