"""`/containers/{code}/check`: what somebody found when they looked, and what follows from it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.key_of_content import key_of_content
from service.actions.settle import Settled
from service.actions.tell_of_peroxides import a_strip_tells
from service.core.access import Actor
from service.core.conditions import (
    CONSEQUENCE_WORDS,
    FOUND_WORDS,
    MEASURED,
    PEROXIDE_LIMIT_MG_L,
    ConditionRule,
    Consequence,
    Found,
    found_words,
)
from service.core.containers import ContainerState
from service.records.condition_queries import fitting_rules
from service.records.stock_queries import container_by_code, material_of
from service.web.access_gate import Signed
from service.web.act_forms import Act, ActForm, fresh, run_act, show_act
from service.web.act_view import ActView, job_choices
from service.web.deps import Data, Now
from service.web.fields import Id, Note, NumberText, WrittenAmount
from service.web.forms import Posted, filled, posted
from service.web.render import day

router = APIRouter(prefix="/containers/{code}", include_in_schema=False)


class CheckForm(ActForm):
    """What was found. Only sound or not fit may be told by ``outcome``, as forms kept from before do."""

    found: Found | None = Field(default=None, title="What you found")
    peroxide_mg_l: NumberText | None = Field(default=None, title="What the peroxide strip showed")
    strained: WrittenAmount | None = Field(default=None, title="Strained out and thrown away")
    job: Id | None = Field(default=None, title="Job")
    note: Note = ""
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("found", "enum"): "Choose what you found."}


def _extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    box = container_by_code(session, view.code)
    material = material_of(session, box)
    strip = a_strip_tells(session, box, material)
    fitting = fitting_rules(session, material, key_of_content(session, box, material), strip=strip)
    rules = [rule for rule in fitting if rule.found not in MEASURED]
    words = [
        (
            rule.found.value,
            FOUND_WORDS[rule.found][:1].upper() + FOUND_WORDS[rule.found][1:],
            " ".join(filter(None, (rule.hint, _follows(rule)))),
        )
        for rule in rules
    ]
    return {
        "finds": words,
        "skins": any(rule.found is Found.SKIN for rule in rules),
        "peroxides": strip,
        "limit": PEROXIDE_LIMIT_MG_L,
        "jobs": job_choices(session, actor, now),
    }


def _follows(rule: ConditionRule) -> str:
    """What follows, and before an end is written down, that a slip is not taken back."""
    words = f"This {CONSEQUENCE_WORDS[rule.consequence]}."
    return f"{words} Nothing takes that back." if rule.consequence is Consequence.ENDS else words


CHECK = Act("check", "check.html", "Look at its condition", "found", _extra)


@router.get("/check")
def check_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """What you found."""
    with data.reading() as session:
        gone_by = container_by_code(session, code).state in (ContainerState.EMPTY, ContainerState.GONE)
    when = "done" if gone_by else "about"  # nobody looks into it now
    return show_act(request, data, now, actor, code, CHECK, filled(once=fresh(), when=when))


@router.post("/check")
def check_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[CheckForm], Depends(posted(CheckForm))],
) -> Response:  # fmt: skip
    """Book the check."""

    def perform(session: Session, form: CheckForm, common: dict[str, Any]) -> Settled:
        asked = CheckAsked(
            **common, found=form.found, peroxide_mg_l=form.peroxide_mg_l, strained=form.strained or "",
            note=form.note, job_id=form.job,
        )  # fmt: skip
        return check_condition(session, actor, now, asked)

    return run_act(request, data, now, actor, code, CHECK, p, perform, _said)


def _said(result: dict[str, Any]) -> str:
    until = result["in_date_until"]
    words = "its date is not known"
    if result["outcome"] == "failed":
        words = "it is past now and can only be discarded"
    elif result["standing"] == "past":
        words = "it stays past, and no check brings it back"
    elif result["standing"] == "not-known":
        words = "how long it lasts is not known"
    elif until:
        first = "in date until" if result["standing"] == "in-date" else "look before use, until"
        words = f"{first} {day(datetime.fromisoformat(until).date())}"
    if result["outcome"] == "doubted":
        words = f"look before each use; {words}".replace("; look before use, until", ", until")
    said = f"Checked {result['container']['shown']}: {found_words(result['found'])}; {words}."
    return f"{said} {result['what_to_do']}".strip()
