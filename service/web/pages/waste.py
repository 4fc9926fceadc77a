"""`/waste`: what became waste by the books, by month, and the category its mass makes at least."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.actions.look_at_waste import WasteBook, look_at_waste
from service.core.findings import Verdict
from service.core.rag_log import month_words
from service.core.waste import say_category, say_kg
from service.core.waste_record import WasteLine
from service.core.waste_rules import Kind
from service.outreach.csv_tables import written
from service.records.duties import waste_waiting
from service.web.access_gate import Signed
from service.web.csv_answers import as_csv
from service.web.deps import Data, shop_zone
from service.web.render import day, instant, page

router = APIRouter(include_in_schema=False)

MOST_MONTHS: Final = 24
COLUMNS: Final = [
    {"key": "what", "label": "What"},
    {"key": "on", "label": "Day", "whole": True},
    {"key": "mass", "label": "Mass"},
    {"key": "where", "label": "Where to"},
]
HEADER: Final = (
    "month", "day", "what", "container", "kg", "estimated", "where to", "not known because", "month in kg",
    "month is at least", "category at least", "category certain",
)  # fmt: skip


@router.get("/waste")
def waste(request: Request, data: Data, actor: Signed) -> Response:
    """The months, the newest first; it prints as it stands."""
    with data.reading() as session:
        zone = shop_zone(session)
        book = look_at_waste(session, zone)
        waiting = [
            {"words": duty.sentence, "due": instant(duty.due_at, zone.key)}
            for duty in waste_waiting(session)
        ]
    months = [
        {
            "name": month_words(judged.month.name),
            "mass": _mass(judged.month.of(Kind.WASTE).kg, judged.month.of(Kind.WASTE).more),
            "category": say_category(judged),
            "how": [f"{row.says} ({row.citation})" for row in judged.because],
            "verdict": Verdict.of(judged.findings),
            "rows": [_row(line) for line in lines],
        }
        for judged, lines in book.months[:MOST_MONTHS]
    ]
    context = {
        "older": max(0, len(book.months) - MOST_MONTHS),
        "months": months,
        "waiting": waiting,
        "columns": COLUMNS,
        "verdict": Verdict.of(book.findings),
    }
    return page(request, "waste/months.html", context, section="records")


@router.get("/records/csv/waste.csv")
def waste_csv(data: Data, actor: Signed) -> Response:
    """Every line with its month, to save."""
    with data.reading() as session:
        book = look_at_waste(session, shop_zone(session))
    return as_csv("waste.csv", written(waste_rows(book)))


def waste_rows(book: WasteBook) -> Iterator[Sequence[Any]]:
    yield HEADER
    for judged, lines in book.months:
        mass = judged.month.of(Kind.WASTE)
        for line in lines:
            kg = None if line.kg is None else say_kg(line.kg)
            yield (
                judged.month.name, line.on, line.what, line.code, kg, line.about,
                line.where, line.why_not, say_kg(mass.kg), mass.more, judged.at_least.value,
                judged.category is not None,
            )  # fmt: skip


def _mass(kg: Any, more: bool) -> str:
    said = f"{say_kg(kg)} kg"
    return f"at least {said}: something of unknown mass comes on top" if more else said


def _row(line: WasteLine) -> dict[str, Any]:
    mass = "not known" if line.kg is None else f"{'about ' if line.about else ''}{say_kg(line.kg)} kg"
    what: Any = line.what
    if line.code:
        what = {"href": f"/containers/{line.code}", "words": f"{line.what} ({line.code})"}
    return {
        "what": what,
        "on": day(line.on),
        "mass": f"{mass}. {line.why_not}" if line.why_not else mass,
        "where": line.where,
    }
