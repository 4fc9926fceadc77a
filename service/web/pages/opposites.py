"""`/opposites`: a mix is too red, too green …: what takes it back, and which of it the shop has."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from service.core.ageing import judge
from service.core.colour_opposites import SOURCE, Hue, hue_of, opposite_of
from service.core.containers import STANDING_WORDS
from service.core.shelf_codes import show_code
from service.records.ageing_queries import lives_of
from service.records.mixing_queries import choosable_materials
from service.records.stock_queries import containers_of
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.render import page

router = APIRouter(include_in_schema=False)

COLUMNS = [
    {"key": "name", "label": "Material"},
    {"key": "ci", "label": "Colour Index name"},
    {"key": "boxes", "label": "On the shelf"},
]


@router.get("/opposites")
def opposites(
    request: Request, data: Data, now: Now, actor: Signed, too: Annotated[Hue | None, Query()] = None
) -> Response:
    """The choice of hues, and for one of them its opposite with what stands on the shelf."""
    hues = [hue.value for hue in Hue]
    context: dict[str, Any] = {"hues": hues, "too": too, "source": SOURCE, "columns": COLUMNS}
    if too is not None:
        context["opposite"] = opposite_of(too)
        with data.reading() as session:
            context["rows"] = _on_the_shelf(session, now, opposite_of(too).hue)
    return page(request, "bench/opposites.html", context, section="bench")


def _on_the_shelf(session: Session, now: Now, hue: Hue) -> list[dict[str, Any]]:
    """The containers of materials of a hue, as they stand today; materials without one say so."""
    today = shop_today(session, now)
    found = [m for m in choosable_materials(session) if hue_of(m.ci_name) is hue and m.id is not None]
    held = containers_of(session, [m.id for m in found if m.id is not None])
    lives = lives_of(session, [(one.container, one.material) for one in held])
    standings = [judge(life, today).standing for life in lives]
    rows = []
    for material in found:
        boxes = [
            {
                "standing": standing.value,
                "words": f"{show_code(one.container.code)} {STANDING_WORDS[standing]}",
            }
            for one, standing in zip(held, standings, strict=True)
            if one.container.material_id == material.id
        ]
        link = {"href": f"/materials/{material.id}", "words": material.name}
        rows.append({"name": link, "ci": material.ci_name, "boxes": {"lines": boxes} if boxes else "none"})
    return rows
