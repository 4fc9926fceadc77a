"""`/waste/drums/{id}`: the story of one drum, put in, what happens to it, its hand-over, its label."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Annotated, Any, ClassVar, Literal

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.fill_drum import DrumBackAsked, StepAsked, note_drum_step, take_back_entry
from service.actions.look_at_drums import waste_record
from service.actions.settle import Settled
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, NotFound, Refused, Verdict
from service.core.waste_drums import DrumStep
from service.outreach.waste_label import label_words
from service.records.drum_codes import codes_now
from service.records.places import PlaceKind
from service.records.waste_drum_queries import seen_drum
from service.records.waste_drums import WasteDrumEntry
from service.web.access_gate import Signed
from service.web.act_view import place_choices
from service.web.chrome import flash
from service.web.deps import Data, Now, shop_zone
from service.web.drum_words import (
    CODE_COLUMNS,
    STORY_COLUMNS,
    code_rows,
    facts,
    renamed,
    story,
)
from service.web.fields import ClockText, Id, Note, Once, Sentence, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.render import page

router = APIRouter(prefix="/waste", include_in_schema=False)

Amount = Annotated[str, Field(max_length=200)]
Short = Annotated[str, Field(max_length=300)]
STEPS = [
    (DrumStep.OVER.value, "It is over the amount of a satellite area", "Three calendar days run from then."),
    (DrumStep.MOVED.value, "It was moved to the central area", "Its time there runs from that day."),
    (DrumStep.WEIGHED.value, "All that is in it was weighed or measured", "Write how much below."),
    (DrumStep.CLOSED.value, "It is full and closed", "Nothing more goes in."),
]


class PutForm(FormModel):
    """What was put in."""

    what: Short = Field(default="", title="What was put in")
    amount: Amount = Field(default="", title="How much")
    confirmation: Note = Field(default="", title="How its condition is met")
    load: Id | None = Field(default=None, title="Which load of rags")
    happened: ClockText | None = Field(default=None, title="When")
    late_reason: Short = Field(default="", title="Why it is written only now")
    once: Once


class StepForm(FormModel):
    """What happened to the drum."""

    step: Literal["over", "moved", "weighed", "closed"] = Field(title="What happened")
    all_in: Amount = Field(default="", title="All that is in it")
    stands: Id | None = Field(default=None, title="Where it stands now")
    step_note: Note = Field(default="", title="Remark")
    step_at: ClockText | None = Field(default=None, title="When")
    step_late: Short = Field(default="", title="Why it is written only now")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("step", "missing"): "Choose what happened."}


class LeaveForm(FormModel):
    """That it left."""

    receiver: Short = Field(default="", title="Who receives it")
    transporter: Short = Field(default="", title="Who carries it")
    paper: Annotated[str, Field(max_length=120)] = Field(default="", title="Number of the paper")
    mass: Amount = Field(default="", title="What it weighed")
    leave_note: Note = Field(default="", title="Remark")
    left: ClockText | None = Field(default=None, title="When it left")
    left_late: Short = Field(default="", title="Why it is written only now")
    once: Once


class BackForm(FormModel):
    reason: Sentence = Field(title="Why it is taken back")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("reason", "missing"): "Say why it is taken back."}


def _key() -> str:
    return uuid.uuid4().hex


@router.get("/drums/{drum_id}")
def show(drum_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What is known of it, its clock, its codes, all that happened, and the forms."""
    return _one(request, data, now, actor, drum_id, filled(once=_key()))


def _one(
    request: Request, data: Data, now: Now, actor: Actor, drum_id: int, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        zone = shop_zone(session)
        record = waste_record(session, book_now(session, now))
        seen = seen_drum(session, drum_id)
        judged = next((one.judged for one in record.drums if one.number == drum_id), None)
        context = {
            "p": p, "refused": refused, "id": drum_id, "name": seen.row.name, "stands": judged is not None,
            "facts": facts(seen, judged, record.today), "steps": STEPS if _keeps(actor) else STEPS[:1],
            "verdict": Verdict.of(judged.findings) if judged else None, "code_columns": CODE_COLUMNS,
            "codes": code_rows(seen, record.law), "story": story(seen, actor, zone),
            "story_columns": STORY_COLUMNS,
            "may_put": may(actor.role, Permission.DISCARD) and judged is not None,
            "open": judged is not None and seen.state.closed_on is None, "may_keep": _keeps(actor),
            "satellite": seen.state.in_satellite,
            "places": place_choices(session, tuple(PlaceKind)) if seen.state.in_satellite else [],
        }  # fmt: skip
    return page(request, "waste/drum.html", context, status, section="records")


def _keeps(actor: Actor) -> bool:
    return may(actor.role, Permission.WASTE_HAND_OVER)


def _run(
    request: Request, data: Data, now: Now, actor: Actor, drum_id: int, p: Posted[Any],
    asked: Callable[[Any, Any], StepAsked], names: Mapping[str, str], said: str,
) -> Response:  # fmt: skip
    """Write a step down from a form and show the drum again; errors stand at the fields of that form."""
    refused = None
    if p.value is not None:
        try:
            with data.writing() as session:
                step = asked(p.value, shop_zone(session))
                done: Settled = note_drum_step(session, actor, now, step)
                flash(session, request, said.format(name=done.result["name"]))
            return RedirectResponse(f"/waste/drums/{drum_id}", 303)
        except Invalid as wrong:
            wrong.errors = renamed(wrong.errors, names)
            p.take(wrong, next(iter(wrong.errors), ""))
        except Refused as error:
            refused = error.verdict
    return _one(request, data, now, actor, drum_id, p, 409 if refused else 422, refused)


def _instant(at: datetime | None, zone: Any) -> datetime | None:
    if at is None:
        return None
    try:
        return to_instant(at, zone)
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {"happened_at": wrong.sentence}, wrong.readings) from None


