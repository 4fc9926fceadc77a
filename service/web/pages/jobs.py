"""`/jobs`: open a job, see one, name more people, close it with its short list."""

import re
import uuid
from datetime import datetime, time, timedelta
from typing import Annotated, Any, ClassVar, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import AfterValidator, Field, StringConstraints
from sqlmodel import Session, col, select

from service.actions.leave_job import take_out
from service.actions.run_job import JobAsked, add_people, close_job, job_to_see, open_job, short_list
from service.core.access import Actor, Permission, may
from service.core.findings import Invalid
from service.core.jobs import shift_end
from service.records.job_queries import (
    closed_jobs,
    jobs_of,
    open_jobs,
    people_of,
    shift_hours,
)
from service.records.jobs import Job, JobKind
from service.records.people import Person
from service.records.places import Place
from service.records.rag_queries import loads_of_job
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.closing_rags import into_the_drum
from service.web.deps import Data, Now, shop_zone
from service.web.fields import Id, Name, Note, Once, PageNumber, Sentence, to_instant
from service.web.forms import FormModel, Posted, filled, posted
from service.web.job_lines import BATCH_STATES, DRAW_COLUMNS, batches, draws, rests_open, taken_out
from service.web.rag_notice import book_now
from service.web.rag_words import shown
from service.web.render import instant, page
from service.web.text_guard import sentence
from service.web.who_can import people_who

router = APIRouter(prefix="/jobs", include_in_schema=False)

PER_PAGE = 30
KINDS = [
    (JobKind.SHOP_WORK.value, "Shop work", "Mixing, finishing, mending in the shop"),
    (JobKind.CLASS.value, "Class", "People learn; students draw by their own names"),
    (JobKind.SAMPLE.value, "Sample", "A colour or finish is tried out"),
    (JobKind.CUSTOMER_SITE.value, "At a customer's", "Touch-up or finishing away from the shop"),
]
KIND_WORDS = {value: words for value, words, _ in KINDS}


def _wall_time(text: str) -> str:
    if re.fullmatch(r"([01]?\d|2[0-3])[:.][0-5]\d", text.strip(), re.ASCII) is None:
        raise sentence("Enter the time between 00:00 and 23:59, like 16:30.")
    return text.strip().replace(".", ":")


WallTime = Annotated[str, StringConstraints(max_length=10), AfterValidator(_wall_time)]


class JobForm(FormModel):
    name: Name = Field(title="Name of the job")
    kind: JobKind = Field(title="What kind of work")
    place: Id | None = Field(default=None, title="Where")
    people: list[Id] = Field(default=[], title="Who is in it")
    ends: Literal["shift", "at"] = Field(default="shift", title="When does it end")
    at: WallTime | None = Field(default=None, title="The time it ends")
    note: Note = Field(default="", title="Remark")
    once: Once
    sentences: ClassVar = {("name", "missing"): "Give the job a name, such as Evening class."}


@router.get("")
def listing(
    request: Request, data: Data, now: Now, actor: Signed,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
) -> Response:  # fmt: skip
    """Running jobs, jobs past their end, closed ones; a student sees the jobs they are in."""
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session).key
        everything = may(actor.role, Permission.SEE_STORE)
        mine = jobs_of(session, actor.person_id)
        open_now = open_jobs(session) if everything else [job for job in mine if job.closed_at is None]
        closed = (
            closed_jobs(session, PER_PAGE + 1, (number - 1) * PER_PAGE)
            if everything
            else [job for job in mine if job.closed_at is not None]
        )
        context = {
            "running": [_card(session, job, at, zone) for job in open_now if job.ends_by > at],
            "past": [_card(session, job, at, zone) for job in open_now if job.ends_by <= at],
            "closed": [(job.id, job.name, instant(job.closed_at, zone)) for job in closed[:PER_PAGE]],
            "may_open": may(actor.role, Permission.START_JOB),
            "may_close": may(actor.role, Permission.CLOSE_JOB),
            "number": number, "more": len(closed) > PER_PAGE,
        }  # fmt: skip
    return page(request, "jobs/list.html", context, section="jobs")


def _card(session: Session, job: Job, at: datetime, zone: str) -> dict[str, Any]:
    leader = session.get(Person, job.leader_id)
    place = session.get(Place, job.place_id) if job.place_id else None
    past = job.ends_by <= at
    return {
        "id": job.id, "name": job.name, "kind": KIND_WORDS[job.kind.value],
        "leader": leader.name if leader else "", "place": place.name if place else "",
        "from": instant(job.started_at, zone), "until": instant(job.ends_by, zone), "past": past,
    }  # fmt: skip


