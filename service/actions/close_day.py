"""Closing a shop day: no job open, no rags loose, none past their time; the head of the log goes with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session, col, select

from service.actions.hand_rags import handed
from service.actions.run_job import running_batches
from service.actions.settle import Act, Sent, Settled, settle
from service.actions.witness import chain_head
from service.actions.write_rag_log import write_rag_log
from service.core.access import Actor, Permission, require
from service.core.findings import Finding, Findings, Invalid, Refused, Verdict, stop, warn
from service.core.months import say_date
from service.core.oily_things import missing
from service.core.rag_deadlines import day_end
from service.records.duties import Duty
from service.records.job_queries import jobs_on, open_jobs
from service.records.jobs import Job
from service.records.mixing import Batch
from service.records.rag_queries import JudgedLoad, standing_loads
from service.records.rags import DayClosing


@dataclass(frozen=True)
class DayOwed:
    """What stands in the way of closing a day and what to know, with what it is about, for its buttons."""

    findings: Verdict
    jobs: tuple[Job, ...]
    batches: tuple[Batch, ...]
    loads: tuple[JudgedLoad, ...]


def day_list(session: Session, day: date, zone: Any, now: datetime) -> Verdict:
    """The findings of `day_owed`."""
    return day_owed(session, day, zone, now).findings


def day_owed(session: Session, day: date, zone: Any, now: datetime) -> DayOwed:
    """What stands in the way of closing a day, and what to know.

    Stops: a job that began on that day or before and is open; rags that are loose; rags that had to leave the
    building by the end of that day and have not. Rags in the outside drum wait there for their collection.
    """
    found = Findings()
    jobs = [job for job in open_jobs(session) if job.started_at.astimezone(zone).date() <= day]
    batches = [batch for job in jobs for batch in running_batches(session, job)]
    for job in jobs:
        words = f"The job {job.name} is still open. Close it first."
        found.add(stop("job-open", words, about=job.name))
    names = {job.id: job.name for job in jobs}
    for batch in batches:
        words = f"Batch {batch.id} of {names[batch.job_id]} is not finished. Finish it or give it up first."
        found.add(stop("batch-running", words, about=f"batch {batch.id}"))
    # From noon: a midnight may not exist on the clocks.
    ends = day_end(datetime(day.year, day.month, day.day, 12, tzinfo=zone), zone)
    loads = [seen for seen in standing_loads(session, now) if seen.row.made_at < ends]
    for seen in loads:
        name, said = seen.judgement.load.name, seen.judgement.sentence
        if not seen.state.contained:
            found.add(stop("rags-loose", f"{said} Put them away and record it.", about=name))
        elif not seen.state.remove_met and seen.row.remove_by <= ends:
            words = f"{said} Record who took them, or the drum outside."
            found.add(stop("rags-in-building", words, about=name))
    open_answers = session.exec(
        select(Duty).where(col(Duty.kind) == "answer-violation", col(Duty.done_at).is_(None)).limit(20)
    ).all()
    found.add(*(warn("violation-open", f"Not answered yet: {duty.sentence}") for duty in open_answers))
    found.add(*_pieces(session, jobs_on(session, *_bounds(day, zone))))
    here = tuple(seen for seen in loads if not seen.state.remove_met)
    return DayOwed(found.verdict(), tuple(jobs), tuple(batches), here)


def _bounds(day: date, zone: Any) -> tuple[datetime, datetime]:
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=zone)
    return day_end(noon - timedelta(days=1), zone), day_end(noon, zone)


def _pieces(session: Session, jobs: Sequence[Job]) -> list[Finding]:
    """What was handed out in a job of the day and did not come in, and what its close said of it."""
    found = []
    for job in jobs:
        said = f" At its close: {job.close_note}" if job.close_note else ""
        for one in missing(handed(session, job.id or 0)):
            found.append(warn(one.code, f"{job.name}: {one.sentence}{said}", about=job.name))
    return found


def close_day(
    session: Session, actor: Actor, now: datetime, day: date, once: str, remark: str = ""
) -> Settled:
    """Close a day of the shop. What happens later that day is shown as after the closing.

    Answers ``day``, ``entries`` and ``hash`` (the head of the rag log with the closing in it).

    Raises:
        NotAllowed: not a keeper.
        Invalid: a day that has not come, or a remark too long.
        Refused: a job is open, or rags are loose or still in the building.
    """
    require(actor, Permission.CLOSE_DAY)
    if len(remark) > 2000:
        raise Invalid("Shorten the remark.", {"note": "Shorten this to 2000 signs."})
    sent = Sent(once, "close-day", {"day": day.isoformat(), "note": remark})
    return settle(session, actor, sent, now, lambda act: _close(act, day, remark.strip()))


def _close(act: Act, day: date, remark: str) -> dict[str, Any]:
    if day > act.day:
        words = "That day has not come yet."
        raise Invalid(words, {"day": words})
    owed = day_list(act.session, day, act.zone, act.recorded_at)
    if owed.blocking:
        raise Refused(owed)
    write_rag_log(
        act.session,
        kind="day-closed",
        load_id=None,
        person_id=act.actor.person_id,
        posting_id=act.posting_id,
        happened_at=act.happened_at,
        recorded_at=act.recorded_at,
        data={"day": day, "what": say_date(day), "note": remark},
    )
    head = chain_head(act.session)
    act.session.add(
        DayClosing(
            posting_id=act.posting_id,
            day=day,
            closed_by=act.actor.person_id,
            closed_at=act.recorded_at,
            note=remark,
            entries=head.count,
            hash=head.hash,
        )
    )
    act.note(*owed)
    return {"day": day.isoformat(), "entries": head.count, "hash": head.hash}
