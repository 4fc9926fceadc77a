"""`/term/{id}`: the plan of a term, one material of it over the weeks, and what would die unused."""

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import Session

from service.actions.grow_planned import GrownJob
from service.actions.look_at_term import TermOutlook, look_at_term
from service.core.access import Actor, Permission, may
from service.core.findings import Finding, NotFound, Verdict, warn
from service.core.shelf_codes import show_code
from service.core.waste_avoided import DiesUnused, Rescue
from service.records.plans import DateState
from service.web.access_gate import Signed
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id
from service.web.finding_links import links_of
from service.web.plan_amounts import amount, least_words
from service.web.planned_words import whom
from service.web.render import day, page
from service.web.stock_picture import draw_stock
from service.web.term_view import (
    DAYS,
    NEEDS,
    covered_by_date,
    day_rows,
    how_it_is_met,
    need_rows,
    open_questions,
    weekday_of,
)

router = APIRouter(prefix="/term", include_in_schema=False)

JOBS = [
    {"key": "name", "label": "Job"},
    {"key": "recipe", "label": "Recipe"},
    {"key": "whom", "label": "For whom"},
    {"key": "days", "label": "Days"},
    {"key": "next", "label": "Next", "whole": True},
    {"key": "met", "label": "Stock"},
]
DYING = [
    {"key": "code", "label": "Container"},
    {"key": "name", "label": "What"},
    {"key": "amount", "label": "Left in it", "number": True},
    {"key": "until", "label": "Use it by", "whole": True},
    {"key": "takers", "label": "Who could take it"},
]
_OFTEN = frozenset({"short", "plan-day-gone", "look-first"})
"""Said at their dates and materials already."""
_OF_BOXES = frozenset({"not-planned-with", "amount-estimated", "damaged", "keeper-only", "past-by-then"})
MOST_OF_BOXES = 20
"""So many remarks on single containers stand on the page of the whole plan."""


