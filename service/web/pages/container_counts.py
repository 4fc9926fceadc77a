"""`/containers/{code}/count`, `/lose`, `/discard`: what is really there, and what went without being used."""

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response
from pydantic import Field
from sqlmodel import Session

from service.actions.count_stock import CountAsked, CountedBy, count
from service.actions.lose_stock import LOSS_WORDS, DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.settle import Settled
from service.core.access import Actor
from service.core.ledger import DESTINATIONS, Destination
from service.records.places import PlaceKind
from service.web.access_gate import Signed
from service.web.act_forms import Act, ActForm, fresh, run_act, show_act
from service.web.act_view import ActView, job_choices, place_choices
from service.web.deps import Data, Now
from service.web.drum_words import drum_choices
from service.web.fields import Id, Note, WrittenAmount
from service.web.forms import Posted, filled, posted

router = APIRouter(prefix="/containers/{code}", include_in_schema=False)

SHARES = [
    ("full", "Full"),
    ("three quarters", "About three quarters"),
    ("two thirds", "About two thirds"),
    ("half", "About half"),
    ("a third", "About a third"),
    ("a quarter", "About a quarter"),
    ("a tenth", "Nearly empty, about a tenth"),
]
BY = [
    (CountedBy.AMOUNT.value, "I counted or measured it"),
    (CountedBy.WEIGHT.value, "I weigh it as it stands"),
    (CountedBy.SHARE.value, "I judge it by eye"),
]


class CountForm(ActForm):
    by: CountedBy = CountedBy.AMOUNT
    amount: WrittenAmount | None = Field(default=None, title="What is there")
    gross: WrittenAmount | None = Field(default=None, title="Weight with the container")
    tare: WrittenAmount | None = Field(default=None, title="Weight of the empty container")
    share: WrittenAmount | None = Field(default=None, title="How full it looks")
    of_last: bool = False
    more: bool = False
    note: Note = ""


def _count_extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    return {"by": BY, "shares": SHARES}


COUNT = Act("count", "count.html", "Count what is there", extra=_count_extra)


@router.get("/count")
def count_page(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    by: Annotated[CountedBy, Query()] = CountedBy.AMOUNT,
) -> Response:  # fmt: skip
    """What is there, never the difference."""
    return show_act(request, data, now, actor, code, COUNT, filled(once=fresh(), by=by.value, when="about"))


@router.post("/count")
def count_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[CountForm], Depends(posted(CountForm))],
) -> Response:  # fmt: skip
    """Book the count."""

    def perform(session: Session, form: CountForm, common: dict[str, Any]) -> Settled:
        asked = CountAsked(
            **common, by=form.by, amount=form.amount or "", gross=form.gross or "", tare=form.tare or "",
            share=form.share or "", of_last=form.of_last, reason=form.note,
            more_than_book=form.more,
        )  # fmt: skip
        return count(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        box = result["container"]
        return f"Counted {box['shown']}: {box['words']}."

    return run_act(request, data, now, actor, code, COUNT, p, perform, said)


class LossForm(ActForm):
    loss: LossKind = Field(title="What became of it")
    everything: bool = False
    amount: WrittenAmount | None = Field(default=None, title="How much")
    job: Id | None = Field(default=None, title="Job")
    drum: Id | None = Field(default=None, title="Which waste drum")
    note: Note = ""
    more: bool = False
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("loss", "missing"): "Choose what became of it.",
        ("loss", "enum"): "Choose what became of it.",
    }


def _loss_extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    kinds = [(kind.value, words[:1].upper() + words[1:]) for kind, words in LOSS_WORDS.items()]
    jobs = job_choices(session, actor, now)
    return {"kinds": kinds, "jobs": jobs, "waste_drums": drum_choices(session)}


LOSE = Act("lose", "lose.html", "Book a loss", extra=_loss_extra)


@router.get("/lose")
def lose_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """What became of it, and how much."""
    return show_act(request, data, now, actor, code, LOSE, filled(once=fresh(), when="done"))


@router.post("/lose")
def lose_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[LossForm], Depends(posted(LossForm))],
) -> Response:  # fmt: skip
    """Book the loss."""
    if p.value is not None and p.value.amount is None and not p.value.everything:
        p.refuse("amount", "Enter how much it was, or say that it was all of it.")

    def perform(session: Session, form: LossForm, common: dict[str, Any]) -> Settled:
        asked = LossAsked(
            **common, loss=form.loss, amount="" if form.everything else form.amount or "", note=form.note,
            job_id=form.job, more_than_book=form.more, drum_id=form.drum,
        )  # fmt: skip
        return lose(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        box = result["container"]
        return f"Booked a loss of {result['lost_words']} from {box['shown']}. {box['words']} in it now."

    return run_act(request, data, now, actor, code, LOSE, p, perform, said)


class DiscardForm(ActForm):
    destination: Destination = Field(title="Where it goes")
    everything: bool = False
    amount: WrittenAmount | None = Field(default=None, title="How much")
    place: Id | None = Field(default=None, title="Which drum or can")
    drum: Id | None = Field(default=None, title="Which waste drum")
    confirmation: Note = Field(default="", title="How its condition is met")
    note: Note = ""
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("destination", "missing"): "Choose where it goes. Drains and evaporation are no way out.",
        ("destination", "enum"): "Choose where it goes. Drains and evaporation are no way out.",
    }


def _discard_extra(session: Session, actor: Actor, now: datetime, view: ActView) -> Mapping[str, Any]:
    where = [(one.value, words[:1].upper() + words[1:]) for one, words in DESTINATIONS.items()]
    cans = place_choices(session, (PlaceKind.WASTE_DRUM, PlaceKind.RAG_CAN))
    return {"where": where, "drums": cans, "waste_drums": drum_choices(session)}


DISCARD = Act("discard", "discard.html", "Throw it away", extra=_discard_extra)


@router.get("/discard")
def discard_page(request: Request, data: Data, now: Now, actor: Signed, code: str) -> Response:
    """Where it goes, and whether all of it."""
    return show_act(request, data, now, actor, code, DISCARD, filled(once=fresh(), when="about"))


@router.post("/discard")
def discard_it(
    request: Request, data: Data, now: Now, actor: Signed, code: str,
    p: Annotated[Posted[DiscardForm], Depends(posted(DiscardForm))],
) -> Response:  # fmt: skip
    """Book the discard."""
    if p.value is not None and p.value.amount is None and not p.value.everything:
        p.refuse("amount", "Enter how much, or say that all of it goes.")

    def perform(session: Session, form: DiscardForm, common: dict[str, Any]) -> Settled:
        asked = DiscardAsked(
            **common, destination=form.destination, amount="" if form.everything else form.amount or "",
            place_id=form.place, note=form.note, drum_id=form.drum, confirmation=form.confirmation,
        )  # fmt: skip
        return discard(session, actor, now, asked)

    def said(result: dict[str, Any]) -> str:
        box = result["container"]
        gone = " The container is gone from the store." if box["state"] == "gone" else ""
        return f"Discarded {result['discarded_words']} from {box['shown']}, {result['where']}.{gone}"

    return run_act(request, data, now, actor, code, DISCARD, p, perform, said)
