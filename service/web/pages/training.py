"""`/training`: who has had what, who still lacks which group, and one training for several people."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, ClassVar
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field
from sqlmodel import Session

from service.actions.do_check import TakeBackAsked
from service.actions.train import TrainedAsked, take_back_training, train
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid, NotFound
from service.core.training import GROUP_WORDS, SOURCE, Group
from service.outreach.check_tables import training_rows
from service.outreach.csv_tables import written
from service.records.checks import Training
from service.records.people import Person
from service.records.training_queries import TrainingSeen, all_training, who_lacks
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import DayText, Id, Name, Note, Once, Sentence
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import day, page

router = APIRouter(prefix="/training", include_in_schema=False)

_COLUMNS = [
    {"key": "who", "label": "Who"}, {"key": "about", "label": "About"},
    {"key": "on", "label": "Day", "whole": True},
    {"key": "by", "label": "Taught by"},
]  # fmt: skip
_LACKS = [{"key": "who", "label": "Who"}, {"key": "lacks", "label": "Still lacks"}]
_GROUPS = [(group.value, words[:1].upper() + words[1:]) for group, words in GROUP_WORDS.items()]


class TrainedForm(FormModel):
    """A training that was held."""

    people: list[Id] = Field(default=[], title="Who was taught")
    groups: list[Group] = Field(default=[], title="About what")
    topic: Sentence = Field(title="What was taught")
    taught_by: Name = Field(title="Who taught")
    on: DayText | None = Field(default=None, title="Day")
    note: Note = Field(default="", title="Note")
    late_reason: Sentence | None = Field(default=None, title="Why it is written only now")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("topic", "missing"): "Write what was taught.",
        ("taught_by", "missing"): "Write who taught.",
    }


class BackForm(FormModel):
    reason: Sentence = Field(title="Why it is taken back")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("reason", "missing"): "Say why it is taken back."}


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed, person: Id | None = None) -> Response:
    """Who lacks what first, then every entry, the newest day first."""
    with data.reading() as session:
        zone, today = shop_zone(session), shop_today(session, now)
        if person is not None and session.get(Person, person) is None:
            raise NotFound("Nobody in the book of people has this number.")
        context = {
            "lacks": _lacking(session, today, zone), "lack_columns": _LACKS, "columns": _COLUMNS,
            "lines": [_line(one, actor, today, zone) for one in all_training(session, person)],
            "may_train": may(actor.role, Permission.TRAIN), "source": SOURCE, "person": person,
        }  # fmt: skip
    return page(request, "training/list.html", context, section="records")


def _lacking(session: Session, today: date, zone: ZoneInfo) -> list[dict[str, Any]]:
    """One row for each person who lacks something; what came in since their last training beside it."""
    here, found = who_lacks(session, today, zone)
    lines: dict[int, list[str]] = {}
    for need in found:
        words = GROUP_WORDS[need.group]
        if need.last is not None:
            words = f"{words}: taught on {day(need.last)}; since then came {need.newer}. Is its hazard new?"
        lines.setdefault(need.person, []).append(words)
    return [
        {
            "who": {
                "href": f"/training?person={number}",
                "words": f"{here[number].name}, {here[number].role}",
            },
            "lacks": {"lines": many},
        }
        for number, many in lines.items()
    ]


def _line(one: TrainingSeen, actor: Actor, today: date, zone: ZoneInfo) -> dict[str, Any]:
    row = one.row
    said: list[Any] = [GROUP_WORDS[row.material_group], row.topic]
    if row.note:
        said.append(row.note)
    if row.late:
        said.append(f"Late entry: {row.late_reason}")
    if row.reverses_id is not None:
        said.append(f"This takes entry {row.reverses_id} back.")
    elif one.gone:
        said.append("Taken back later.")
    elif may(actor.role, Permission.TRAIN) and (
        may(actor.role, Permission.REVERSE_ANY)
        or (row.recorded_by == actor.person_id and row.recorded_at.astimezone(zone).date() == today)
    ):
        said.append({"href": f"/training/{row.id}/take-back", "words": "Take it back"})
    return {
        "who": {"lines": [one.person, f"entry {row.id}"]}, "about": {"lines": said}, "on": day(row.on_day),
        "by": {"lines": [row.taught_by, f"written down by {one.recorded_by}"]},
        "_class": "struck" if one.gone or row.reverses_id is not None else "",
    }  # fmt: skip


@router.get("/training.csv")
def as_file(data: Data) -> Response:
    """Every entry, for a spreadsheet."""
    with data.reading() as session:
        return as_csv("training.csv", written(training_rows(session)))


@router.get("/new")
def new(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """A training that was held."""
    return _new_page(request, data, now, filled(once=uuid.uuid4().hex, taught_by=actor.name))


@router.post("/new")
def write(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[TrainedForm], Depends(posted(TrainedForm))],
) -> Response:  # fmt: skip
    """One entry for each person and group."""
    said = p.value
    if said is not None:
        asked = TrainedAsked(
            once=said.once, people=tuple(said.people), groups=tuple(said.groups), topic=said.topic,
            taught_by=said.taught_by, on=said.on, note=said.note, late_reason=said.late_reason or "",
        )  # fmt: skip
        try:
            with data.writing() as session:
                done = train(session, actor, now, asked).result
                many = "person" if done["people"] == 1 else "people"
                flash(session, request, f"Written down for {done['people']} {many}.")
            return RedirectResponse("/training", 303)
        except Invalid as wrong:
            p.take(wrong, "topic")
    return _new_page(request, data, now, p, 422)


def _new_page(request: Request, data: Data, now: Now, p: Posted[Any], status: int = 200) -> Response:
    with data.reading() as session:
        today = shop_today(session, now)
        here, _ = who_lacks(session, today, shop_zone(session))
        people = [(number, one.name, one.role.value) for number, one in here.items()]
    context = {"p": p, "people": people, "groups": _GROUPS, "today": today}
    return page(request, "training/new.html", context, status, section="records")


@router.get("/{training_id}/take-back")
def ask_back(training_id: Id, request: Request, data: Data) -> Response:
    """Why it is taken back."""
    return _back_page(request, data, training_id, filled(once=uuid.uuid4().hex))


@router.post("/{training_id}/take-back")
def take_back(
    training_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[BackForm], Depends(posted(BackForm))],
) -> Response:  # fmt: skip
    """An entry of its own that takes it back; nothing is erased."""
    if p.value is not None:
        try:
            with data.writing() as session:
                asked = TakeBackAsked(p.value.once, training_id, p.value.reason)
                take_back_training(session, actor, now, asked)
                flash(session, request, "The entry was taken back. Both stand in the book.")
            return RedirectResponse("/training", 303)
        except Invalid as wrong:
            p.take(wrong, "reason")
    return _back_page(request, data, training_id, p, 422)


def _back_page(request: Request, data: Data, training_id: int, p: Posted[Any], status: int = 200) -> Response:
    with data.reading() as session:
        entry = session.get(Training, training_id)
        if entry is None:
            raise NotFound(f"There is no training entry number {training_id}.")
        who = session.get_one(Person, entry.person_id).name
        said = f"{who}: {GROUP_WORDS[entry.material_group]}, {entry.topic}"
        context = {"p": p, "id": training_id, "said": said}
    return page(request, "training/take_back.html", context, status, section="records")
