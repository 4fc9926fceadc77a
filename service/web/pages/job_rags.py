"""`/jobs/N/rags`: pieces handed out and in, what lies there with oil on it; `/day/close`: the day's end."""

import uuid
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import Field

from service.actions.close_day import close_day, day_owed
from service.actions.hand_rags import MOST_PIECES, HandAsked, hand_rags, handed
from service.actions.run_job import job_to_see
from service.core.access import Actor
from service.core.findings import Invalid, Refused, Verdict
from service.core.oily_things import THING_WORDS, OilyThing, Way
from service.records.people import Person
from service.records.rag_queries import last_closing
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.closing_rags import into_the_drum
from service.web.deps import Data, Now, shop_zone
from service.web.fields import DayText, Id, Note, Once, Whole
from service.web.forms import FormModel, Posted, filled, posted
from service.web.rag_notice import book_now
from service.web.rag_words import shown
from service.web.render import day, instant, page

router = APIRouter(include_in_schema=False)

THINGS = [(thing.value, words[:1].upper() + words[1:]) for thing, words in THING_WORDS.items()]
WAYS = [
    (Way.OUT.value, "Handed out", "clean, for this job"),
    (Way.IN.value, "Handed in", "used, counted as they come back"),
    (Way.LOOSE.value, "Lying there with oil on it", "it owes a can as rags do"),
]
COLUMNS = [
    {"key": "thing", "label": "What"},
    {"key": "out", "label": "Handed out", "number": True},
    {"key": "in", "label": "Handed in", "number": True},
    {"key": "missing", "label": "Missing"},
]


class HandForm(FormModel):
    way: Way = Field(title="What happened")
    thing: OilyThing = Field(title="What is it")
    pieces: Annotated[Whole, Field(ge=1, le=MOST_PIECES)] = Field(title="How many pieces")
    note: Note = Field(default="", title="Remark")
    once: Once


@router.get("/jobs/{job_id}/rags")
def hands(request: Request, data: Data, actor: Signed, job_id: Id) -> Response:
    """What was handed out and in so far, and the form for the next."""
    p = filled(way=Way.OUT.value, thing=OilyThing.RAGS.value, once=uuid.uuid4().hex)
    return _hands(request, data, actor, job_id, p)


def _differ(out: int, came: int) -> str:
    return f"{came - out} more came in than went out" if came > out else str(out - came)


def _hands(
    request: Request, data: Data, actor: Actor, job_id: int, p: Posted[Any], status: int = 200
) -> Response:
    with data.reading() as session:
        job = job_to_see(session, actor, job_id)
        rows = [
            {"thing": THING_WORDS[thing], "out": out, "in": came, "missing": _differ(out, came)}
            for thing, (out, came) in sorted(handed(session, job_id).items())
        ]
    if job.closed_at is not None and not p.errors:
        p.raw["way"] = Way.LOOSE.value
    ways = [way for way in WAYS if way[0] == Way.LOOSE.value or job.closed_at is None]
    context = {
        "p": p, "job": job.name, "id": job_id, "rows": rows, "columns": COLUMNS, "ways": ways,
        "things": THINGS,
    }  # fmt: skip
    return page(request, "jobs/rags.html", context, status, section="jobs")


@router.post("/jobs/{job_id}/rags")
def hand(
    request: Request, data: Data, now: Now, actor: Signed, job_id: Id,
    p: Annotated[Posted[HandForm], Depends(posted(HandForm))],
) -> Response:  # fmt: skip
    """Write it down; what lies loose leads on to putting it away."""
    if p.value is not None:
        said = p.value
        try:
            with data.writing() as session:
                asked = HandAsked(said.once, job_id, said.way, said.thing, said.pieces, said.note)
                load = hand_rags(session, actor, now, asked).result.get("load")
                words = f"{said.pieces} {THING_WORDS[said.thing]}: written down."
                flash(session, request, f"{words} Say where they are now." if load else words)
            where = f"/rags/{load['id']}/step" if load else f"/jobs/{job_id}/rags"
            return RedirectResponse(where, 303)
        except Invalid as error:
            p.take(error)
    return _hands(request, data, actor, job_id, p, 422)


class DayForm(FormModel):
    on: DayText = Field(title="Day")
    note: Note = Field(default="", title="Remark")
    once: Once


@router.get("/day/close")
def day_page(
    request: Request, data: Data, now: Now, actor: Signed, on: Annotated[DayText | None, Query()] = None
) -> Response:
    """What is still open on a day, and the button that closes it."""
    return _day(request, data, now, actor, on, filled(once=uuid.uuid4().hex))


def _day(
    request: Request, data: Data, now: datetime, actor: Actor, on: date | None, p: Posted[Any],
    status: int = 200, refused: Verdict | None = None,
) -> Response:  # fmt: skip
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        today = at.astimezone(zone).date()
        which = min(on or today, today)
        closed = last_closing(session, which)
        who = session.get(Person, closed.closed_by) if closed else None
        owed = day_owed(session, which, zone, at)
        context = {
            "jobs": [(job.id, job.name) for job in owed.jobs],
            "batches": [batch.id for batch in owed.batches],
            "loads": [shown(seen, zone.key) for seen in owed.loads],
            "drums": into_the_drum(session, actor, owed.loads, at),
            "p": p, "day": which, "title": day(which), "today": today, "zone": zone.key,
            "verdict": refused or owed.findings,
            "closed": instant(closed.closed_at, zone.key) if closed else "", "who": who.name if who else "",
            "note": closed.note if closed else "",
        }  # fmt: skip
    return page(request, "rags/day_close.html", context, status, section="rags")


@router.post("/day/close")
def day_closed(
    request: Request, data: Data, now: Now, actor: Signed,
    p: Annotated[Posted[DayForm], Depends(posted(DayForm))],
) -> Response:  # fmt: skip
    """Close the day; then the day sheet, to be printed."""
    if p.value is None:
        return _day(request, data, now, actor, None, p, 422)
    said = p.value
    try:
        with data.writing() as session:
            close_day(session, actor, now, said.on, said.once, said.note)
            flash(session, request, "The day is closed. Write the head down and print the sheet.")
        return RedirectResponse(f"/rags/day-sheet?on={said.on.isoformat()}", 303)
    except Invalid as error:
        p.take(error)
        return _day(request, data, now, actor, said.on, p, 422)
    except Refused as error:
        return _day(request, data, now, actor, said.on, p, 409, error.verdict)
