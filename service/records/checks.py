"""Recurring checks of the shop, what was found at each, and who was taught what."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Column, ForeignKey
from sqlmodel import Field, SQLModel

from service.core.recurring_checks import Counted, Result, Unit
from service.core.training import Group
from service.records.base import BigId, enum_by_value


class RecurringCheck(SQLModel, table=True):
    """Something this shop looks at again and again. Never deleted; it ends with `until`."""

    __tablename__ = "recurring_check"
    __table_args__ = (
        CheckConstraint("length(what) between 1 and 120", name="what_length"),
        CheckConstraint("times between 1 and 60", name="times_range"),
        CheckConstraint("until is null or until >= since", name="days_in_order"),
    )

    id: int | None = Field(default=None, primary_key=True)
    # The row of the table it came from (recurring_checks.csv); None = the shop's own.
    known_key: str | None = Field(default=None, max_length=60)
    what: str = Field(max_length=120)
    look_at: str = Field(default="", max_length=500)
    place_id: int | None = Field(default=None, foreign_key="place.id", index=True)
    unit: Unit = Field(sa_type=enum_by_value(Unit, "unit"))
    times: int = Field(default=1)
    counted: Counted = Field(sa_type=enum_by_value(Counted, "counted"))
    # "house policy", or the rule that gives the interval.
    source: str = Field(max_length=300)
    owner_id: int = Field(foreign_key="person.id")
    since: date
    until: date | None = Field(default=None, index=True)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class CheckDone(SQLModel, table=True):
    """One check made, or one taken back (`reverses_id`). Only added to."""

    __tablename__ = "check_done"

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False, index=True))
    check_id: int = Field(foreign_key="recurring_check.id", index=True)
    result: Result = Field(sa_type=enum_by_value(Result, "result"))
    # What was found, or why it is taken back; then what was done about it.
    sentence: str = Field(default="", max_length=2000)
    done_about: str = Field(default="", max_length=2000)
    photo_sha256: str | None = Field(default=None, foreign_key="stored_file.sha256")
    reverses_id: int | None = Field(default=None, foreign_key="check_done.id", unique=True)
    person_id: int = Field(foreign_key="person.id")
    on_day: date
    happened_at: datetime
    recorded_at: datetime
    late: bool = Field(default=False)
    late_reason: str = Field(default="", max_length=2000)


class Training(SQLModel, table=True):
    """One person taught about one group on one day, or such an entry taken back. Only added to."""

    __tablename__ = "training"

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False, index=True))
    person_id: int = Field(foreign_key="person.id", index=True)
    material_group: Group = Field(sa_type=enum_by_value(Group, "material_group"))
    topic: str = Field(max_length=300)
    on_day: date
    taught_by: str = Field(max_length=120)
    note: str = Field(default="", max_length=2000)
    reverses_id: int | None = Field(default=None, foreign_key="training.id", unique=True)
    recorded_by: int = Field(foreign_key="person.id")
    recorded_at: datetime
    late: bool = Field(default=False)
    late_reason: str = Field(default="", max_length=2000)
