"""``/api/overrides``: a keeper lets one named draw or batch happen while rags are overdue."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field
from sqlmodel import Session

from service.actions.give_override import OverrideAsked, give_override, overrides, read_for
from service.core.findings import Invalid
from service.records.job_queries import running_jobs
from service.records.people import Person
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, FindingOut, PersonRef, acting_for, told_now
from service.web.api_model import ApiModel
from service.web.deps import Data, Now
from service.web.fields import Id, Once, PageSize

router = APIRouter(prefix="/api", tags=["jobs and rags"])


class OverrideIn(ApiModel):
    """One draw or one batch, never a person or a day."""

    once: Once
    for_: str = Field(
        alias="for", max_length=200, description="“draw of K7Q F2B” or “batch of recipe 4”",
        examples=["draw of K7Q F2B"],
    )  # fmt: skip
    job: Id | None = Field(None, description="The job it is for; missing = the only one that is running")
    reason: str = Field(max_length=1000)
    until: datetime | None = Field(None, description="Missing: until the job ends; never longer")
    person: PersonRef | None = Field(
        None, description="Number or name of the keeper who gives it; a script cannot give one itself"
    )
    happened_at: datetime | None = Field(None, description="It counts from now: leave this out")


class OverrideMade(BaseModel):
    override: int
    for_: str = Field(alias="for")
    until: datetime
    findings: list[FindingOut]


class OverrideOut(BaseModel):
    id: int
    for_: str = Field(alias="for")
    job: int
    keeper: str
    reason: str
    created_at: datetime
    until: datetime
    used: bool


class OverridesOut(BaseModel):
    overrides: list[OverrideOut]


@router.get("/overrides", responses=PROBLEMS, summary="Overrides that were given")
def listing(data: Data, limit: Annotated[PageSize, Query()] = 100) -> OverridesOut:
    """Overrides given, newest first, with their use."""
    with data.reading() as session:
        rows = [
            OverrideOut(
                id=one.row.id or 0, job=one.row.job_id, keeper=one.keeper, reason=one.row.reason,
                created_at=one.row.created_at, until=one.row.until, used=one.used_by_posting is not None,
                **{"for": one.what},
            )
            for one in overrides(session, limit)
        ]  # fmt: skip
    return OverridesOut(overrides=rows)


@router.post("/overrides", responses=PROBLEMS, status_code=201, summary="Let one draw or batch through")
def give(data: Data, now: Now, actor: Signed, asked: OverrideIn) -> OverrideMade:
    """Let one through. 409 with findings: nothing overdue, loose rags, the keeper's own load, too long."""
    kind, name = read_for(asked.for_)
    told_now(asked.happened_at, now)
    with data.writing() as session:
        acting = acting_for(session, actor, asked.person, now)
        person = session.get(Person, acting.person_id)
        if person is None or person.is_script:
            words = "Name the keeper who gives the override: a script cannot give one itself."
            raise Invalid(words, {"person": words})
        job = asked.job if asked.job is not None else _only_job(session, now)
        wanted = OverrideAsked(asked.once, kind, name, job, asked.reason, asked.until)
        return OverrideMade(**give_override(session, acting, now, wanted).result)


def _only_job(session: Session, now: datetime) -> int:
    running = [job.id for job in running_jobs(session, now) if job.id is not None]
    if len(running) != 1:
        words = "Several jobs are running. Say which." if running else "No job is running. Open one first."
        raise Invalid(words, {"job": words})
    return running[0]
