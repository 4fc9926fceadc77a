"""`/rags/log`, `/rags/day-sheet`: the log with what it proves, and the sheet with its head on paper."""

from datetime import timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session, col, func, select

from service.actions.witness import (
    SHORTEST,
    STRONG,
    heads_in,
    in_groups,
    prove,
    read_paper,
    witness_head,
)
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.outreach.day_sheet import DaySheet, day_sheet
from service.records.oil_days import unanswered_oil_days
from service.records.people import Person
from service.records.rags import RagLogRow, WitnessedHead
from service.web.access_gate import Signed
from service.web.chrome import flash
from service.web.deps import Config, Data, Now, shop_zone
from service.web.fields import DayText, Id, PageNumber
from service.web.forms import FormModel, Posted, filled, posted
from service.web.pages.rags import LOG_COLUMNS
from service.web.rag_notice import book_now
from service.web.rag_words import log_lines, shown
from service.web.render import day, instant, page

router = APIRouter(prefix="/rags", include_in_schema=False)

OIL_DAYS = 90
"""So far back the page looks for oil that was used without an entry."""
PER_PAGE = 30


@router.get("/log")
def log(
    request: Request, data: Data, now: Now, config: Config,
    number: Annotated[PageNumber, Query(alias="page")] = 1,
    count: Annotated[str, Query(max_length=20)] = "", digits: Annotated[str, Query(max_length=200)] = "",
) -> Response:  # fmt: skip
    """The whole log, newest first, and what a check of it proves now; a head may be typed from paper."""
    p = filled(count=count, digits=digits)
    with data.reading() as session:
        zone = shop_zone(session)
        paper = None
        if count or digits:
            try:
                entries = int(count) if count.strip().isascii() and count.strip().isdigit() else -1
                paper = read_paper(entries, digits, now.astimezone(zone))
            except Invalid as error:
                p.take(error, "digits")
        kept = heads_in(config.data, zone)
        proof = prove(session, kept.heads, paper)
        total = session.exec(select(func.count()).select_from(RagLogRow)).one()
        query = select(RagLogRow).order_by(col(RagLogRow.id).desc())
        rows = session.exec(query.limit(PER_PAGE).offset((number - 1) * PER_PAGE)).all()
        witnessed = session.exec(select(WitnessedHead).order_by(col(WitnessedHead.id).desc()).limit(10)).all()
        context = {
            "p": p, "proof": proof, "head": in_groups(proof.log.head_hash), "unreadable": kept.unreadable,
            "columns": LOG_COLUMNS, "log": log_lines(session, rows, zone.key), "page_number": number,
            "pages": max(1, -(-total // PER_PAGE)), "shortest": SHORTEST, "strong": STRONG,
            "oil_days": [
                (day(one.day), one.takings)
                for one in unanswered_oil_days(session, zone, now - timedelta(days=OIL_DAYS), now)
            ],
            "heads": [(w.count, instant(w.at, zone.key), w.where) for w in witnessed],
        }  # fmt: skip
    return page(request, "rags/log.html", context, 422 if p.errors else 200, section="rags")


@router.get("/day-sheet")
def sheet(
    request: Request, data: Data, now: Now, actor: Signed,
    on: Annotated[DayText | None, Query()] = None, head: Annotated[Id | None, Query()] = None,
) -> Response:  # fmt: skip
    """The sheet of a day; with ``head`` the one whose head has just been written down, ready to print."""
    with data.reading() as session:
        at, zone = book_now(session, now), shop_zone(session)
        today = at.astimezone(zone).date()
        made = day_sheet(session, on or today, zone, at)
        witnessed = session.get(WitnessedHead, head) if head else None
        context = _sheet(made, zone.key) | {
            "lines": [
                (shown(one.seen, zone.key), log_lines(session, one.lines, zone.key)) for one in made.loads
            ],
            "columns": LOG_COLUMNS,
            "today": today,
            "witnessed": witnessed is not None,
            "may_witness": may(actor.role, Permission.SEE_LOGS),
            "by": _name(session, witnessed.person_id if witnessed else None),
        }
        if witnessed is not None:
            context |= {
                "count": witnessed.count, "hash": in_groups(witnessed.hash),
                "head_at": instant(witnessed.at, zone.key),
            }  # fmt: skip
    return page(request, "rags/day_sheet.html", context, section="rags")


def _name(session: Session, person_id: int | None) -> str:
    person = session.get(Person, person_id) if person_id else None
    return person.name if person else ""


def _sheet(made: DaySheet, zone: str) -> dict[str, Any]:
    late = zip(made.late, made.late_people, strict=True)
    return {
        "day": made.day,
        "before": made.day - timedelta(days=1),
        "after": made.day + timedelta(days=1),
        "as_of": instant(made.as_of, zone),
        "jobs": [
            {
                "job": {"href": f"/jobs/{one.job.id}", "words": one.job.name},
                "people": ", ".join(one.people),
                "from": instant(one.job.started_at, zone),
                "until": f"closed {instant(one.job.closed_at, zone)}" if one.job.closed_at
                else f"ends {instant(one.job.ends_by, zone)}",
            }
            for one in made.jobs
        ],
        "job_columns": [
            {"key": "job", "label": "Job"}, {"key": "people", "label": "People"},
            {"key": "from", "label": "Began"}, {"key": "until", "label": "Ended or ends"},
        ],
        "overdue": [one.seen.judgement.sentence for one in made.loads if one.seen.judgement.blocks],
        "violations": [(v.sentence, v.answer or "not answered yet") for v in made.violations],
        "overrides": [
            (o.row.reason, o.keeper, instant(o.row.until, zone), "used" if o.used else "not used", o.what)
            for o in made.overrides
        ],
        "late": [
            (who, p.act, instant(p.happened_at, zone), instant(p.recorded_at, zone), p.late_reason)
            for p, who in late
        ],
        "count": made.count,
        "hash": in_groups(made.hash),
        "head_at": instant(made.head_at, zone),
        "title": day(made.day),
        "closed": f"{instant(made.closing.closed_at, zone)} by {made.closed_by}" if made.closing else "",
        "close_note": made.closing.note if made.closing else "",
    }  # fmt: skip


class SheetForm(FormModel):
    on: DayText | None = None


@router.post("/day-sheet")
def witness(
    request: Request, data: Data, now: Now, actor: Signed, config: Config,
    p: Annotated[Posted[SheetForm], Depends(posted(SheetForm))],
) -> Response:  # fmt: skip
    """Write the head of the log down outside the database, then show the sheet to print."""
    with data.writing() as session:
        row = witness_head(session, actor, now, config.data)
        flash(session, request, "The head of the log is written down. Print this sheet and sign it.")
        on = p.value.on if p.value and p.value.on else now.astimezone(shop_zone(session)).date()
        return RedirectResponse(f"/rags/day-sheet?on={on.isoformat()}&head={row.id}", 303)

