"""`/containers/{code}/open`, `/move`, `/decant`, and the short acts that need only a word."""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions import container_events as events
from service.actions.decant import DecantAsked, decant
from service.actions.settle import Settled
from service.core.access import Actor
from service.web.access_gate import Signed
from service.web.act_forms import Act, ActForm, BreaksSeal, fresh, run_act, show_act
from service.web.act_view import ActView, job_choices, place_choices
from service.web.deps import Data, Now, Secrets
from service.web.fields import Code, Id, Name, Note, WrittenAmount
from service.web.forms import Posted, filled, posted
from service.web.render import day

router = APIRouter(prefix="/containers/{code}", include_in_schema=False)


class OpenForm(BreaksSeal):
    found_out: bool = False


OPEN = Act("open", "open.html", "Open it", "opened_on")


@router.get("/open")
def open_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """The day of the first opening is asked once."""
    p = filled(once=fresh(), when="about", opening="today")
    return show_act(request, data, now, actor, code, OPEN, p)


@router.post("/open")
def open_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[OpenForm], Depends(posted(OpenForm))],
) -> Response:  # fmt: skip
    """Book the opening, or the day it was found out."""
    if p.value is not None:
        p.value.judge_opening(p, p.value.opening == "day" or p.value.found_out)

    def perform(session: Session, form: OpenForm, common: dict[str, Any]) -> Settled:
        known = form.opened_on if form.opening == "day" or form.found_out else None
        asked = events.OpenAsked(
            **common, opened_on=known, not_known=form.opening == "not-known", found_out=form.found_out
        )
        return events.open_container(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        shown, on = result["container"]["shown"], result["opened_on"]
        if not result["first"]:
            return f"Opened {shown} again."
        words = day(datetime.fromisoformat(on).date()) if on else "on a day nobody knows"
        return f"{shown} was first opened {'on ' if on else ''}{words}."

    return run_act(request, data, now, actor, code, OPEN, p, perform, said)


class MoveForm(ActForm):
    place: Id | None = Field(default=None, title="Where to")
    handed_to: Name | None = Field(default=None, title="Handed to")
    note: Note = ""


def _places(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    return {"places": [one for one in place_choices(session) if one[0] != view.place_id]}


MOVE = Act("move", "move.html", "Move it", "place", _places)


@router.get("/move")
def move_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """Where to."""
    return show_act(request, data, now, actor, code, MOVE, filled(once=fresh(), when="about"))


@router.post("/move")
def move_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[MoveForm], Depends(posted(MoveForm))],
) -> Response:  # fmt: skip
    """Book the move."""

    def perform(session: Session, form: MoveForm, common: dict[str, Any]) -> Settled:
        asked = events.MoveAsked(
            **common, place_id=form.place, handed_to=form.handed_to or "", note=form.note
        )
        return events.move(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        shown = result["container"]["shown"]
        if result["place"] is None:
            return f"Handed {shown} to {result['handed_to']}."
        return f"Moved {shown} to {result['place']}."

    return run_act(request, data, now, actor, code, MOVE, p, perform, said)


class DecantForm(BreaksSeal):
    everything: bool = False
    amount: WrittenAmount | None = Field(default=None, title="How much")
    into: Code | None = Field(default=None, title="Code of the container it goes into")
    capacity: WrittenAmount | None = Field(default=None, title="What the new container holds")
    place: Id | None = Field(default=None, title="Where the new container goes")
    lost: WrittenAmount | None = Field(default=None, title="Lost on the way")
    lost_note: Note = ""
    looked: bool = False
    more: bool = False
    job: Id | None = Field(default=None, title="Job")


def _decant_extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    return {"places": place_choices(session), "jobs": job_choices(session, actor, now)}


DECANT = Act("decant", "decant.html", "Decant it", extra=_decant_extra)


@router.get("/decant")
def decant_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """How much, into what."""
    p = filled(once=fresh(), when="about", opening="today")
    return show_act(request, data, now, actor, code, DECANT, p)


@router.post("/decant")
def decant_it(
    request: Request, data: Data, now: Now, actor: Signed, secrets: Secrets, code: str,
    p: Annotated[Posted[DecantForm], Depends(posted(DecantForm))],
) -> Response:  # fmt: skip
    """Book both sides."""
    if p.value is not None and p.value.amount is None and not p.value.everything:
        p.refuse("amount", "Enter how much you pour, or say that it is all of it.")
    if p.value is not None:
        p.value.judge_opening(p)

    def perform(session: Session, form: DecantForm, common: dict[str, Any]) -> Settled:
        asked = DecantAsked(
            **common, amount="" if form.everything else form.amount or "", into=form.into or "",
            capacity=form.capacity or "", place_id=form.place, lost=form.lost or "",
            lost_note=form.lost_note, looked=form.looked, more_than_book=form.more, job_id=form.job,
            opened_on=form.opened_on if form.opening == "day" else None,
            opening_not_known=form.opening == "not-known",
        )  # fmt: skip
        return decant(session, actor, now, asked, secrets)

    def said(result: dict[str, Any]) -> str:
        into = result["into"]["shown"]
        label = f" Write {into} on the new container, or print its label." if result["new_container"] else ""
        size = "all of it" if result["poured"] is None else result["poured_words"]
        return f"Poured {size} from {result['container']['shown']} into {into}.{label}"

    return run_act(request, data, now, actor, code, DECANT, p, perform, said)


class NotedForm(ActForm):
    note: Note = ""


Noted = Annotated[Posted[NotedForm], Depends(posted(NotedForm))]
_Done = Callable[[Session, Actor, datetime, events.NotedAsked], Settled]

CLOSE = Act("close", "noted.html", "The lid is on again", "note")
EMPTIED = Act("emptied", "noted.html", "It is empty", "note")
VAPOUR_FREE = Act("vapour-free", "noted.html", "No vapour left in it", "note")
RELABEL = Act("relabel", "noted.html", "It got a new label", "note")


def _noted_page(request: Request, data: Data, now: Now, actor: Signed, code: str, act: Act) -> Response:
    return show_act(request, data, now, actor, code, act, filled(once=fresh(), when="about"))


def _note(
    request: Request, data: Data, now: Now, actor: Actor, code: str, act: Act, p: Noted, do: _Done, words: str
) -> Response:
    def perform(session: Session, form: NotedForm, common: dict[str, Any]) -> Settled:
        return do(session, actor, now, events.NotedAsked(**common, note=form.note))

    return run_act(
        request, data, now, actor, code, act, p, perform, lambda r: f"{r['container']['shown']}: {words}."
    )


@router.get("/close")
def close_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    return _noted_page(request, data, now, actor, code, CLOSE)


@router.post("/close")
def close_it(request: Request, data: Data, now: Now, actor: Signed, code: str, p: Noted) -> Response:
    return _note(request, data, now, actor, code, CLOSE, p, events.close_container, "the lid is on again")


@router.get("/emptied")
def emptied_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    return _noted_page(request, data, now, actor, code, EMPTIED)


@router.post("/emptied")
def emptied_it(request: Request, data: Data, now: Now, actor: Signed, code: str, p: Noted) -> Response:
    return _note(request, data, now, actor, code, EMPTIED, p, events.call_empty, "it is empty")


@router.get("/vapour-free")
def vapour_free_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    return _noted_page(request, data, now, actor, code, VAPOUR_FREE)


@router.post("/vapour-free")
def vapour_free_it(request: Request, data: Data, now: Now, actor: Signed, code: str, p: Noted) -> Response:
    words = "no vapour left in it"
    return _note(request, data, now, actor, code, VAPOUR_FREE, p, events.vapour_free, words)


@router.get("/relabel")
def relabel_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    return _noted_page(request, data, now, actor, code, RELABEL)


@router.post("/relabel")
def relabel_it(request: Request, data: Data, now: Now, actor: Signed, code: str, p: Noted) -> Response:
    return _note(request, data, now, actor, code, RELABEL, p, events.relabel, "it got a new label")
