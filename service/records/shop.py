"""The shop profile: zone, regime, units, rag grace, shifts, and the shop's own emergency text."""

from datetime import datetime, time
from typing import Any

from sqlalchemy import JSON, CheckConstraint
from sqlmodel import Field, SQLModel


class ShopProfile(SQLModel, table=True):
    """One row, id 1."""

    __tablename__ = "shop_profile"
    __table_args__ = (
        CheckConstraint("id = 1", name="single_row"),
        CheckConstraint("rag_grace_min between 0 and 120", name="rag_grace_range"),
    )

    id: int = Field(default=1, primary_key=True)
    name: str = Field(max_length=120)
    time_zone: str = Field(default="UTC", max_length=64)
    regime: str = Field(default="us-hcs", max_length=16)
    unit_system: str | None = Field(default=None, max_length=16)
    rag_profile: str = Field(default="strict", max_length=32)
    rag_grace_min: int = Field(default=0)
    # Three letters of ISO 4217; None = prices are not kept.
    currency: str | None = Field(default=None, max_length=3)
    # The storage tables a keeper chose, by their words; None = nobody chose, and all of the law's hold.
    storage_rules: list[Any] | None = Field(default=None, sa_type=JSON)
    emergency_text: str = Field(default="", max_length=8000)
    is_demo: bool = Field(default=False)
    created_at: datetime
    version: int = Field(default=1)


class EmergencyNumber(SQLModel, table=True):
    """A telephone number on the spill-or-fire page, the shop's own."""

    __tablename__ = "emergency_number"

    id: int | None = Field(default=None, primary_key=True)
    position: int = Field(default=0)
    who: str = Field(max_length=120)
    number: str = Field(max_length=60)


class Shift(SQLModel, table=True):
    """A working stretch in local wall-clock time; weekday 0 is Monday."""

    __tablename__ = "shift"
    __table_args__ = (CheckConstraint("weekday between 0 and 6", name="weekday_range"),)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=60)
    weekday: int
    starts: time
    ends: time


class BookClock(SQLModel, table=True):
    """One row: the last recorded instant. Recorded time never decreases, even if the machine's clock does."""

    __tablename__ = "book_clock"
    __table_args__ = (CheckConstraint("id = 1", name="single_row"),)

    id: int = Field(default=1, primary_key=True)
    last_recorded_at: datetime


class Change(SQLModel, table=True):
    """Append-only: who changed which description from what to what. Amounts are never changed this way."""

    __tablename__ = "change"

    id: int | None = Field(default=None, primary_key=True)
    about_kind: str = Field(max_length=32)
    about_id: int
    field: str = Field(max_length=60)
    before: str | None = Field(default=None, max_length=4000)
    after: str | None = Field(default=None, max_length=4000)
    reason: str = Field(default="", max_length=2000)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    changed_at: datetime
