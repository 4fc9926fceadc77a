"""VOC in words and rows, for the pages of a recipe and a batch."""

from __future__ import annotations

from typing import Any, Final

from service.actions.judge_voc import JudgedVoc
from service.core.solvents.voc import Figure
from service.core.solvents.voc_limits import JudgedLimit
from service.core.sources import GRADE_WORDS, Grade

COLUMNS: Final = [
    {"key": "title", "label": "Limit for"},
    {"key": "word", "label": "Met?", "tag": True},
    {"key": "compared", "label": "This mix, g/l", "number": True},
    {"key": "limit", "label": "Limit, g/l", "number": True},
    {"key": "citation", "label": "Where it stands"},
    {"key": "grade", "label": "How good"},
]


def view_voc(judged: JudgedVoc) -> dict[str, Any]:
    """What the page shows; a figure that is not known says so and is never nought."""
    made = judged.figures
    return {
        "columns": COLUMNS,
        "figures": [
            ("VOC of all of it", _figure(made.actual), "grams in a litre of it as it is"),
            ("Less water and exempt solvents", _figure(made.regulatory), "as US limits ask"),
            ("By EU law", _figure(made.eu), "all that begins to boil up to 250 °C"),
        ],
        "rows": [_row(one) for one in judged.limits],
        "verdict": judged.verdict,
        "has_law": judged.law is not None,
    }


def _figure(one: Figure) -> str:
    said = _amount(one)
    return "not known" if said is None else f"{said} g/l"


def _amount(one: Figure) -> str | None:
    """What is sure where more may be there, the most where what nobody knows was counted in."""
    if one.value is None or one.sure is None:
        return None
    if one.at_least:
        return f"at least {one.sure:.0f}"
    return f"up to {one.value:.0f}" if one.open else f"{one.value:.0f}"


def _row(one: JudgedLimit) -> dict[str, Any]:
    row = one.row
    base = {"WB": ", water-borne", "SB": ", solvent-borne"}[row.base.value] if row.base else ""
    return {
        "title": f"{row.title}{base}",
        "word": one.word,
        "compared": _amount(one.figure),
        "limit": f"{row.limit_g_l:g}",
        "citation": row.citation,
        "grade": GRADE_WORDS[Grade(row.grade)]
        if one.checked
        else f"{GRADE_WORDS[Grade.MEMORY]}: not checked",
    }
