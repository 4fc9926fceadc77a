"""``/api/jobs``: open, list and close jobs; the same acts as the pages."""

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field, computed_field

from service.actions.run_job import JobAsked, close_job, open_job
from service.core.access import Permission, may
from service.core.findings import warn
from service.records.job_queries import closed_jobs, jobs_of, open_jobs, people_of
from service.records.jobs import JobKind
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.api.posting import (
    PROBLEMS,
    FindingOut,
    PersonRef,
    PlaceRef,
    PostModel,
    acting_for,
    person_number,
    place_number,
    told_now,
)
from service.web.deps import Data, Now
from service.web.fields import Id, Name, Note, PageSize

router = APIRouter(prefix="/api", tags=["jobs and rags"])

_LED_BY_SCRIPT = warn(
    "led-by-script",
    "No person leads this job, so nobody can be asked about its rags. Send leader with a name or number.",
)


class JobIn(PostModel):
    """A job to open."""

    name: Name
    kind: JobKind = JobKind.SHOP_WORK
    place: PlaceRef | None = Field(None, description="Number, code or name of the place")
    leader: PersonRef | None = Field(
        None, description="Number or name of who leads it and owes its rags; missing = `person`"
    )
    people: list[PersonRef] = Field([], description="Who else is in it, by number or name", max_length=200)
    ends_at: datetime | None = Field(None, description="Missing: the end of the shift, else 24:00")
    note: Note = ""


class JobMade(BaseModel):
    """The job that was opened."""

    job: int
    name: str
    ends_by: datetime
    findings: list[FindingOut]

    @computed_field  # type: ignore[prop-decorator]
    @property
    def id(self) -> int:
        """The same as ``job``."""
        return self.job


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
    """What closing answered: rag loads still to leave the building, and those in the drum outside."""

    job: int
    closed_at: datetime
    loads: list[int]
    outside: list[int]
    findings: list[FindingOut]


@router.get("/jobs", responses=PROBLEMS, summary="Jobs")
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


@router.post("/jobs", responses=PROBLEMS, status_code=201, summary="Open a job")
def make_job(data: Data, now: Now, actor: Signed, asked: JobIn) -> JobMade:
    """Open a job. Name its leader: they owe its rags. Without one it is led in the script's own name, which
    nobody can be asked after: the answer warns of it.
    """
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, now)
        leader_id = person_number(session, asked.leader, "leader")
        people = [person_number(session, one, "people") or 0 for one in asked.people]
        leader = session.get(Person, leader_id or acting.person_id)
        settled = open_job(session, acting, now, JobAsked(
            once=asked.once, name=asked.name, kind=asked.kind, leader_id=leader_id,
            place_id=place_number(session, asked.place, "place"), people=tuple(people),
            ends_at=asked.ends_at, note=asked.note, happened_at=asked.happened_at,
            late_reason=asked.late_reason,
        ))  # fmt: skip
        made = JobMade(**_plain(settled.result))
        if leader is not None and leader.is_script:
            made.findings.append(FindingOut(**_LED_BY_SCRIPT.as_dict()))
        return made


@router.post("/jobs/{job_id}/close", responses=PROBLEMS, summary="Close a job")
def end_job(data: Data, now: Now, actor: Signed, job_id: Id, asked: CloseIn) -> JobClosed:
    """Close a job: 409 with findings while rags are not contained or a batch is running."""
    told_now(asked.happened_at, now)
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, now)
        settled = close_job(session, acting, now, job_id, asked.once, asked.note)
        return JobClosed(**_plain(settled.result))


def _plain(result: dict[str, Any]) -> dict[str, Any]:
    return dict(result)
