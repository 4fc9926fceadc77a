"""`/containers/{code}/tell`: what somebody saw in a container, told to a keeper. It moves no date."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.settle import Settled
from service.actions.tell_keeper import TellAsked, tell_keeper
from service.core.access import Actor
from service.core.conditions import NOT_TOLD, Found, found_words, seen_as
from service.core.containers import ContainerState
from service.records.condition_queries import fits
from service.records.knowledge_conditions import known_conditions
from service.records.stock_queries import container_by_code, material_of
from service.web.access_gate import Signed
from service.web.act_forms import Act, ActForm, fresh, run_act, show_act
from service.web.act_view import ActView, job_choices
from service.web.deps import Data, Now
from service.web.fields import Id, Sentence
from service.web.forms import Posted, filled, posted

router = APIRouter(prefix="/containers/{code}", include_in_schema=False)


class TellForm(ActForm):
    found: Found | None = Field(default=None, title="What you saw")
    words: Sentence = Field(default="", title="In your words")
    job: Id | None = Field(default=None, title="Job")
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("found", "enum"): "Choose what you saw."}


def _extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    box = container_by_code(session, view.code)
    material, told = material_of(session, box), known_conditions().items()
    sealed = box.state is ContainerState.SEALED
    fit = [
        found for found, rule in told
        if found not in NOT_TOLD and (not sealed or found is Found.FAILED)
        and fits(rule, material, strip=False)
    ]  # fmt: skip
    words = [(found.value, found_words(seen_as(found)).capitalize()) for found in fit]
    return {"finds": words, "sealed": sealed, "jobs": job_choices(session, actor, now)}


TELL = Act("tell", "tell.html", "Tell a keeper what you saw", "found", _extra)


@router.get("/tell")
def tell_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """What you saw."""
    return show_act(request, data, now, actor, code, TELL, filled(once=fresh(), when="about"))


@router.post("/tell")
def tell_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[TellForm], Depends(posted(TellForm))],
) -> Response:  # fmt: skip
    """Write it down; a keeper owes a look."""

    def perform(session: Session, form: TellForm, common: dict[str, Any]) -> Settled:
        asked = TellAsked(**common, found=form.found, words=form.words, job_id=form.job)
        return tell_keeper(session, actor, now, asked)

    return run_act(request, data, now, actor, code, TELL, p, perform, _said)


def _said(result: dict[str, Any]) -> str:
    shown, seen = result["container"]["shown"], found_words(result["found"])
    return f"Told of {shown}: {seen}. {result['what_to_do']}"
