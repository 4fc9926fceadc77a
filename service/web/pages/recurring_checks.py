"""`/recurring-checks`: what is due first, one check with its history, a sheet to sign, a new one."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, ClassVar

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field, StringConstraints
from sqlmodel import Session, col, select

from service.actions.set_checks import ChangeCheck, CheckAsked, begin_check, end_check, give_check
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.core.months import say_date
from service.core.recurring_checks import MOST_TIMES, Counted, Unit, missed_periods, standing_entries
from service.outreach.check_tables import check_rows
from service.outreach.csv_tables import written
from service.records.check_queries import entries_of, history_of, missed_of, seen_check, seen_checks
from service.records.knowledge_checks import KnownCheck, known_checks
from service.records.owners import who_is_here
from service.records.places import Place
from service.web.access_gate import Signed
from service.web.check_words import HISTORY_COLUMNS, card, facts, history_lines
from service.web.chrome import flash
from service.web.csv_answers import as_csv
from service.web.deps import Data, Now, shop_today, shop_zone
from service.web.fields import DayText, Id, Note, Once, Sentence, Version
from service.web.forms import FormModel, Posted, filled, posted
from service.web.render import day, page

router = APIRouter(prefix="/recurring-checks", include_in_schema=False)

UNITS = [
    (Unit.DAY.value, "Every day"), (Unit.WEEK.value, "Every week, Monday to Sunday"),
    (Unit.MONTH.value, "Every calendar month"), (Unit.YEAR.value, "Every calendar year"),
]  # fmt: skip
COUNTED = [
    (Counted.CALENDAR.value, "Once in each of them"),
    (
        Counted.FROM_LAST.value, "At most so many of them after the last one",
        "Never made, or nobody knows when, is due at once.",
    ),
]


class CheckForm(FormModel):
    """A check to begin; what is left empty is taken from the row of the list."""

    known: Annotated[str, Field(max_length=60)] = Field(default="", title="From the list")
    what: Annotated[str, Field(max_length=120)] = Field(default="", title="What is checked")
    look_at: Annotated[Note, StringConstraints(max_length=500)] = Field(default="", title="What to look at")
    place: Id | None = Field(default=None, title="Where")
    unit: Unit | None = Field(default=None, title="How often")
    counted: Counted | None = Field(default=None, title="How it is counted")
    times: Annotated[int, Field(ge=1, le=MOST_TIMES)] | None = Field(default=None, title="How many")
    source: Annotated[str, Field(max_length=300)] = Field(default="", title="Whose word")
    owner: Id = Field(title="Who sees to it")
    since: DayText | None = Field(default=None, title="From which day")
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {
        ("owner", "missing"): "Choose who sees to it.",
    }


class OwnerForm(FormModel):
    owner: Id = Field(title="Who sees to it")
    version: Version
    once: Once


class EndForm(FormModel):
    until: DayText | None = Field(default=None, title="Its last day")
    reason: Sentence = Field(title="Why it ends")
    version: Version
    once: Once
    sentences: ClassVar[Mapping[tuple[str, str], str]] = {("reason", "missing"): "Say why it ends."}


@router.get("")
def listing(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """What is due first; one press for what is fine."""
    with data.reading() as session:
        today = shop_today(session, now)
        seen = seen_checks(session, today)
        missed = missed_of(session, seen, today)
        cards = [
            card(one, today) | {"once": uuid.uuid4().hex, "missed": missed[one.number]} for one in seen
        ]
    context = {
        "cards": cards, "may_do": may(actor.role, Permission.DO_CHECKS),
        "may_set": may(actor.role, Permission.SET_CHECKS),
        "late": sum(one["tag"][1] in ("late", "not fine") for one in cards),
    }  # fmt: skip
    return page(request, "recurring/list.html", context, section="records")


@router.get("/sheet")
def sheet(request: Request, data: Data, now: Now) -> Response:
    """A sheet to print, fill in by hand and sign; it records nothing until it is typed in."""
    with data.reading() as session:
        today = shop_today(session, now)
        cards = [card(seen, today) for seen in seen_checks(session, today)]
    return page(request, "recurring/sheet.html", {"cards": cards, "on": day(today)}, section="records")


@router.get("/checks.csv")
def as_file(data: Data) -> Response:
    """Every entry of every check, for a spreadsheet."""
    with data.reading() as session:
        return as_csv("checks.csv", written(check_rows(session)))


@router.get("/new")
def new(
    request: Request, data: Data, now: Now, actor: Signed,
    known: Annotated[str, Query(max_length=60)] = "",
) -> Response:  # fmt: skip
    """A new check, from a row of the list or one's own."""
    row = known_checks().get(known)
    p = filled(once=uuid.uuid4().hex, owner=actor.person_id, **_from(row))
    with data.reading() as session:
        return _new_page(request, session, shop_today(session, now), p)


def _from(row: KnownCheck | None) -> dict[str, object]:
    if row is None:
        return {"unit": Unit.MONTH, "counted": Counted.CALENDAR, "times": 1}
    return {
        "known": row.key, "what": row.what, "look_at": row.look_at, "unit": row.interval.unit.value,
        "counted": row.interval.counted.value, "times": row.interval.times,
    }  # fmt: skip


