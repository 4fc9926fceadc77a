"""``/api/jobs``: open, list and close jobs; the same acts as the pages."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from service.actions.run_job import JobAsked, close_job, open_job
from service.core.access import Permission, may
from service.core.findings import Invalid
from service.records.job_queries import closed_jobs, jobs_of, open_jobs, people_of
from service.records.jobs import JobKind
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PostModel, acting_for
from service.web.deps import Data, Now, shop_today
from service.web.fields import Id, Name, Note, PageSize

router = APIRouter(prefix="/api", tags=["jobs and rags"])


class JobIn(PostModel):
    """A job to open."""

    name: Name
    kind: JobKind = JobKind.SHOP_WORK
    place: Id | None = Field(None, description="Number of the place")
    leader: Id | None = Field(None, description="Who leads it and owes its rags; missing = `person`")
    people: list[Id] = Field([], description="Who else is in it", max_length=200)
    ends_at: datetime | None = Field(None, description="Missing: the end of the shift, else 24:00")
    note: Note = ""


class JobMade(BaseModel):
    """The job that was opened."""

    job: int
    name: str
    ends_by: datetime
    findings: list[FindingOut]


class JobOut(BaseModel):
    """One job."""

    id: int
    name: str
    kind: JobKind
    leader: str
    people: list[str]
    place: int | None
    started_at: datetime
    ends_by: datetime
    closed_at: datetime | None
    running: bool


class JobsOut(BaseModel):
    """Jobs as of a moment."""

    as_of: datetime
    jobs: list[JobOut]


class CloseIn(PostModel):
    """A job to close."""

    note: Note = ""


class JobClosed(BaseModel):
    """What closing answered; ``loads``: rag loads that still have to leave the building."""

    job: int
    closed_at: datetime
    loads: list[int]
    findings: list[FindingOut]


@router.get("/jobs", responses=PROBLEMS)
def jobs(
    data: Data, now: Now, actor: Signed, closed: bool = False, limit: Annotated[PageSize, Query()] = 50
) -> JobsOut:
    """Open jobs, or with ``closed=true`` the last ones closed. A student's token sees their own jobs."""
    with data.reading() as session:
        if not may(actor.role, Permission.SEE_STORE):
            mine = jobs_of(session, actor.person_id)
            rows = [job for job in mine if (job.closed_at is not None) == closed][:limit]
        else:
            rows = list(closed_jobs(session, limit)) if closed else list(open_jobs(session))[:limit]
        found = []
        for job in rows:
            people = people_of(session, job)
            assert job.id is not None
            found.append(JobOut(
                id=job.id, name=job.name, kind=job.kind, leader=people[0].name if people else "",
                people=[person.name for person in people], place=job.place_id, started_at=job.started_at,
                ends_by=job.ends_by, closed_at=job.closed_at,
                running=job.closed_at is None and job.started_at <= now < job.ends_by,
            ))  # fmt: skip
    return JobsOut(as_of=now, jobs=found)


@router.post("/jobs", responses=PROBLEMS, status_code=201)
def make_job(data: Data, now: Now, actor: Signed, asked: JobIn) -> JobMade:
    """Open a job. Somebody in the books leads it: they owe its rags, so a script's own name cannot."""
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, shop_today(session, now))
        leader = session.get(Person, asked.leader or acting.person_id)
        if leader is not None and leader.is_script:
            words = "Name the person who leads the job: they owe its rags, and a script cannot."
            raise Invalid(words, {"leader": words})
        settled = open_job(session, acting, now, JobAsked(
            once=asked.once, name=asked.name, kind=asked.kind, place_id=asked.place, leader_id=asked.leader,
            people=tuple(asked.people), ends_at=asked.ends_at, note=asked.note,
            happened_at=asked.happened_at, late_reason=asked.late_reason,
        ))  # fmt: skip
        return JobMade(**_plain(settled.result))


@router.post("/jobs/{job_id}/close", responses=PROBLEMS)
def end_job(data: Data, now: Now, actor: Signed, job_id: Id, asked: CloseIn) -> JobClosed:
    """Close a job: 409 with findings while rags are not contained or a batch is running."""
    if asked.happened_at is not None:
        words = "A job is closed now, not earlier: leave happened_at out."
        raise Invalid(words, {"happened_at": words})
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, shop_today(session, now))
        settled = close_job(session, acting, now, job_id, asked.once, asked.note)
        return JobClosed(**_plain(settled.result))


def _plain(result: dict[str, Any]) -> dict[str, Any]:
    return dict(result)
