"""`/recipes/N/batches`: the share of each material in every batch of a recipe, and how it scatters."""

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from service.actions.look_at_scatter import MOST_BATCHES, look_at_scatter
from service.core.colour_samples import percent_of
from service.core.materials import Basis
from service.core.scatter import Scatter, Spread
from service.web.access_gate import Signed
from service.web.deps import Data
from service.web.fields import Id
from service.web.render import page

router = APIRouter(prefix="/recipes", include_in_schema=False)

COLUMNS = [
    {"key": "material", "label": "Material"},
    {"key": "low", "label": "Lowest", "number": True},
    {"key": "middle", "label": "Median", "number": True},
    {"key": "high", "label": "Highest", "number": True},
    {"key": "count", "label": "In batches", "number": True},
]


@router.get("/{recipe_id}/batches")
def scattered(recipe_id: Id, request: Request, data: Data, actor: Signed) -> Response:
    """Low, median, high, and each batch by itself."""
    with data.reading() as session:
        seen = look_at_scatter(session, recipe_id)
    done = seen.scatter
    context = {
        "recipe": seen.recipe,
        "by": "volume" if done.by is Basis.VOLUME else "weight",
        "counted": done.counted,
        "left_out": [{"href": f"/bench/{n}", "words": f"Batch {n}", "why": why} for n, why in done.left_out],
        "columns": COLUMNS,
        "rows": [_row(one, len(done.counted)) for one in done.spreads],
        "batch_columns": [{"key": "batch", "label": "Batch"}]
        + [{"key": str(one.material_id), "label": one.name, "number": True} for one in done.spreads],
        "batch_rows": _by_batch(done),
        "most": MOST_BATCHES if seen.more else 0,
    }
    return page(request, "recipes/batches.html", context, section="recipes")


def _row(one: Spread, counted: int) -> dict[str, Any]:
    return {
        "material": one.name,
        "low": f"{percent_of(one.low)} %",
        "middle": f"{percent_of(one.middle)} %",
        "high": f"{percent_of(one.high)} %",
        "count": f"{one.went_in} of {counted}",
    }


def _by_batch(done: Scatter) -> list[dict[str, Any]]:
    return [
        {"batch": {"href": f"/bench/{number}/as-made", "words": f"Batch {number}"}}
        | {str(one.material_id): f"{percent_of(dict(one.shares)[number])} %" for one in done.spreads}
        for number in done.counted
    ]
