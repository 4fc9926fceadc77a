"""`/use-first`: what of the store goes first, by place, to print and pin up; and which recipes use it up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from service.actions.list_use_first import (
    DAYS_AHEAD,
    MOST_OF_A_SORT,
    Goes,
    UseUp,
    by_place,
    list_use_first,
)
from service.core.containers import Standing
from service.core.months import add_days
from service.core.shelf_codes import show_code
from service.core.year_ahead import MonthOfStore
from service.web.access_gate import Signed
from service.web.act_view import amount_words, condition_words, standing_words
from service.web.deps import Data, Now, shop_today
from service.web.fields import PageNumber
from service.web.render import HARD, day, page

router = APIRouter(include_in_schema=False)

PER_PAGE: Final = 100
COLUMNS: Final = [
    {"key": "code", "label": "Code"},
    {"key": "name", "label": "What"},
    {"key": "amount", "label": "In it", "whole": True},
    {"key": "why", "label": "Why first"},
    {"key": "standing", "label": "Standing", "tag": True},
]
_SHOWN_CODES: Final = 6
_NUMBERS: Final = ("", "One", "Two", "Three", "Four", "Five")


@dataclass(frozen=True)
class Suggestion:
    """What ends in one month, with the recipes that could use it up."""

    words: str
    codes: list[tuple[str, str]]
    more: int
    recipes: list[tuple[str, str]]


@router.get("/use-first")
def use_first(
    request: Request,
    data: Data,
    now: Now,
    actor: Signed,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:
    """The list, a hundred containers on a page."""
    with data.reading() as session:
        today = shop_today(session, now)
        found = list_use_first(session, today)
        begin = (number - 1) * PER_PAGE
        groups = [
            (name, [_cells(one, today) for one in some])
            for name, some in by_place(found.goes[begin : begin + PER_PAGE])
        ]
        use_up = [_suggestion(one) for one in found.use_up] if number == 1 else []
    context = {
        "groups": groups,
        "columns": COLUMNS,
        "total": len(found.goes),
        "more": found.more,
        "most": MOST_OF_A_SORT,
        "past": found.past,
        "doubted": found.doubted,
        "use_up": use_up,
        "on": day(today),
        "number": number,
        "pages": max(1, -(-len(found.goes) // PER_PAGE)),
    }
    return page(request, "use_first/list.html", context, section="store")


def _cells(one: Goes, today: date) -> dict[str, Any]:
    box, line = one.held.container, one.line
    return {
        "code": {"href": f"/containers/{box.code}", "words": show_code(box.code).replace(" ", HARD)},
        "name": one.held.material.name,
        "amount": amount_words(box, one.held.material)[0],
        "why": _why(one, today),
        "standing": {"standing": line.standing.value, "words": standing_words(line.standing, line.until)},
    }


def _why(one: Goes, today: date) -> str:
    line = one.line
    soon = line.until is not None and line.until <= add_days(today, DAYS_AHEAD)
    parts = [
        "to be looked at first" if line.standing is Standing.LOOK_FIRST else "",
        "its date is not known, look at it first" if line.standing is Standing.NOT_KNOWN else "",
        "ends within the year" if soon and line.standing is Standing.IN_DATE else "",
        condition_words(one.held.container),
        "open already" if line.is_open else "still sealed",
        line.air.words,
    ]
    if one.clock is not None and (one.clock.clock.share is None or not one.clock.all_told):
        parts.append("air not known")
    said = ", ".join(part for part in parts if part)
    return f"{said[:1].upper()}{said[1:]}"


def _suggestion(one: UseUp) -> Suggestion:
    ends = one.ends
    many = len(ends.codes)
    count = _NUMBERS[many] if many < len(_NUMBERS) else str(many)
    month = MonthOfStore(ends.year, ends.month).name
    return Suggestion(
        words=f"{count} {'container' if many == 1 else 'containers'} of {ends.name} "
        f"{'ends' if many == 1 else 'end'} in {month}",
        codes=[(f"/containers/{code}", show_code(code)) for code in ends.codes[:_SHOWN_CODES]],
        more=max(0, many - _SHOWN_CODES),
        recipes=[(f"/recipes/{number}", name) for number, name in one.recipes],
    )