@router.get("/new")
def new(request: Request, data: Data, now: Now, actor: Signed) -> Response:
    """Open a job."""
    p = filled(once=uuid.uuid4().hex, kind="shop-work", ends="shift", people=[actor.person_id])
    return _new(request, data, now, p)


def _new(request: Request, data: Data, now: datetime, p: Posted[Any], status: int = 200) -> Response:
    with data.reading() as session:
        zone = shop_zone(session)
        shift = shift_end(now, shift_hours(session), zone)
        in_use = select(Place).where(col(Place.active).is_(True)).order_by(col(Place.name))
        places = session.exec(in_use).all()
        context = {
            "p": p, "kinds": KINDS, "people": people_who(session, Permission.DRAW),
            "places": [(place.id, place.name) for place in places],
            "ends": [
                (
                    "shift",
                    f"When the shift ends, {shift.astimezone(zone):%H:%M}" if shift else "By 24:00 today",
                    "Rags are owed by then at the latest",
                ),
                ("at", "At the time below", ""),
            ],
        }  # fmt: skip
    return page(request, "jobs/new.html", context, status, section="jobs")


@router.post("/new")
def opened(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[JobForm], Depends(posted(JobForm))],
) -> Response:  # fmt: skip
    """Open it; who opens it leads it."""
    if p.value is not None and p.value.ends == "at" and p.value.at is None:
        p.refuse("at", "Enter the time it ends, like 16:30.")
    if p.value is None:
        return _new(request, data, now, p, 422)
    try:
        with data.writing() as session:
            zone = shop_zone(session)
            asked = JobAsked(
                once=p.value.once, name=p.value.name, kind=p.value.kind, place_id=p.value.place,
                people=tuple(p.value.people), ends_at=_ends(session, p.value, now, zone), note=p.value.note,
            )  # fmt: skip
            settled = open_job(session, actor, now, asked)
            ends = datetime.fromisoformat(str(settled.result["ends_by"]))
            flash(session, request, f"Opened {asked.name}. It ends at {ends.astimezone(zone):%H:%M}.")
            return RedirectResponse(f"/jobs/{settled.result['job']}", 303)
    except Invalid as error:
        for name, field in (("ends_at", "at"), ("place_id", "place")):
            if name in error.errors:
                error.errors[field] = error.errors.pop(name)
        p.take(error, "name")
        return _new(request, data, now, p, 422)


def _ends(session: Session, said: JobForm, now: datetime, zone: ZoneInfo) -> datetime | None:
    """The instant of a wall-clock end: today, or after midnight inside a shift that runs over it.

    A time of this morning typed by a slip would else count as tomorrow's and be cut to 24:00: a later end for
    the rags than anybody asked for.

    Raises:
        Invalid: the time has passed today, and no shift that runs now lasts until then.
    """
    if said.ends != "at" or said.at is None:
        return None
    hour, minute = (int(part) for part in said.at.split(":"))
    local = now.astimezone(zone)
    today = time(hour, minute) > local.time()
    try:
        end = to_instant(datetime.combine(local.date(), time(hour, minute)), zone)
        if not today:
            end = to_instant(datetime.combine(local.date() + timedelta(days=1), time(hour, minute)), zone)
    except Invalid as error:
        raise Invalid(error.sentence, {"at": error.sentence}) from None
    shift = shift_end(now, shift_hours(session), zone)
    midnight = (hour, minute) == (0, 0)
    if not today and not midnight and (shift is None or end > shift):
        words = f"{said.at} has passed today. Give a time still to come."
        raise Invalid(words, {"at": words})
    return end


@router.get("/{job_id}")
def one(request: Request, data: Data, now: Now, actor: Signed, job_id: Id) -> Response:
    """One job: its people, its rags, what was drawn, its batches."""
    return _one(request, data, now, actor, job_id, filled())


def _one(
    request: Request, data: Data, now: datetime, actor: Actor, job_id: int, p: Posted[Any], status: int = 200,
    leave: Posted[Any] | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session).key
        job = job_to_see(session, actor, job_id)
        people = people_of(session, job)
        inside = {person.id for person in people}
        leads = actor.person_id == job.leader_id or may(actor.role, Permission.PEOPLE)
        may_lead = leads and may(actor.role, Permission.START_JOB) and job.closed_at is None
        workers = people_who(session, Permission.DRAW) if may_lead else []
        context = {
            "job": _card(session, job, at, zone), "p": p, "note": job.note, "close_note": job.close_note,
            "closed": instant(job.closed_at, zone) if job.closed_at else "",
            "people": [person.name for person in people],
            "others": [row for row in workers if row[0] not in inside],
            "may_lead": may_lead, "leave": leave or filled(),
            "may_leave": [(one.id, one.name) for one in people[1:]] if may_lead else [],
            "may_hand": may(actor.role, Permission.HAND_IN_RAGS),
            "may_close": leads and may(actor.role, Permission.CLOSE_JOB) and not job.closed_at,
            "loads": [shown(seen, zone) for seen in loads_of_job(session, job_id, at)],
            "draws": draws(session, job_id, zone), "columns": DRAW_COLUMNS,
            "batches": batches(session, job_id), "taken_out": taken_out(session, job_id, zone),
            "rests": rests_open(session, job_id), "no_place": job.place_id is None and job.closed_at is None,
            "may_make": may(actor.role, Permission.BATCHES),
        }  # fmt: skip
    return page(request, "jobs/one.html", context, status, section="jobs", scan=not context["closed"])


