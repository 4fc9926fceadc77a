"""`/rags/violations`, `/rags/overrides`, `/duties`: what a keeper answers, lets through; what is owed."""

import uuid
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session, col, select

from service.actions.give_override import OverrideAsked, give_override, overrides
from service.actions.give_rags import answer_violation, parties_to
from service.actions.rag_duty import blocked_by
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, Refused, Verdict
from service.core.rag_override import OverrideFor
from service.records.duties import Duty
from service.records.job_queries import running_jobs
from service.records.mixing import Recipe
from service.records.people import Person
from service.records.rag_queries import active_keepers
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.fields import ClockText, Code, Id, Once, Sentence, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.render import instant, page

router = APIRouter(include_in_schema=False)

_OVERRIDE_COLUMNS = [
    {"key": "what", "label": "Let through"}, {"key": "job", "label": "Job"},
    {"key": "keeper", "label": "By"}, {"key": "reason", "label": "Why"},
    {"key": "until", "label": "Until"}, {"key": "used", "label": "Used"},
]  # fmt: skip


class AnswerForm(FormModel):
    answer: Annotated[str, Field(max_length=1000)] = Field(title="What was done about it")
    once: Once


@router.get("/rags/violations")
def violations(request: Request, data: Data, actor: Signed) -> Response:
    """Everything that was done although it was stopped, and every load put away too late, with its answer."""
    return _violations(request, data, actor)


def _violations(request: Request, data: Data, actor: Actor, status: int = 200, **forms: Any) -> Response:
    with data.reading() as session:
        zone = shop_zone(session).key
        query = select(Duty).where(col(Duty.keeper_answers).is_(True)).order_by(col(Duty.id).desc())
        rows = session.exec(query.limit(200)).all()
        others = [k for k in active_keepers(session) if k != actor.person_id]
        keeper = may(actor.role, Permission.ANSWER_VIOLATION)
        context = {
            "open": [
                (
                    d.id, d.sentence, instant(d.created_at, zone),
                    keeper and not (others and actor.person_id in parties_to(session, d)),
                )
                for d in rows if d.done_at is None
            ],
            "done": [
                (d.sentence, d.answer, _name(session, d.done_by), instant(d.done_at, zone))
                for d in rows if d.done_at is not None
            ],
            "keeper": keeper, "once": uuid.uuid4().hex, "p": filled(), "wrong": 0,
        } | forms  # fmt: skip
    return page(request, "rags/violations.html", context, status, section="rags")


def _name(session: Session, person_id: int | None) -> str:
    person = session.get(Person, person_id) if person_id else None
    return person.name if person else "not known"


@router.post("/rags/violations/{duty_id}")
def answer(
    request: Request, data: Data, now: Now, actor: Signed, duty_id: Id,
    p: Annotated[Posted[AnswerForm], Depends(posted(AnswerForm))],
) -> Response:  # fmt: skip
    """A keeper's answer; the violation itself stays."""
    if p.value is not None:
        try:
            with data.writing() as session:
                answer_violation(session, actor, now, duty_id, p.value.answer, p.value.once)
                flash(session, request, "The answer stands in the log beside the violation.")
                return RedirectResponse("/rags/violations", 303)
        except Invalid as error:
            p.refuse("answer", error.sentence)
    return _violations(request, data, actor, 422, p=p, wrong=duty_id)


class OverrideForm(FormModel):
    kind: OverrideFor = Field(title="What is let through")
    code: Code | None = Field(default=None, title="Container code")
    recipe: Id | None = Field(default=None, title="Recipe")
    job: Id = Field(title="For which job")
    reason: Sentence = Field(title="Why")
    ends: Literal["job", "at"] = Field(default="job", title="How long")
    until: ClockText | None = Field(default=None, title="Until")
    once: Once


@router.get("/rags/overrides")
def override_page(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """Every override given, with its use; a keeper gives one while something is overdue."""
    return _overrides(request, data, now, actor, filled(once=uuid.uuid4().hex, kind="draw", ends="job"))


def _overrides(
    request: Request, data: Data, now: Now, actor: Actor, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        recipes = session.exec(select(Recipe).where(col(Recipe.active)).order_by(col(Recipe.name))).all()
        context = {
            "columns": _OVERRIDE_COLUMNS,
            "rows": [
                {
                    "what": one.what, "job": one.job, "keeper": one.keeper, "reason": one.row.reason,
                    "until": instant(one.row.until, zone.key), "used": "yes" if one.used_by_posting else "no",
                }
                for one in overrides(session)
            ],
            "block": blocked_by(session, at), "refused": refused, "p": p,
            "may_give": may(actor.role, Permission.OVERRIDE),
            "jobs": [
                (j.id, j.name, f"ends {instant(j.ends_by, zone.key)}") for j in running_jobs(session, at)
            ],
            "recipes": [(r.id, r.name) for r in recipes],
            "clock": (at + timedelta(minutes=30)).astimezone(zone),
        }  # fmt: skip
    return page(request, "rags/overrides.html", context, status, section="rags")


@router.post("/rags/overrides")
def override(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[OverrideForm], Depends(posted(OverrideForm))],
) -> Response:  # fmt: skip
    """Let one draw or one batch through."""
    said = p.value
    if said is not None and said.kind is OverrideFor.DRAW and not said.code:
        p.refuse("code", "Enter the container's code.")
    if said is not None and said.kind is OverrideFor.BATCH and not said.recipe:
        p.refuse("recipe", "Choose the recipe.")
    if said is not None and said.ends == "at" and said.until is None:
        p.refuse("until", "Enter until when, like 25 Nov 2026 14:05.")
    if p.value is None:
        return _overrides(request, data, now, actor, p, 422)
    try:
        with data.writing() as session:
            settled = give_override(session, actor, now, _asked(session, p.value))
            words = f"Let through once: {settled.result['for']}. It stands in the log."
            flash(session, request, words)
            return RedirectResponse("/rags/overrides", 303)
    except Invalid as error:
        p.take(error, "until")
        return _overrides(request, data, now, actor, p, 422)
    except Refused as error:
        # A bound that is passed is mended on the form: what was written must not be lost.
        return _overrides(request, data, now, actor, p, 409, error.verdict)


def _asked(session: Session, said: OverrideForm) -> OverrideAsked:
    name = (said.code or "") if said.kind is OverrideFor.DRAW else str(said.recipe or "")
    until: datetime | None = None
    if said.ends == "at" and said.until is not None:
        until = to_instant(said.until, shop_zone(session))
    return OverrideAsked(said.once, said.kind, name, said.job, said.reason, until)
