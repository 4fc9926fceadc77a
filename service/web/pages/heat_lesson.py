"""`/rags/why`: why oily rags heat, in published figures with their limits. For teaching; no rule reads it."""

from collections.abc import Sequence
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.core.heat_lesson import LIMITS, OXYGEN, SEEN, LessonFigure
from service.core.sources import GRADE_WORDS
from service.records.knowledge import load_known_materials
from service.web.pages.material_view import figure_words, source_words
from service.web.render import page

router = APIRouter(include_in_schema=False)

IODINE = "iodine_value_g_100g"


@router.get("/rags/why")
def why(request: Request) -> Response:
    """Iodine values of oils, oxygen taken up, fires that were seen, and what none of it says."""
    oils = [
        {
            "what": material.name,
            "figure": figure_words(figure),
            "source": "; ".join(source_words(key) for key in figure.source),
            "limit": ", ".join(said for said in (GRADE_WORDS[figure.grade], figure.note) if said),
        }
        for material in load_known_materials()
        for figure in material.figures
        if figure.property == IODINE
    ]
    context = {"limits": LIMITS, "oils": oils, "oxygen": _rows(OXYGEN), "seen": _rows(SEEN)}
    return page(request, "rags/why.html", context, section="rags")


def _rows(figures: Sequence[LessonFigure]) -> list[dict[str, Any]]:
    return [
        {"what": one.what, "figure": one.figure, "source": one.source, "limit": one.limit} for one in figures
    ]