@router.post("/drums/{drum_id}/put-in")
def put_in(
    drum_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[PutForm], Depends(posted(PutForm))],
) -> Response:  # fmt: skip
    """Something was put in that no discard of the store tells."""

    def asked(said: PutForm, zone: Any) -> StepAsked:
        return StepAsked(
            once=said.once, drum_id=drum_id, step=DrumStep.PUT_IN, amount=said.amount, what=said.what,
            load_id=said.load, happened_at=_instant(said.happened, zone), late_reason=said.late_reason,
            confirmation=said.confirmation,
        )  # fmt: skip

    names = {"happened_at": "happened"}
    return _run(request, data, now, actor, drum_id, p, asked, names, "Put into {name}.")


@router.post("/drums/{drum_id}/steps")
def step(
    drum_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[StepForm], Depends(posted(StepForm))],
) -> Response:  # fmt: skip
    """Over its amount, moved, weighed or closed."""

    def asked(said: StepForm, zone: Any) -> StepAsked:
        return StepAsked(
            once=said.once, drum_id=drum_id, step=DrumStep(said.step), amount=said.all_in,
            place_id=said.stands, note=said.step_note, happened_at=_instant(said.step_at, zone),
            late_reason=said.step_late,
        )  # fmt: skip

    names = {"happened_at": "step_at", "late_reason": "step_late", "amount": "all_in",
             "note": "step_note", "place": "stands"}  # fmt: skip
    return _run(request, data, now, actor, drum_id, p, asked, names, "Written down of {name}.")


@router.post("/drums/{drum_id}/hand-over")
def hand_over(
    drum_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[LeaveForm], Depends(posted(LeaveForm))],
) -> Response:  # fmt: skip
    """It left; from now on it takes nothing."""

    def asked(said: LeaveForm, zone: Any) -> StepAsked:
        return StepAsked(
            once=said.once, drum_id=drum_id, step=DrumStep.HANDED_OVER, amount=said.mass,
            receiver=said.receiver, transporter=said.transporter, paper=said.paper, note=said.leave_note,
            happened_at=_instant(said.left, zone), late_reason=said.left_late,
        )  # fmt: skip

    names = {"happened_at": "left", "late_reason": "left_late", "amount": "mass", "note": "leave_note"}
    return _run(request, data, now, actor, drum_id, p, asked, names, "{name} is handed over.")


@router.get("/drums/{drum_id}/label")
def label(drum_id: Id, request: Request, data: Data, now: Now) -> Response:
    """The words that must stand on it, large, to print."""
    with data.reading() as session:
        record = waste_record(session, book_now(session, now))
        seen = seen_drum(session, drum_id)
        judged = next((one.judged for one in record.drums if one.number == drum_id), None)
    if judged is None:
        raise NotFound(f"{seen.row.name} was handed over. It needs no label any more.")
    label = label_words(seen.row, judged, record.law, codes_now(seen, record.law))
    context = {"id": drum_id, "label": label}
    return page(request, "waste/label.html", context, section="records")


@router.get("/drum-entries/{drum_entry_id}/take-back")
def ask_back(drum_entry_id: Id, request: Request, data: Data) -> Response:
    """Why it is taken back."""
    with data.reading() as session:
        return _back(request, session, drum_entry_id, filled(once=_key()))


def _back(
    request: Request, session: Session, number: int, p: Posted[Any], status: int = 200,
    refused: Verdict | None = None,
) -> Response:  # fmt: skip
    entry = session.get(WasteDrumEntry, number)
    if entry is None:
        raise NotFound(f"There is no entry number {number} of a waste drum.")
    seen = seen_drum(session, entry.drum_id)
    context = {"p": p, "refused": refused, "id": number, "drum": seen.number, "name": seen.row.name,
               "step": entry.step.value, "what": entry.what}  # fmt: skip
    return page(request, "waste/take_back.html", context, status, section="records")


@router.post("/drum-entries/{drum_entry_id}/take-back")
def back(
    drum_entry_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BackForm], Depends(posted(BackForm))],
) -> Response:  # fmt: skip
    """By an entry of its own; nothing is erased."""
    refused = None
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = DrumBackAsked(p.value.once, drum_entry_id, p.value.reason)
                done = take_back_entry(session, actor, now, asked).result
                flash(session, request, f"Taken back at {done['name']}.")
            return RedirectResponse(f"/waste/drums/{done['drum']}", 303)
        except Invalid as wrong:
            p.take(wrong, "reason")
        except Refused as error:
            refused = error.verdict
    with data.reading() as session:
        return _back(request, session, drum_entry_id, p, 409 if refused else 422, refused)
