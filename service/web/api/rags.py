"""``/api/rag-loads`` and ``/api/rag-log``: what happened to the rags, and what the log proves."""

import json
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field
from sqlmodel import col, select

from service.actions.handle_rags import StepAsked, add_step
from service.actions.witness import heads_in, prove, read_paper
from service.core.findings import Finding
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.rag_queries import JudgedLoad, ended_loads, standing_loads
from service.records.rags import RagLogRow
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PlaceRef, PostModel, acting_for, place_number
from service.web.api_model import ApiModel
from service.web.deps import Config, Data, Now, shop_zone
from service.web.fields import Id, Name, Note, PageSize, Whole
from service.web.rag_notice import book_now

router = APIRouter(prefix="/api", tags=["jobs and rags"])


class RemovalIn(ApiModel):
    """Who took the rags, or the permit they were burned under."""

    how: RemovalHow
    named: str = Field("", max_length=120)
    permit: str = Field("", max_length=120)


class EntryIn(PostModel):
    """One step. What it needs depends on the step: a can for can, water and drum; a removal for removed."""

    step: RagStep
    also: list[Id] = Field([], description="Other loads that it happened to as well", max_length=49)
    can: PlaceRef | None = Field(None, description="Number or code of the can or drum")
    water: Water | None = None
    removal: RemovalIn | None = None
    witness: str = Field("", max_length=120)
    note: Note = ""
    covers: list[Name] = Field([], description="The draws that left no rags: “draw 12”", max_length=500)
    count: Whole | None = None
    mass: str = Field("", max_length=120, description="Of an outside drum, as weighed")
    collected_on: date | None = None


class LoadAfter(BaseModel):
    """A load after the step."""

    id: int
    step: RagStep
    contained: bool
    remove_met: bool
    ended: bool
    where: str
    sentence: str


class EntryOut(BaseModel):
    loads: list[LoadAfter]
    findings: list[FindingOut]


class LoadOut(BaseModel):
    """One load as judged now. Minutes left are to `remove_by`; null once that clock is met."""

    id: int
    name: str
    job: int
    owed_by: str
    made_at: datetime
    contain_by: datetime
    remove_by: datetime
    step: RagStep
    where: str
    contained: bool
    remove_met: bool
    ended: bool
    overdue: bool
    minutes_left: int | None
    minutes_late: int
    open_draws: list[str]
    violations: list[FindingOut]
    because: list[dict[str, Any]]
    sentence: str


class LoadsOut(BaseModel):
    as_of: datetime
    loads: list[LoadOut]


class LogEntry(BaseModel):
    """One entry: `entry` is what was hashed, `hash` its hash after the one before."""

    number: int
    kind: str
    load: int | None
    happened_at: datetime
    recorded_at: datetime
    entry: dict[str, Any]
    hash: str


class LogOut(BaseModel):
    entries: list[LogEntry]
    next_after: int | None = Field(description="Ask again with this `after`; null at the end")


class ProofOut(BaseModel):
    """`fits`: nothing was found amiss. Without a witness a cut end or a log written anew cannot be found."""

    fits: bool
    unbroken: bool
    count: int
    head: str
    first_bad: int | None
    what: str
    last_witness: str | None
    outside_heads: int
    sentence: str


def _finding(found: Finding) -> FindingOut:
    return FindingOut(**found.as_dict())


@router.get("/rag-loads", responses=PROBLEMS, summary="Oily rags and where they are")
def loads(
    data: Data, now: Now, ended: bool = False, limit: Annotated[PageSize, Query()] = 100
) -> LoadsOut:
    """Loads that stand, the most urgent first; with ``ended=true`` the last ones that ended."""
    with data.reading() as session:
        at = book_now(session, now)
        seen = ended_loads(session, at, limit) if ended else standing_loads(session, at)[:limit]
        return LoadsOut(as_of=at, loads=[_load(one) for one in seen])


def _load(seen: JudgedLoad) -> LoadOut:
    judgement, state, row = seen.judgement, seen.state, seen.row
    return LoadOut(
        id=seen.load_id, name=judgement.load.name, job=row.job_id, owed_by=judgement.load.owed_by,
        made_at=row.made_at, contain_by=judgement.load.contain_by, remove_by=row.remove_by, step=state.step,
        where=state.where, contained=state.contained, remove_met=state.remove_met, ended=state.ended,
        overdue=judgement.blocks, minutes_left=judgement.minutes_left, minutes_late=judgement.minutes_late,
        open_draws=list(state.open_draws), violations=[_finding(f) for f in judgement.violations],
        because=list(row.because), sentence=judgement.sentence,
    )  # fmt: skip


@router.post(
    "/rag-loads/{load_id}/entries", responses=PROBLEMS, status_code=201, summary="What was done with the rags"
)
def entry(data: Data, now: Now, actor: Signed, load_id: Id, asked: EntryIn) -> EntryOut:
    """Write down one step for this load (and those in ``also``). 409 says what to record or mend instead."""
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, now)
        removal = asked.removal
        settled = add_step(session, acting, now, StepAsked(
            once=asked.once, loads=(load_id, *asked.also), step=asked.step,
            can_id=place_number(session, asked.can, "can"), water=asked.water,
            removal=Removal(removal.how, removal.named, removal.permit) if removal else None,
            witness=asked.witness, note=asked.note, covers=tuple(asked.covers), count=asked.count,
            mass=asked.mass, collected_on=asked.collected_on, happened_at=asked.happened_at,
            late_reason=asked.late_reason,
        ))  # fmt: skip
        return EntryOut(**settled.result)


@router.get("/rag-log", responses=PROBLEMS, summary="The rag log")
def log(
    data: Data, after: Annotated[int, Query(ge=0, le=2**53)] = 0, limit: Annotated[PageSize, Query()] = 100
) -> LogOut:
    """Entries after a number, in order."""
    with data.reading() as session:
        query = select(RagLogRow).where(col(RagLogRow.id) > after).order_by(col(RagLogRow.id))
        rows = session.exec(query.limit(limit + 1)).all()
        entries = [
            LogEntry(
                number=row.id or 0, kind=row.kind, load=row.load_id, happened_at=row.happened_at,
                recorded_at=row.recorded_at, entry=json.loads(row.body), hash=row.hash,
            )
            for row in rows[:limit]
        ]  # fmt: skip
    return LogOut(entries=entries, next_after=entries[-1].number if len(rows) > limit else None)


@router.get("/rag-log/proof", responses=PROBLEMS, summary="What the rag log proves")
def proof(
    data: Data, now: Now, config: Config,
    count: Annotated[int | None, Query(ge=0, le=2**53)] = None,
    digits: Annotated[str, Query(max_length=200)] = "",
) -> ProofOut:  # fmt: skip
    """Check the whole log now, against the heads in the data folder and one typed from paper if given."""
    with data.reading() as session:
        zone = shop_zone(session)
        paper = None
        if count is not None or digits:
            paper = read_paper(count if count is not None else -1, digits, now.astimezone(zone))
        found = prove(session, heads_in(config.data, zone).heads, paper)
    seen = found.log.last_witness
    return ProofOut(
        fits=found.fits, unbroken=found.log.unbroken, count=found.log.count, head=found.log.head_hash,
        first_bad=found.log.first_bad, what=found.log.what,
        last_witness=f"entry {seen.count}, {seen.where}" if seen else None,
        outside_heads=found.outside, sentence=found.sentence,
    )  # fmt: skip
