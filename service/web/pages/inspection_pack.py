"""`/inspection-pack`: everything an inspector asks for on one page to print, and as files."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Final
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.core.findings import Invalid
from service.core.inspection_pack import ABOUT, NOT_IN_HERE, Pack, Section
from service.core.written_days import read_day
from service.outreach.csv_tables import written
from service.outreach.pack_files import pack_zip
from service.outreach.pack_paper import MOST_LINES, foot_words, words
from service.web.access_gate import Signed
from service.web.csv_answers import as_csv, as_file
from service.web.deps import Config, Data, Now
from service.web.fields import DayText
from service.web.forms import filled
from service.web.pack_view import make_pack
from service.web.printed_columns import kept_words
from service.web.render import page

_OF_FIGURES: Final = frozenset("0123456789.,-")

FIRST_SECTION: Final = "hazardous-chemicals"

router = APIRouter(include_in_schema=False)

OnDate = Annotated[DayText | None, Query()]


@router.get("/inspection-pack")
def look(
    request: Request, data: Data, now: Now, config: Config, actor: Signed,
    on_date: Annotated[str, Query(max_length=60)] = "",
) -> Response:  # fmt: skip
    """The pack of today, or of the end of a past day; it prints as it stands."""
    p = filled(on_date=on_date)
    pack = None
    try:
        on = read_day(on_date) if on_date.strip() else None
        pack = make_pack(data, now, config.data, on)
    except Invalid as wrong:
        p.take(wrong, "on_date")
    context: dict[str, Any] = {"p": p, "pack": _view(pack) if pack else None}
    return page(request, "records/pack.html", context, 422 if p.errors else 200, section="records")


def _view(pack: Pack) -> dict[str, Any]:
    zone = ZoneInfo(pack.zone)
    query = f"?on_date={pack.moment.day.isoformat()}"
    return {
        "title": pack.title, "shop": pack.shop, "foot": foot_words(pack), "ledger_head": pack.ledger_head,
        "rag_head": pack.rag_head, "past": pack.moment.past, "not_known": pack.not_known,
        "not_in_here": NOT_IN_HERE, "zip": f"/inspection-pack.zip{query}",
        "letter": pack.on_letter,
        "sections": [
            _section(one, zone, query, on_letter=pack.on_letter) for one in pack.sections if one.key != ABOUT
        ],
    }  # fmt: skip


def _section(section: Section, zone: ZoneInfo, query: str, *, on_letter: bool) -> dict[str, Any]:
    rows, more = section.lines(MOST_LINES)
    told = [[words(value, zone) for value in row] for row in rows]
    labels = [_label(name) for name in section.columns]
    figures = _are_figures(section, rows)
    kept = kept_words(labels, told, figures, on_letter=on_letter)
    return {
        "key": section.key, "title": section.title, "said": section.said, "more": more,
        "count": f"{len(section.rows)} line{'' if len(section.rows) == 1 else 's'}",
        "file": f"/inspection-pack.csv{query}&section={section.key}", "file_name": section.file_name,
        "columns": [
            {"key": name, "label": label, **({"number": True} if plain else {"whole": True, "kept": one})}
            for name, label, plain, one in zip(section.columns, labels, figures, kept, strict=True)
        ],
        "rows": [dict(zip(section.columns, row, strict=True)) for row in told],
    }  # fmt: skip


def _are_figures(section: Section, rows: list[list[Any]]) -> list[bool]:
    """Of each column, whether it holds numbers, days or instants alone: these never break in two."""
    return [
        all(value in (None, "") or _is_figure(value) for value in (row[place] for row in rows))
        for place in range(len(section.columns))
    ]


def _is_figure(value: Any) -> bool:
    if isinstance(value, str):
        return not set(value) - _OF_FIGURES
    return isinstance(value, (int, Decimal, date))


def _label(name: str) -> str:
    plain = name.replace("_", " ")
    return plain[:1].upper() + plain[1:]


@router.get("/inspection-pack.zip")
def whole(data: Data, now: Now, config: Config, actor: Signed, on_date: OnDate = None) -> Response:
    """Every table and the PDF in one file."""
    return zipped(make_pack(data, now, config.data, on_date))


def zipped(pack: Pack) -> Response:
    return as_file(f"{pack.name}.zip", pack_zip(pack), "application/zip")


@router.get("/inspection-pack.csv")
def table(
    data: Data, now: Now, config: Config, actor: Signed,
    section: Annotated[str, Query(max_length=40)] = FIRST_SECTION, on_date: OnDate = None,
) -> Response:  # fmt: skip
    """One section, to save; the first where none is named."""
    pack = make_pack(data, now, config.data, on_date)
    one = pack.section(section)
    return as_csv(f"{pack.moment.day.isoformat()}-{one.file_name}", written([one.header, *one.rows]))


