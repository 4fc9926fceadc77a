"""Jobs: one stretch of work with a leader, a place, people, a start and an end."""

from datetime import datetime
from enum import StrEnum

from sqlmodel import Field, SQLModel

from service.records.base import enum_by_value


class JobKind(StrEnum):
    CLASS = "class"
    SAMPLE = "sample"
    SHOP_WORK = "shop-work"
    CUSTOMER_SITE = "customer-site"


class Job(SQLModel, table=True):
    """`ends_by` and `shift_ends_at` are settled when the job opens; editing a shift does not move them."""

    __tablename__ = "job"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120)
    kind: JobKind = Field(sa_type=enum_by_value(JobKind, "kind"))
    leader_id: int = Field(foreign_key="person.id", index=True)
    place_id: int | None = Field(default=None, foreign_key="place.id")
    started_at: datetime
    ends_by: datetime
    shift_ends_at: datetime | None = Field(default=None)
    closed_at: datetime | None = Field(default=None, index=True)
    closed_by: int | None = Field(default=None, foreign_key="person.id")
    close_note: str = Field(default="", max_length=2000)
    note: str = Field(default="", max_length=2000)
    created_at: datetime
    version: int = Field(default=1)


class JobPerson(SQLModel, table=True):
    """Who may tap their name on this job's tablet."""

    __tablename__ = "job_person"

    job_id: int = Field(primary_key=True, foreign_key="job.id")
    person_id: int = Field(primary_key=True, foreign_key="person.id")
    added_at: datetime
