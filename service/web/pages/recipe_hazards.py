"""`/recipes/N/hazards` and `/bench/N/hazards`: the hazards of a recipe, and of what really went in."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from sqlmodel import Session

from service.actions.judge_ventilation import of_lines, warm_room
from service.actions.judge_voc import judge_voc
from service.actions.mix_of_materials import judge_lines
from service.actions.mixes_inside import what_is_in_batch, what_is_in_recipe
from service.actions.read_recipe import LineRead
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.core.hazards.regimes import Regime
from service.core.materials import Basis
from service.records.jobs import Job
from service.records.mixing import RecipeVersion
from service.records.mixing_queries import the_recipe, the_version
from service.web.access_gate import Signed
from service.web.batch_words import seen_batch, sees_all
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id
from service.web.pages.hazard_mix import answer_of, with_never_with
from service.web.pages.material_hazards import laws, shop_regime
from service.web.render import page
from service.web.ventilation_view import view_mix
from service.web.voc_view import view_voc

router = APIRouter(include_in_schema=False)
Law = Annotated[Regime | None, Query()]


@router.get("/recipes/{recipe_id}/hazards")
def of_recipe(
    request: Request, recipe_id: Id, data: Data, now: Now, actor: Signed, law: Law = None
) -> Response:
    """The present version, upper ends of ranges, under the shop's law or the one asked for."""
    with data.reading() as session:
        recipe = the_recipe(session, recipe_id)
        version = the_version(session, recipe)
        lines = what_is_in_recipe(session, version)
        here = f"/recipes/{recipe_id}/hazards"
        context = _context(session, now, lines, version.shares_by, law, here, version)
    context |= {
        "title": f"Hazards of {recipe.name}",
        "lead": f"Version {version.number} as it is written; of every range the worse end.",
        "back": (f"/recipes/{recipe_id}", recipe.name),
        "again": f"/hazards/mix?recipe={recipe_id}",
        "whole": may(actor.role, Permission.RECIPES),
    }
    return page(request, "hazards/made.html", context, section="recipes")


@router.get("/bench/{batch_id}/hazards")
def of_batch(
    request: Request, batch_id: Id, data: Data, now: Now, actor: Signed, law: Law = None
) -> Response:
    """What was put into one batch, less what was put back."""
    with data.reading() as session:
        batch = seen_batch(session, actor, batch_id)
        recipe = the_recipe(session, batch.recipe_id)
        lines = what_is_in_batch(session, batch_id)
        job = session.get(Job, batch.job_id) if batch.job_id is not None else None
        warm = warm_room(session, job.place_id if job is not None else None)
        here = f"/bench/{batch_id}/hazards"
        context = _context(session, now, lines, None, law, here, operating_c=warm[1] if warm else None)
    context |= {
        "title": f"Hazards of batch {batch_id}",
        "lead": f"{recipe.name}: what was put in, as it stands in the book.",
        "back": (f"/bench/{batch_id}", f"Batch {batch_id}"),
        "nothing_yet": not lines,
        "recipe": recipe, "whole": True,
        "again": f"/hazards/mix?recipe={batch.recipe_id}" if sees_all(actor) else "/hazards/mix",
    }
    return page(request, "hazards/made.html", context, section="bench")


def _context(
    session: Session, now: Now, lines: list[LineRead], shares_by: Basis | None, law: Regime | None, here: str,
    version: RecipeVersion | None = None, operating_c: float | None = None,
) -> dict[str, Any]:  # fmt: skip
    own = shop_regime(session)
    chosen = law or own
    context: dict[str, Any] = {"laws": laws(f"{here}?law=", chosen, own), "answer": None, "why_not": ""}
    try:
        today = shop_today(session, now)
        judged, shares = judge_lines(session, lines, chosen, today, shares_by=shares_by)
        judged = with_never_with(session, judged, lines)
    except Invalid as wrong:
        context["why_not"] = wrong.sentence
    else:
        context["answer"] = answer_of(judged, shares, lines)
        air = of_lines(session, lines, shares.parts, judged, today, version=version, operating_c=operating_c)
        context["ventilation"] = view_mix(air)
        context["voc"] = view_voc(judge_voc(session, shares.parts, chosen))
    return context
