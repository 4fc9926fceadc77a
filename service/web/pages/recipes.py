"""`/recipes`: the recipes of the shop, one recipe with its lines and versions, putting one away."""

import uuid
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from service.actions.judge_never_with import judge_never_with
from service.actions.read_recipe import MEASURED_BY
from service.actions.write_recipe import put_away_recipe
from service.core.access import Actor, Permission, may
from service.core.materials import Basis
from service.core.mix_purposes import hint_of, words_of
from service.records.materials import Material
from service.records.mixing import Recipe, RecipeLineRow, RecipeVersion
from service.records.mixing_queries import all_recipes, lines_of, the_recipe, the_version, versions_of
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now
from service.web.fields import Id, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import page

router = APIRouter(prefix="/recipes", include_in_schema=False)

LINES = [
    {"key": "material", "label": "Material"},
    {"key": "number", "label": "Order", "number": True},
    {"key": "amount", "label": "How much"},
    {"key": "note", "label": "Remark"},
]


@router.get("")
def listing(
    request: Request, data: Data, actor: Signed, away: Annotated[bool, Query()] = False
) -> Response:
    """Every recipe in use, or those put away."""
    with data.reading() as session:
        cards = [_card(session, row) for row in all_recipes(session, active=not away)]
    context = {"cards": cards, "away": away, "may_write": may(actor.role, Permission.RECIPES)}
    return page(request, "recipes/list.html", context, section="recipes")


def _card(session: Session, recipe: Recipe) -> dict[str, Any]:
    version = the_version(session, recipe)
    names = [material.name for _, material in lines_of(session, version.id or 0)]
    shown = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
    return {
        "href": f"/recipes/{recipe.id}",
        "name": recipe.name,
        "sort": words_of(recipe.mix_purpose),
        "purpose": recipe.purpose,
        "makes": version.makes_written,
        "holds": shown,
    }


@router.get("/{recipe_id}")
def one(
    recipe_id: Id, request: Request, data: Data, actor: Signed,
    number: Annotated[Id | None, Query()] = None, amount: Annotated[str, Query(max_length=200)] = "",
) -> Response:  # fmt: skip
    """The recipe as it stands, or an older version of it."""
    with data.reading() as session:
        context = recipe_context(session, actor, recipe_id, number, filled(amount=amount or "1 time"))
    return page(request, "recipes/one.html", context, section="recipes")


def recipe_context(
    session: Session, actor: Actor, recipe_id: int, number: int | None, p: Posted[Any]
) -> dict[str, Any]:
    """What the page of one recipe shows; ``p`` is the form "how much"."""
    recipe = the_recipe(session, recipe_id)
    version = the_version(session, recipe, number)
    rows = lines_of(session, version.id or 0)
    return {
        "p": p,
        "recipe": recipe,
        "version": version,
        "is_current": version.number == recipe.current_version,
        "columns": LINES if any(row.note for row, _ in rows) else LINES[:-1],
        "rows": [line_cells(row, material) for row, material in rows],
        "sort": words_of(recipe.mix_purpose),
        "hint": hint_of(recipe.mix_purpose),
        "together": judge_never_with(session, [material for _, material in rows]),
        "base": next((material.name for row, material in rows if row.position == version.base_position), ""),
        "ways": _ways(version),
        "shares": MEASURED_BY[version.shares_by] if version.shares_by else "",
        "versions": [
            {
                "href": f"/recipes/{recipe_id}?number={v.number}",
                "number": v.number,
                "who": who.name,
                "at": v.created_at,
                "note": v.note,
            }
            for v, who in versions_of(session, recipe_id)
        ],
        "may_write": may(actor.role, Permission.RECIPES),
        "may_make": may(actor.role, Permission.BATCHES) and version.number == recipe.current_version,
    }


def _ways(version: RecipeVersion) -> str:
    """The ways of asking that this recipe can answer."""
    ways = ["2.5 times"] if version.makes_amount is not None or version.shares_by is None else []
    ways += ["500 g" if (version.makes_basis or version.shares_by) is Basis.MASS else "500 ml"]
    if version.coverage_low_m2_l is not None:
        ways.append("12 m2, 2 coats")
    if version.base_position is not None:
        ways.append("1 l of the base")
    return f"Like {', '.join(ways)}, or 20 heads x 60 ml + 10 %"


def line_cells(row: RecipeLineRow, material: Material) -> dict[str, Any]:
    """One line as a row of the listing."""
    name = f"{material.name} (not stocked)" if material.not_stocked else material.name
    return {"number": row.position, "material": name, "amount": row.written, "note": row.note}


class PutAwayForm(FormModel):
    """Off the list, or back onto it."""

    version: Version
    active: bool = False


@router.post("/{recipe_id}/active")
def put_away(
    recipe_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PutAwayForm], Depends(posted(PutAwayForm))],
) -> Response:  # fmt: skip
    """Nothing of a recipe is lost when it is put away."""
    if p.value is None:
        return RedirectResponse(f"/recipes/{recipe_id}", 303)
    with data.writing() as session:
        recipe = put_away_recipe(session, actor, now, recipe_id, p.value.version, active=p.value.active)
        done = "took back" if recipe.active else "put away"
        flash(session, request, f"You {done} the recipe {recipe.name}.")
        return RedirectResponse("/recipes" if not recipe.active else f"/recipes/{recipe_id}", 303)


def fresh_once() -> str:
    """A key for one form."""
    return uuid.uuid4().hex
