"""`/containers/{code}/draw` and `/return`: out of a container and back into it."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.draw_stock import DrawAsked, Measured, ReturnAsked, draw, put_back
from service.actions.settle import Settled
from service.core.access import Actor
from service.web.access_gate import Signed
from service.web.act_forms import Act, ActForm, BreaksSeal, fresh, run_act, show_act
from service.web.act_view import ActView, job_choices
from service.web.deps import Data, Now
from service.web.fields import Id, Note, WrittenAmount
from service.web.forms import Posted, filled, posted

router = APIRouter(prefix="/containers/{code}", include_in_schema=False)

HOW = [
    (Measured.AMOUNT.value, "I say how much"),
    (Measured.CONTAINER.value, "I weigh the container before and after"),
    (Measured.POT.value, "I weigh the pot before and after"),
    (Measured.GROSS.value, "I weigh the container now"),
]
"""How a draw may be measured, in words."""


class DrawForm(BreaksSeal):
    how: Measured = Measured.AMOUNT
    amount: WrittenAmount | None = Field(default=None, title="How much")
    before: WrittenAmount | None = Field(default=None, title="Weight before")
    after: WrittenAmount | None = Field(default=None, title="Weight after")
    gross: WrittenAmount | None = Field(default=None, title="Weight now")
    job: Id | None = Field(default=None, title="Job")
    looked: bool = False
    more: bool = False


def _jobs(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    return {"jobs": job_choices(session, actor, now), "how": HOW}


DRAW = Act("draw", "draw.html", "Draw from it", extra=_jobs)
RETURN = Act("return", "return.html", "Put some back", extra=_jobs)


@router.get("/draw")
def draw_page(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    how: Annotated[Measured, Query()] = Measured.AMOUNT,
) -> Response:  # fmt: skip
    """How much, for which job, about to or already done."""
    return show_act(request, data, now, actor, code, DRAW, _first(data, now, actor, how))


def _first(data: Data, now: datetime, actor: Actor, how: Measured) -> Posted[Any]:
    with data.reading() as session:
        jobs = job_choices(session, actor, now)
    job = jobs[0][0] if len(jobs) == 1 else None
    return filled(once=fresh(), how=how.value, when="about", opening="today", job=job)


@router.post("/draw")
def draw_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[DrawForm], Depends(posted(DrawForm))],
) -> Response:  # fmt: skip
    """Book the draw."""
    if p.value is not None:
        p.value.judge_opening(p)

    def perform(session: Session, form: DrawForm, common: dict[str, Any]) -> Settled:
        asked = DrawAsked(
            **common, how=form.how, amount=form.amount or "", before=form.before or "",
            after=form.after or "", gross=form.gross or "", job_id=form.job, looked=form.looked,
            more_than_book=form.more, opened_on=form.opened_on if form.opening == "day" else None,
            opening_not_known=form.opening == "not-known",
        )  # fmt: skip
        return draw(session, actor, now, asked)

    return run_act(request, data, now, actor, code, DRAW, p, perform, _drew)


def _drew(result: dict[str, Any]) -> str:
    box = result["container"]
    if result["drawn"] is None:
        return f"Drew from {box['shown']}; how much is not known. {box['words']} left."
    left = f"{box['words']} left" if box["amount"] else "Nothing left"
    if box["amount"] is None:
        left = "How much is left is not known"
    return f"Drew {result['drawn_words']} from {box['shown']}. {left}."


class ReturnForm(ActForm):
    how: Measured = Measured.AMOUNT
    amount: WrittenAmount | None = Field(default=None, title="How much")
    before: WrittenAmount | None = Field(default=None, title="Weight before")
    after: WrittenAmount | None = Field(default=None, title="Weight after")
    job: Id | None = Field(default=None, title="Job")
    batch: Id | None = Field(default=None, title="Batch")
    note: Note = ""


@router.get("/return")
def return_page(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    how: Annotated[Measured, Query()] = Measured.AMOUNT, batch: Annotated[Id | None, Query()] = None,
) -> Response:  # fmt: skip
    """How much goes back; ``batch``: what it was drawn for and did not go into."""
    p = _first(data, now, actor, how)
    if batch is not None:
        p.raw["batch"], p.raw["job"] = str(batch), ""
    return show_act(request, data, now, actor, code, RETURN, p)


@router.post("/return")
def return_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[ReturnForm], Depends(posted(ReturnForm))],
) -> Response:  # fmt: skip
    """Book the return."""

    def perform(session: Session, form: ReturnForm, common: dict[str, Any]) -> Settled:
        asked = ReturnAsked(
            **common, how=form.how, amount=form.amount or "", before=form.before or "",
            after=form.after or "", job_id=form.job, batch_id=form.batch, note=form.note,
        )  # fmt: skip
        return put_back(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        box = result["container"]
        return f"Put {result['returned_words']} back into {box['shown']}. {box['words']} in it now."

    return run_act(request, data, now, actor, code, RETURN, p, perform, said)
