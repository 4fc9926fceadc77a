"""`GET /patterns`: every building block of the pages on one page, to look at and to test the look with."""

from __future__ import annotations

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from service.core.findings import Reading, Verdict, note, stop, unknown, warn
from service.web.forms import Posted, filled
from service.web.render import page

router = APIRouter(include_in_schema=False)

_COLUMNS = [
    {"key": "name", "label": "Material", "sort": "/patterns?sort=name", "sorted": "ascending"},
    {"key": "code", "label": "Code"},
    {"key": "amount", "label": "Amount, in grams", "number": True},
    {"key": "place", "label": "Place"},
    {"key": "standing", "label": "Standing", "tag": True},
]


def _row(name: str, code: str, amount: str, place: str, standing: str, words: str) -> dict[str, Any]:
    return {
        "name": {"href": "/patterns", "words": name},
        "code": {"code": code},
        "amount": amount,
        "place": place,
        "standing": {"standing": standing, "words": words},
        "_act": {"href": "/patterns", "words": "Draw from it"},
    }


_ROWS = [
    _row("Raw umber, dry", "K7Q F2B", "1250", "Shelf 3", "in-date", "in date until 12 Mar 2027"),
    _row("Burnt sienna in oil", "H4W 9TC", "148", "Shelf 1", "look-first", "look first"),
    _row("Boiled linseed oil", "R2N 7VX", "not known", "Cabinet A", "not-known", "not known"),
    _row("Japan drier", "B8D 3PG", "90", "Cabinet A", "past", "past since 2 Nov 2026"),
]


def verdict_shown() -> Verdict:
    """One finding of each weight, the sort of sentences that rules write."""
    return Verdict.of([
        stop("rags-overdue", "The rags of “Table tops, group B” have been loose since 16:30. Until they are "
             "put away nothing that heats itself may be opened.", "shop profile, strict", "Job 12"),
        unknown("date-not-known", "Nobody knows when this can was opened. Look at it before use.",
                about="R2N 7VX"),
        warn("look-first", "The colour in oil is in its last month. Cut the skin and stir a sample first.",
             "house policy", "H4W 9TC"),
        note("rag-duty", "This mix starts a rag load: in the can at the end, out of the house by 24:00."),
    ])


def form_shown() -> Posted[Any]:
    """A form that came back with two sentences, one of them with readings to choose from."""
    form = filled(container="K7Q F2B", amount="1,000", opened="25 Nov 2026", method="weighed",
                  place="bench-2", about=True)
    form.refuse("amount", "1,000 can be 1 or 1000. Choose which.",
                (Reading("1", "1 gram"), Reading("1000", "1000 grams")))
    form.refuse("reason", "Enter a reason.")
    return form


@router.get("/patterns")
def patterns(request: Request) -> HTMLResponse:
    """The pattern page."""
    context = {
        "verdict": verdict_shown(), "bad": form_shown(), "columns": _COLUMNS, "rows": _ROWS,
        "today": date(2026, 11, 25),
        "methods": [("weighed", "I weighed what I took", "Scale pan or pot, in grams"),
                    ("container", "I weighed the container before and after", ""),
                    ("spoon", "By the spoon", "Level spoons; the table turns them into grams")],
    }
    return page(request, "patterns.html", context, section="words", scan=True)