@router.get("/{term_id}")
def show(term_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """The jobs of the term, what they need, and what is missing."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
    context = _head(look, actor) | {
        "job_columns": JOBS,
        "jobs": _job_rows(look),
        "need_columns": NEEDS,
        "needs": need_rows(look),
        "verdict": shown_verdict(look),
        "link": links_of(look),
        "dying": len(look.plan.dying),
        "orders": len(look.plan.orders.orders),
        "gone": sum(
            1 for one in look.dates if one.row.state is DateState.PLANNED and one.row.on_day < look.today
        ),
    }
    return page(request, "term/plan.html", context, section="term")


def _head(look: TermOutlook, actor: Actor) -> dict[str, Any]:
    term = look.term
    return {
        "term": term,
        "days": f"{day(term.first_day)} to {day(term.last_day)}",
        "today": day(look.today),
        "may_plan": may(actor.role, Permission.PLAN),
    }


def shown_verdict(look: TermOutlook) -> Verdict:
    """What is to be read about the plan; what stands beside each date or material already is left out."""
    kept: list[Finding] = [f for f in look.verdict if f.code not in _OFTEN]
    of_boxes = [f for f in kept if f.code in _OF_BOXES]
    if len(of_boxes) > MOST_OF_BOXES:
        words = f"{len(of_boxes)} remarks on single containers stand on the pages of their materials."
        kept = [f for f in kept if f.code not in _OF_BOXES] + [warn("of-containers", words)]
    return Verdict.of(kept)


def _job_rows(look: TermOutlook) -> list[dict[str, Any]]:
    met = covered_by_date(look)
    rows = []
    for number, job in look.jobs.items():
        if job.row.term_id != look.term.id:
            continue
        dates = [one for one in look.dates if one.row.planned_job_id == number]
        standing = [one.row for one in dates if one.row.state is DateState.PLANNED]
        coming = [row for row in standing if row.on_day >= look.today]
        # A batch that is not finished may lack something, too.
        waits = [
            one.row for one in dates
            if one.row.state is DateState.STARTED and (number, one.row.on_day) in met
        ]  # fmt: skip
        rows.append(
            {
                "name": {"href": f"/term/jobs/{number}", "words": job.row.name},
                "recipe": {"href": f"/recipes/{job.recipe.id}", "words": job.recipe.name},
                "whom": whom(job),
                "days": f"{len(standing)} of {len(dates)} stand; {job.row.repeated}",
                "next": weekday_of(coming[0].on_day) if coming else "none to come",
                "met": _met(job, [row.on_day for row in (*waits, *coming)], met),
            }
        )
    return rows


def _met(job: GrownJob, days: list[date], met: dict[tuple[int, date], list[Any]]) -> str:
    words = [
        how_it_is_met(
            met.get((job.row.id or 0, on), []), job.why, may_be_made=job.may_be_made,
            asked=open_questions(job),
        )[0]
        for on in days
    ]
    if not words:
        return "–"
    parts = []
    for word, said in (
        ("may not be made", "may not be made"), ("missing", "lack something"), ("not known", "not known"),
        ("there if what is ordered comes", "there if what is ordered comes"),
    ):  # fmt: skip
        if words.count(word):
            parts.append(f"{words.count(word)} of {len(words)} {said}")
    return "; ".join(parts) or "there by the book"


@router.get("/{term_id}/materials/{material_id}")
def material(
    term_id: Id, material_id: Id, request: Request, data: Data, now: Now, actor: Signed
) -> Response:
    """One material over the term: the days it is needed on, what comes, what dies."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        if material_id not in look.materials:
            raise NotFound("This material is not needed in this term.")
    bought = look.bought[material_id]
    rows = day_rows(look, material_id)
    about, codes = bought.name, {box.code for box in look.shelf if box.material_id == material_id}
    context = _head(look, actor) | {
        "name": about,
        "material_id": material_id,
        "columns": DAYS,
        "rows": rows,
        "picture": draw_stock(look, material_id),
        "verdict": Verdict.of(
            f for f in look.verdict if f.code not in _OFTEN and (f.about == about or f.about in codes)
        ),
        "link": links_of(look, on_material=True),
        "least": least_words(look, material_id),
    }
    return page(request, "term/material.html", context, section="term")


@router.get("/{term_id}/waste")
def waste(term_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What dies unused before the term ends, and which planned job could take it."""
    with data.reading() as session:
        look = look_at_term(session, term_id, shop_today(session, now))
        by_date, by_look = dying_rows(session, look)
    do, do_look = what_to_do(look)
    context = _head(look, actor) | {
        "columns": DYING, "rows": by_date, "to_look": by_look, "do": do, "do_look": do_look,
    }  # fmt: skip
    return page(request, "term/waste.html", context, section="term")


def dying_rows(session: Session, look: TermOutlook) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Those with a day to use them by, and those somebody has to look at."""
    to_look = [_dying(look, one) for one in look.plan.dying if one.rescue is Rescue.LOOK]
    return [_dying(look, one) for one in look.plan.dying if one.rescue is not Rescue.LOOK], to_look


def what_to_do(look: TermOutlook) -> tuple[str, str]:
    """What to do with what has a day to use it by, and with what somebody has to look at."""
    rescues = {one.rescue for one in look.plan.dying}
    ways = ["What stands here dies before the next job that needs it."]
    if Rescue.BRING_FORWARD in rescues:
        ways.append("Where a planned job could take it, bring that job forward.")
    if Rescue.NO_JOB in rescues:
        ways = ["What stands here dies unused.", *ways[1:]]
        ways.append("What no planned job is known to take can go into a job that is not planned yet.")
    offered = any(one.takers for one in look.plan.dying if one.rescue is Rescue.LOOK)
    after = (
        "After a look that passes they could cover the jobs named here."
        if offered
        else "No planned job is known to lack any of it."
    )
    return " ".join(ways), f"Nobody knows how they stand, so they are not planned with. {after}"


def _dying(look: TermOutlook, one: DiesUnused) -> dict[str, Any]:
    basis, unit = look.bought[one.material_id].basis, look.unit(one.material_id)
    real = one.container_id > 0
    takers = [
        f"{taker.job_name} on {weekday_of(taker.on)}: {amount(taker.amount, basis, unit)}"
        for taker in one.takers
    ]
    return {
        "code": {"href": f"/containers/{one.code}", "words": show_code(one.code)} if real else one.code,
        "name": look.bought[one.material_id].name,
        "amount": amount(one.amount, basis, unit, down=True),
        "until": day(one.last_day) if one.last_day else "not known: look at it",
        "takers": {"lines": takers} if takers else "no planned job is known to take it",
    }