@router.post("/new")
def begin(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[CheckForm], Depends(posted(CheckForm))],
) -> Response:  # fmt: skip
    """It is checked from now on."""
    said = p.value
    if said is not None:
        asked = CheckAsked(
            once=said.once, owner=said.owner, known=said.known or None, what=said.what, look_at=said.look_at,
            place_id=said.place, unit=said.unit, times=said.times, counted=said.counted, source=said.source,
            since=said.since,
        )  # fmt: skip
        try:
            with data.writing() as session:
                done = begin_check(session, actor, now, asked).result
                flash(session, request, f"{done['what']}: checked from now on.")
            return RedirectResponse(f"/recurring-checks/{done['check']}", 303)
        except Invalid as wrong:
            p.take(wrong)
    with data.reading() as session:
        return _new_page(request, session, shop_today(session, now), p, 422)


def _new_page(
    request: Request, session: Session, today: date, p: Posted[Any], status: int = 200
) -> Response:
    places = session.exec(select(Place).where(col(Place.active)).order_by(col(Place.name))).all()
    context = {
        "p": p, "known": [_known(one) for one in known_checks().values()], "units": UNITS, "counted": COUNTED,
        "places": [(one.id, one.name) for one in places], "owners": owners(session, today), "today": today,
        "picked": known_checks().get(p.text("known")),
    }  # fmt: skip
    return page(request, "recurring/new.html", context, status, section="records")


def _known(one: KnownCheck) -> dict[str, Any]:
    law = "law" if one.basis == "law" else "house policy"
    return {
        "what": {"href": f"/recurring-checks/new?known={one.key}", "words": one.what},
        "often": one.interval.words,
        "word": {"lines": [f"{law}: {one.citation}", f"{one.grade.value}. {one.note}"]},
    }  # fmt: skip


def owners(session: Session, today: date) -> list[tuple[int, str]]:
    """Who can see to a check: finishers and keepers who are here."""
    here = who_is_here(session, today).values()
    return [(one.id, one.name) for one in here if may(one.role, Permission.DO_CHECKS)]


@router.get("/{recurring_id}")
def show(recurring_id: Id, request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """One check with everything that was ever found."""
    with data.reading() as session:
        today, zone = shop_today(session, now), shop_zone(session)
        seen = seen_check(session, recurring_id, today)
        made = standing_entries(entries_of(session, [recurring_id])[recurring_id])
        missed = missed_periods(seen.plan, [one.on for one in made], today, most=60)
        context = {
            "id": recurring_id, "card": card(seen, today), "facts": facts(session, seen, today),
            "columns": HISTORY_COLUMNS, "once": uuid.uuid4().hex,
            "lines": history_lines(history_of(session, recurring_id), actor, zone, now),
            "missed": [_period(first, last) for first, last in missed],
            "may_do": may(actor.role, Permission.DO_CHECKS),
            "may_set": may(actor.role, Permission.SET_CHECKS),
        }  # fmt: skip
    return page(request, "recurring/one.html", context, section="records")


def _period(first: date, last: date) -> str:
    return say_date(first) if first == last else f"{say_date(first)} to {say_date(last)}"


@router.get("/{recurring_id}/edit")
def edit(recurring_id: Id, request: Request, data: Data, now: Now) -> Response:
    """Who sees to it, and when it ends."""
    return _edit_page(request, data, now, recurring_id, None)


@router.post("/{recurring_id}/owner")
def give(
    recurring_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[OwnerForm], Depends(posted(OwnerForm))],
) -> Response:  # fmt: skip
    """Somebody else sees to it."""
    if p.value is not None:
        said = p.value
        try:
            with data.writing() as session:
                asked = ChangeCheck(said.once, recurring_id, said.version, said.owner)
                give_check(session, actor, now, asked)
                flash(session, request, "Written down who sees to it.")
            return RedirectResponse(f"/recurring-checks/{recurring_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "owner")
    return _edit_page(request, data, now, recurring_id, p, 422)


@router.post("/{recurring_id}/end")
def end(
    recurring_id: Id, request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[EndForm], Depends(posted(EndForm))],
) -> Response:  # fmt: skip
    """It ends; its history stays."""
    if p.value is not None:
        said = p.value
        asked = ChangeCheck(said.once, recurring_id, said.version, until=said.until, reason=said.reason)
        try:
            with data.writing() as session:
                done = end_check(session, actor, now, asked).result
                flash(session, request, f"{done['what']}: ended. What was found stays in its history.")
            return RedirectResponse(f"/recurring-checks/{recurring_id}", 303)
        except Invalid as wrong:
            p.take(wrong, "reason")
    return _edit_page(request, data, now, recurring_id, p, 422)


def _edit_page(
    request: Request, data: Data, now: Now, recurring_id: int, p: Posted[Any] | None, status: int = 200
) -> Response:
    with data.reading() as session:
        today = shop_today(session, now)
        seen = seen_check(session, recurring_id, today)
        fresh = filled(owner=seen.row.owner_id, version=seen.row.version)
        context = {
            "p": p or fresh, "id": recurring_id, "name": seen.name, "owners": owners(session, today),
            "version": p.text("version") if p else seen.row.version, "today": today,
            "once": [uuid.uuid4().hex, uuid.uuid4().hex],
        }  # fmt: skip
    return page(request, "recurring/edit.html", context, status, section="records")
