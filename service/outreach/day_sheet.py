"""The printed day sheet: what a day's jobs, rags, violations and overrides were, and the head of the rag log.

On paper the head is a witness outside the database: who rewrites the log later cannot rewrite the sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, or_, select

from service.core.rag_deadlines import day_end
from service.core.rag_log import GENESIS
from service.records.duties import Duty
from service.records.job_queries import jobs_on, people_of
from service.records.jobs import Job
from service.records.override_words import what_is_let_through
from service.records.people import Person
from service.records.rag_queries import JudgedLoad, judged, last_closing, log_rows
from service.records.rags import DayClosing, Override, OverrideUse, RagChainHead, RagLoad, RagLogRow
from service.records.stock import Posting


@dataclass(frozen=True)
class JobOnSheet:
    """A job of the day with who was in it."""

    job: Job
    people: tuple[str, ...]


@dataclass(frozen=True)
class LoadOnSheet:
    """A load that stood at any time of the day, with every line of the log about it up to the day's end."""

    seen: JudgedLoad
    lines: tuple[RagLogRow, ...]


@dataclass(frozen=True)
class OverrideOnSheet:
    """An override given on the day, or used on it."""

    row: Override
    keeper: str
    used: bool
    what: str


@dataclass(frozen=True)
class DaySheet:
    """Everything on one sheet. `as_of`: the day's end, or now on that day. The head is the log's now."""

    day: date
    as_of: datetime
    jobs: tuple[JobOnSheet, ...]
    loads: tuple[LoadOnSheet, ...]
    violations: tuple[Duty, ...]
    overrides: tuple[OverrideOnSheet, ...]
    late: tuple[Posting, ...]
    late_people: tuple[str, ...]
    count: int
    hash: str
    head_at: datetime
    closing: DayClosing | None = None
    closed_by: str = ""


def day_bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The first instant of a local day and the first one after it, in UTC."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=zone)
    return day_end(noon - timedelta(days=1), zone), day_end(noon, zone)


def day_sheet(session: Session, day: date, zone: ZoneInfo, now: datetime) -> DaySheet:
    """What the book says of one local day.

    Args:
        now: an aware instant; a day that is not over is told up to it.
    """
    starts, ends = day_bounds(day, zone)
    as_of = min(ends, now.astimezone(UTC)) if now > starts else starts
    head = session.get(RagChainHead, 1)
    late = _late(session, starts, ends)
    closing = last_closing(session, day)
    return DaySheet(
        day=day,
        as_of=as_of,
        jobs=tuple(
            JobOnSheet(job, tuple(p.name for p in people_of(session, job)))
            for job in jobs_on(session, starts, ends)
        ),
        loads=_loads(session, starts, as_of),
        violations=_violations(session, starts, ends),
        overrides=_overrides(session, starts, ends),
        late=tuple(late),
        late_people=tuple(_name(session, p.person_id) for p in late),
        count=head.count if head else 0,
        hash=head.hash if head else GENESIS,
        head_at=now,
        closing=closing,
        closed_by=_name(session, closing.closed_by) if closing else "",
    )


def _loads(session: Session, starts: datetime, as_of: datetime) -> tuple[LoadOnSheet, ...]:
    query = select(RagLoad).where(
        col(RagLoad.made_at) <= as_of,
        or_(col(RagLoad.ended_at).is_(None), col(RagLoad.ended_at) >= starts),
    )
    found = []
    for load in session.exec(query.order_by(col(RagLoad.id))).all():
        lines = tuple(row for row in log_rows(session, load.id) if row.happened_at <= as_of)
        found.append(LoadOnSheet(judged(session, load, as_of), lines))
    return tuple(found)


def _violations(session: Session, starts: datetime, ends: datetime) -> tuple[Duty, ...]:
    query = select(Duty).where(
        col(Duty.keeper_answers).is_(True), col(Duty.created_at) >= starts, col(Duty.created_at) < ends
    )
    return tuple(session.exec(query.order_by(col(Duty.id))).all())


def _overrides(session: Session, starts: datetime, ends: datetime) -> tuple[OverrideOnSheet, ...]:
    query = select(Override).where(col(Override.created_at) >= starts, col(Override.created_at) < ends)
    return tuple(
        OverrideOnSheet(
            row,
            _name(session, row.keeper_id),
            session.get(OverrideUse, row.id) is not None,
            f"{what_is_let_through(session, row)} in {session.get_one(Job, row.job_id).name}",
        )
        for row in session.exec(query.order_by(col(Override.id))).all()
    )


def _late(session: Session, starts: datetime, ends: datetime) -> Sequence[Posting]:
    query = select(Posting).where(
        col(Posting.late).is_(True), col(Posting.recorded_at) >= starts, col(Posting.recorded_at) < ends
    )
    return session.exec(query.order_by(col(Posting.id)).limit(500)).all()


def _name(session: Session, person_id: int) -> str:
    person = session.get(Person, person_id)
    return person.name if person else "not known"
