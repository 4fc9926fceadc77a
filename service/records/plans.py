"""What a term is to make: the term with its free days, planned jobs, and each date of them."""

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, CheckConstraint, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.core.materials import Basis
from service.records.base import ExactDecimal, Smallest, enum_by_value


class Term(SQLModel, table=True):
    """A stretch of weeks that is planned and ordered for; both days are in it."""

    __tablename__ = "term"
    __table_args__ = (
        CheckConstraint("length(name) between 1 and 120", name="name_length"),
        CheckConstraint("last_day >= first_day", name="days_in_order"),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120)
    first_day: date = Field(index=True)
    last_day: date
    # Digits of the weekdays with lessons, 0 is Monday.
    weekdays: str = Field(default="01234", max_length=7)
    # Whose holidays are free (ISO 3166 codes); empty = none are asked.
    country: str = Field(default="", max_length=2)
    part: str = Field(default="", max_length=12)
    breaks: bool = Field(default=True)
    # [{"first": day, "last": day, "name": words}], and days with lessons though they would be free.
    free_days: list[Any] = Field(default_factory=list, sa_type=JSON)
    extra_days: list[Any] = Field(default_factory=list, sa_type=JSON)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class PlannedJobRow(SQLModel, table=True):
    """A job of a term: a recipe for so many people, each so much, and a spare; its days are in dates."""

    __tablename__ = "planned_job"
    __table_args__ = (
        CheckConstraint("heads between 1 and 10000", name="heads_range"),
        CheckConstraint("spare_percent between 0 and 500", name="spare_range"),
        CheckConstraint("each_amount is null or each_amount > 0", name="each_positive"),
    )

    id: int | None = Field(default=None, primary_key=True)
    term_id: int = Field(foreign_key="term.id", index=True)
    name: str = Field(max_length=120)
    recipe_id: int = Field(foreign_key="recipe.id", index=True)
    # None = the recipe as it stands when it is looked at.
    recipe_version_id: int | None = Field(default=None, foreign_key="recipe_version.id")
    heads: int
    # What each gets, as written: an amount of what the recipe makes, or so many times the recipe.
    each_written: str = Field(default="", max_length=200)
    each_amount: int | None = Field(default=None, sa_type=Smallest)
    each_basis: Basis | None = Field(default=None, sa_type=enum_by_value(Basis, "each_basis"))
    each_times: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    spare_percent: int = Field(default=0)
    # How its dates were laid over the term, in words.
    repeated: str = Field(default="", max_length=300)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class DateState(StrEnum):
    PLANNED = "planned"
    STARTED = "started"
    DROPPED = "dropped"


DATE_WORDS = {
    DateState.PLANNED: "planned",
    DateState.STARTED: "started as a batch",
    DateState.DROPPED: "dropped",
}


class PlannedDate(SQLModel, table=True):
    """One day of a planned job. `check_id`: the stock check made for it, from which a batch may start."""

    __tablename__ = "planned_date"
    __table_args__ = (
        UniqueConstraint("planned_job_id", "on_day"),
        CheckConstraint("state <> 'started' or batch_id is not null", name="started_has_batch"),
    )

    id: int | None = Field(default=None, primary_key=True)
    planned_job_id: int = Field(foreign_key="planned_job.id")
    on_day: date = Field(index=True)
    state: DateState = Field(default=DateState.PLANNED, sa_type=enum_by_value(DateState, "state"))
    batch_id: int | None = Field(default=None, foreign_key="batch.id", index=True)
    # No foreign key: a check is thrown away after some days.
    check_id: int | None = Field(default=None, index=True)
    version: int = Field(default=1)
