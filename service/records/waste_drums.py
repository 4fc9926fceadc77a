"""Drums of waste, what happened to each, and what a keeper told of the site. All of it only added to."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Column, ForeignKey
from sqlmodel import Field, SQLModel

from service.core.materials import Unknown
from service.core.waste_drums import Area, DrumStep
from service.core.waste_rules import Category
from service.records.base import BigId, Smallest, enum_by_value


class WasteDrum(SQLModel, table=True):
    """A drum as it was begun; what became of it stands in its entries. Append-only."""

    __tablename__ = "waste_drum"
    __table_args__ = (CheckConstraint("length(name) between 1 and 120", name="name_length"),)

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False))
    name: str = Field(max_length=120)
    place_id: int | None = Field(default=None, foreign_key="place.id", index=True)
    # What is in it, and its hazards, in words as they stand on its label.
    stream: str = Field(max_length=300)
    hazards: str = Field(max_length=300)
    area: Area = Field(sa_type=enum_by_value(Area, "area"))
    acute: Unknown = Field(sa_type=enum_by_value(Unknown, "acute"))
    capacity_ul: int | None = Field(default=None, sa_type=Smallest)
    capacity_written: str = Field(default="", max_length=60)
    # Each: code, applies (true, null: not known), why, citation, grade; judged then, or written by a keeper.
    codes: list[Any] = Field(sa_type=JSON)
    codes_reason: str = Field(default="", max_length=2000)
    begun_on: date
    person_id: int = Field(foreign_key="person.id")
    recorded_at: datetime


class WasteDrumEntry(SQLModel, table=True):
    """One thing that happened to a drum, or one that takes such an entry back. Append-only."""

    __tablename__ = "waste_drum_entry"

    id: int | None = Field(default=None, sa_column=Column(BigId, primary_key=True))
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False, index=True))
    drum_id: int = Field(foreign_key="waste_drum.id", index=True)
    step: DrumStep = Field(sa_type=enum_by_value(DrumStep, "step"))
    on_day: date
    mass_mg: int | None = Field(default=None, sa_type=Smallest)
    volume_ul: int | None = Field(default=None, sa_type=Smallest)
    written: str = Field(default="", max_length=200)
    what: str = Field(default="", max_length=300)
    # The movement of the store it came with: mass and volume are then that movement's.
    movement_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("movement.id"), nullable=True, index=True)
    )
    load_id: int | None = Field(default=None, foreign_key="rag_load.id")
    job_id: int | None = Field(default=None, foreign_key="job.id")
    # Of a move: where it stands since; null: nobody told. Without a foreign key, see the migration 0020.
    place_id: int | None = Field(default=None)
    receiver: str = Field(default="", max_length=300)
    transporter: str = Field(default="", max_length=300)
    paper: str = Field(default="", max_length=120)
    note: str = Field(default="", max_length=2000)
    reverses_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("waste_drum_entry.id"), nullable=True, unique=True)
    )
    person_id: int = Field(foreign_key="person.id")
    happened_at: datetime
    recorded_at: datetime
    late: bool = Field(default=False)
    late_reason: str = Field(default="", max_length=2000)


class WasteSite(SQLModel, table=True):
    """Generator category and way to the receiver, as a keeper told them; the newest counts. Append-only."""

    __tablename__ = "waste_site"
    __table_args__ = (CheckConstraint("haul_miles between 0 and 20000", name="haul_range"),)

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False))
    category: Category | None = Field(default=None, sa_type=enum_by_value(Category, "category"))
    haul_miles: int | None = Field(default=None)
    reason: str = Field(max_length=2000)
    person_id: int = Field(foreign_key="person.id")
    recorded_at: datetime
