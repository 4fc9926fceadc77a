"""`/records/periods`: how long each log is kept; `/records/uses`: where and when each material was used."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.core.months import say_date
from service.core.record_periods import Basis
from service.outreach.csv_tables import written
from service.outreach.use_table import use_rows
from service.records.knowledge_periods import record_periods
from service.records.use_queries import UseSeen, uses
from service.web.csv_answers import as_csv
from service.web.deps import Data, shop_zone
from service.web.fields import PageNumber
from service.web.render import page

router = APIRouter(prefix="/records", include_in_schema=False)

PER_PAGE = 100
_PERIODS = [
    {"key": "log", "label": "What is kept"}, {"key": "kept", "label": "At the least"},
    {"key": "basis", "label": "Law or policy"}, {"key": "word", "label": "On whose word"},
]  # fmt: skip
_USES = [
    {"key": "name", "label": "Identity"}, {"key": "first", "label": "First use"},
    {"key": "last", "label": "Last use"}, {"key": "where", "label": "Where"},
    {"key": "until", "label": "Trace kept"},
]  # fmt: skip


@router.get("/periods")
def periods(request: Request) -> Response:
    """How long each log is kept; none of them can be thinned out, by anybody."""
    lines = [
        {
            "log": {"href": one.page, "words": one.words} if one.page else one.words,
            "kept": one.kept,
            "basis": "law" if one.basis is Basis.LAW else "policy",
            "word": {"lines": [f"{one.citation} ({one.grade.value})", one.note]},
        }
        for one in record_periods()
    ]
    return page(
        request, "records/periods.html", {"columns": _PERIODS, "lines": lines}, section="records"
    )


@router.get("/uses")
def used(
    request: Request, data: Data, number: Annotated[PageNumber, Query(alias="page")] = 1
) -> Response:
    """Identity, places, first and last use of every material, from the ledger."""
    with data.reading() as session:
        found = uses(session, shop_zone(session))
    pages = max(1, -(-len(found) // PER_PAGE))
    number = min(number, pages)
    lines = [_line(one) for one in found[(number - 1) * PER_PAGE : number * PER_PAGE]]
    context = {"columns": _USES, "lines": lines, "number": number, "pages": pages}
    return page(request, "records/uses.html", context, section="records")


def _line(one: UseSeen) -> dict[str, Any]:
    row, use = one.row, one.use
    identity = [
        {"href": f"/materials/{row.id}", "words": row.name},
        f"CAS {row.cas}" if row.cas else "CAS number not known",
    ]
    if row.maker:
        identity.append(row.maker)
    if not row.active:
        identity.append("archived: not used any more")
    until = "while it is here, then 30 years"
    if one.keep_until is not None:
        until = f"until {say_date(one.keep_until)} at the least"
    if use.first is None or use.last is None:
        until = "no container of it was ever written down"
    return {
        "name": {"lines": identity},
        "first": say_date(use.first) if use.first else None,
        "last": "still here" if use.here else say_date(use.last) if use.last else None,
        "where": {"lines": list(one.places) or ["not known"]},
        "until": until,
    }


@router.get("/uses.csv")
def as_file(data: Data) -> Response:
    """The same, every material, for a spreadsheet."""
    with data.reading() as session:
        return as_csv("uses.csv", written(use_rows(uses(session, shop_zone(session)))))
