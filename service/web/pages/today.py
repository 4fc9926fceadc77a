"""`/`: the day's page. What is owed comes first: rags, jobs past their end, stock, what to answer, set-up."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlalchemy import literal
from sqlmodel import Session, col, func, select

from service.actions.manage_channels import reach_findings
from service.core.access import Actor, Permission, may
from service.core.containers import Standing
from service.records.attention_queries import count_troubled
from service.records.duties import Duty
from service.records.job_queries import jobs_of, open_jobs
from service.records.jobs import Job
from service.records.materials import Material
from service.records.mixing import Batch, BatchState
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.rag_queries import standing_loads
from service.records.shop import EmergencyNumber, Shift, ShopProfile
from service.records.stock import Container
from service.web.access_gate import Seen
from service.web.check_words import due_lines
from service.web.chrome import is_open_to
from service.web.closing_rags import into_the_drum
from service.web.deps import Config, Data, Now, shop_zone
from service.web.pages.duties import codes_of, duty_line
from service.web.rag_notice import book_now
from service.web.rag_words import may_see, shown
from service.web.render import SECTIONS, instant, page
from service.web.route_table import BY_KEY

router = APIRouter(include_in_schema=False)

_COUNTS = (
    (Standing.PAST, "past its date", "past their dates"),
    (Standing.LOOK_FIRST, "to look at first", "to look at first"),
    (Standing.NOT_KNOWN, "with no known date", "with no known date"),
)


@dataclass(frozen=True)
class SetUp:
    """One thing a new shop still has to put in, ticked by the facts and not by a click."""

    words: str
    href: str
    done: bool


@router.get("/")
def today(request: Request, seen: Seen, data: Data, config: Config, now: Now) -> Response:
    """A tablet without a person asks for a name first."""
    if seen.actor is None:
        return RedirectResponse("/tap", 303)
    shown_here = [section for section in SECTIONS if is_open_to(section, seen)]
    sections = [section for section in shown_here if section.href != "/"]
    open_here = {section.href for section in shown_here}
    with data.reading() as session:
        context = _day(session, seen.actor, now, open_here)
        sees_all = may(seen.actor.role, Permission.SEE_STORE)
        context["reach"] = reach_findings(session, now, config) if sees_all else []
        context["may_mend"] = may(seen.actor.role, Permission.PROFILES)
    context |= {"name": seen.actor.name, "ways": sections}
    scan = may(seen.actor.role, Permission.DRAW)
    return page(request, "today.html", context, section="today", scan=scan)


def _day(session: Session, actor: Actor, now: datetime, open_here: set[str]) -> dict[str, Any]:
    at, zone = book_now(session, now), shop_zone(session).key
    loads = [s for s in standing_loads(session, at) if may_see(session, actor, s)]
    everything = may(actor.role, Permission.SEE_STORE)
    own = jobs_of(session, actor.person_id)
    jobs = open_jobs(session) if everything else [job for job in own if job.closed_at is None]
    shop = session.get(ShopProfile, 1)
    return {
        "loads": [shown(seen, zone) for seen in loads],
        "drums": into_the_drum(session, actor, loads, at),
        "may_handle": may(actor.role, Permission.HAND_IN_RAGS),
        "past": [_job(job, zone) for job in jobs if job.ends_by <= at],
        "running": [_job(job, zone) for job in jobs if job.ends_by > at],
        "duties": [*_duties(session, actor, at, zone), *due_lines(session, actor, at, zone)],
        "counts": _counts(session, at, open_here) if everything and shop is not None else [],
        "aside": _set_aside(session) if everything and "/bench" in open_here else 0,
        "set_up": set_up(session) if may(actor.role, Permission.PEOPLE) else [],
        "may_open": may(actor.role, Permission.START_JOB),
    }


def _job(job: Job, zone: str) -> dict[str, Any]:
    return {"id": job.id, "name": job.name, "until": instant(job.ends_by, zone)}


def _duties(session: Session, actor: Actor, at: datetime, zone: str) -> list[dict[str, Any]]:
    """One's own duties; a keeper also sees what others owe, marked with the name."""
    query = select(Duty).where(col(Duty.done_at).is_(None)).order_by(col(Duty.due_at), col(Duty.id))
    lines, rows = [], session.exec(query.limit(100)).all()
    codes = codes_of(session, rows)
    for duty in rows:
        if duty.owed_by != actor.person_id and not may(actor.role, Permission.PEOPLE):
            continue
        owner = session.get(Person, duty.owed_by)
        mine = duty.owed_by == actor.person_id
        line = duty_line(duty, at, zone, codes.get(duty.about_id, ""))
        lines.append(line | {"owner": "you" if mine else owner.name if owner else ""})
    return lines


def _counts(session: Session, at: datetime, open_here: set[str]) -> list[tuple[str, str, int]]:
    """How many containers stand past, to be looked at, or not known; nothing is listed when none does."""
    if "/alerts" not in open_here:
        return []
    found = count_troubled(session, at.astimezone(shop_zone(session)).date())
    rows = []
    for standing, one, many in _COUNTS:
        number = found[standing]
        if number:
            words = f"1 container {one}" if number == 1 else f"{number} containers {many}"
            rows.append((standing.value, words, number))
    return rows


def _set_aside(session: Session) -> int:
    query = select(func.count()).select_from(Batch).where(col(Batch.state) == BatchState.SET_ASIDE)
    return session.exec(query).one()


def set_up(session: Session) -> list[SetUp]:
    """What a new shop needs, in order; empty once all of it is there."""
    can = col(Place.kind) == PlaceKind.RAG_CAN

    def some(table: Any, *where: Any) -> bool:
        return session.exec(select(literal(1)).select_from(table).where(*where).limit(1)).first() is not None

    steps = [
        SetUp("Add the rooms, cabinets and benches", "/places", some(Place)),
        SetUp("Add a rag can, with what it is made of", "/places", some(Place, can)),
        SetUp("Name the people who work here", "/people", _people(session) > 1),
        SetUp("Write down the shifts", "/shop", some(Shift)),
        SetUp("Write down the emergency numbers", "/shop", some(EmergencyNumber)),
        SetUp("Describe the first material", "/materials", some(Material)),
        SetUp("Take in the first container, or bring a whole stock list", "/receive", some(Container)),
    ]
    steps = [step for step in steps if ("GET", step.href) in BY_KEY]
    return [] if all(step.done for step in steps) else steps


def _people(session: Session) -> int:
    query = select(func.count()).select_from(Person).where(col(Person.is_script).is_(False))
    return session.exec(query).one()