class PeopleForm(FormModel):
    people: list[Id] = Field(default=[], title="Who else is in it")


@router.post("/{job_id}/people")
def add(
    request: Request, data: Data, now: Now, actor: Signed, job_id: Id,
    p: Annotated[Posted[PeopleForm], Depends(posted(PeopleForm))],
) -> Response:  # fmt: skip
    """Name more people."""
    if p.value is not None and not p.value.people:
        p.refuse("people", "Choose somebody.")
    if p.value is not None:
        try:
            with data.writing() as session:
                job = add_people(session, actor, now, job_id, p.value.people)
                count = len(set(p.value.people))
                who = "1 person" if count == 1 else f"{count} people"
                flash(session, request, f"Added {who} to {job.name}.")
                return RedirectResponse(f"/jobs/{job_id}", 303)
        except Invalid as error:
            p.take(error, "people")
    return _one(request, data, now, actor, job_id, p, 422)


class LeaveForm(FormModel):
    person: Id = Field(title="Who is taken out")
    reason: Sentence = Field(title="Why")


@router.post("/{job_id}/leave")
def leave(
    request: Request, data: Data, now: Now, actor: Signed, job_id: Id,
    p: Annotated[Posted[LeaveForm], Depends(posted(LeaveForm))],
) -> Response:  # fmt: skip
    """Somebody was named by mistake."""
    if p.value is not None:
        try:
            with data.writing() as session:
                gone = take_out(session, actor, now, job_id, p.value.person, p.value.reason)
                words = f"{gone.name} is no longer in this job. The change stands in the book."
                flash(session, request, words)
                return RedirectResponse(f"/jobs/{job_id}", 303)
        except Invalid as error:
            p.take(error, "person")
    return _one(request, data, now, actor, job_id, filled(), 422, p)


class CloseForm(FormModel):
    close_note: Note = Field(default="", title="Remark")
    once: Once


@router.get("/{job_id}/close")
def close_page(request: Request, data: Data, now: Now, actor: Signed, job_id: Id) -> Response:
    """The short list: what stands in the way, and what to know."""
    return _close(request, data, now, actor, job_id, filled(once=uuid.uuid4().hex))


def _close(
    request: Request, data: Data, now: datetime, actor: Actor, job_id: int, p: Posted[Any], status: int = 200
) -> Response:
    with data.reading() as session:
        at = book_now(session, now)
        job = job_to_see(session, actor, job_id)
        owed = short_list(session, job, at)
        standing = loads_of_job(session, job_id, at)
        context = {"p": p, "job": _card(session, job, at, shop_zone(session).key), "verdict": owed.findings,
                   "loads": owed.loads, "drums": into_the_drum(session, actor, standing, at),
                   "closed": job.closed_at is not None,
                   "running": [(number, name) for number, name, state in batches(session, job_id)
                               if state == BATCH_STATES["running"]]}  # fmt: skip
    return page(request, "jobs/close.html", context, status, section="jobs")


@router.post("/{job_id}/close")
def closed(
    request: Request, data: Data, now: Now, actor: Signed, job_id: Id,
    p: Annotated[Posted[CloseForm], Depends(posted(CloseForm))],
) -> Response:  # fmt: skip
    """Close it; its rags stay owed."""
    if p.value is None:
        return _close(request, data, now, actor, job_id, p, 422)
    try:
        with data.writing() as session:
            settled = close_job(session, actor, now, job_id, p.value.once, p.value.close_note)
            left, outside = len(settled.result["loads"]), len(settled.result["outside"])
            words = f" {_loads(left)} still to leave the building." if left else ""
            if outside:
                words += f" {_loads(outside)} in the drum outside, to be collected."
            flash(session, request, f"Closed.{words}")
            return RedirectResponse(f"/jobs/{job_id}", 303)
    except Invalid as error:
        if "note" in error.errors:
            error.errors["close_note"] = error.errors.pop("note")
        p.take(error, "close_note")
        return _close(request, data, now, actor, job_id, p, 422)


def _loads(number: int) -> str:
    return "1 rag load" if number == 1 else f"{number} rag loads"
