"""Rag loads with their stored clocks, the hash-chained rag log, witnessed heads and keeper overrides."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, Column, ForeignKey, UniqueConstraint
from sqlmodel import Field, SQLModel

from service.core.oily_things import OilyThing, Way
from service.records.base import BigId, enum_by_value


class RagLoad(SQLModel, table=True):
    """The oily rags of one job. Clocks are settled when made; triggers let them move earlier, never later."""

    __tablename__ = "rag_load"
    __table_args__ = (UniqueConstraint("job_id", "number"),)

    id: int | None = Field(default=None, primary_key=True)
    job_id: int = Field(foreign_key="job.id", index=True)
    number: int = Field(default=1)
    profile: str = Field(max_length=32)
    made_at: datetime
    used_until: datetime
    contain_by: datetime
    remove_by: datetime
    because: list[Any] = Field(sa_type=JSON)
    owed_by: int = Field(foreign_key="person.id", index=True)
    # Caches of the log, re-derived by the ledger check.
    last_step: str = Field(default="", max_length=20)
    contained: bool = Field(default=False)
    ended_at: datetime | None = Field(default=None, index=True)


class RagLogRow(SQLModel, table=True):
    """One entry of the chained log. `body` is the canonical text that was hashed. Append-only."""

    __tablename__ = "rag_log"

    id: int | None = Field(default=None, sa_column=Column(BigId, primary_key=True, autoincrement=False))
    kind: str = Field(max_length=32)
    load_id: int | None = Field(default=None, foreign_key="rag_load.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    posting_id: int | None = Field(
        default=None, sa_column=Column(BigId, ForeignKey("posting.id"), nullable=True)
    )
    happened_at: datetime
    recorded_at: datetime
    body: str
    prev_hash: str = Field(max_length=64)
    hash: str = Field(max_length=64)


class RagChainHead(SQLModel, table=True):
    """One row, locked while an entry is added, so that two writers never fork the chain."""

    __tablename__ = "rag_chain_head"

    id: int = Field(default=1, primary_key=True)
    count: int = Field(default=0)
    hash: str = Field(max_length=64)


class WitnessedHead(SQLModel, table=True):
    """That a head (count, hash, time) was put on paper or elsewhere outside the database. Append-only."""

    __tablename__ = "witnessed_head"

    id: int | None = Field(default=None, primary_key=True)
    count: int
    hash: str = Field(max_length=64)
    at: datetime
    where: str = Field(max_length=120)
    person_id: int | None = Field(default=None, foreign_key="person.id")


class Override(SQLModel, table=True):
    """A keeper lets one named draw or batch happen while rags are overdue. Append-only."""

    __tablename__ = "override"

    id: int | None = Field(default=None, primary_key=True)
    keeper_id: int = Field(foreign_key="person.id")
    job_id: int = Field(foreign_key="job.id")
    container_id: int | None = Field(default=None, foreign_key="container.id")
    recipe_id: int | None = Field(default=None, foreign_key="recipe.id")
    batch_id: int | None = Field(default=None, foreign_key="batch.id")
    reason: str = Field(max_length=2000)
    created_at: datetime
    until: datetime


class OverrideUse(SQLModel, table=True):
    """The one posting an override was used for. Append-only."""

    __tablename__ = "override_use"

    override_id: int = Field(primary_key=True, foreign_key="override.id")
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False))


class RagHand(SQLModel, table=True):
    """Pieces handed out for a job or handed in again. Append-only; the rag log holds each of them too."""

    __tablename__ = "rag_hand"

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False))
    job_id: int = Field(foreign_key="job.id", index=True)
    way: Way = Field(sa_type=enum_by_value(Way, "way"))
    thing: OilyThing = Field(sa_type=enum_by_value(OilyThing, "thing"))
    pieces: int
    person_id: int = Field(foreign_key="person.id")
    at: datetime


class DayClosing(SQLModel, table=True):
    """That a keeper closed a shop day, and the head of the rag log then. The newest of a day counts."""

    __tablename__ = "day_closing"

    id: int | None = Field(default=None, primary_key=True)
    posting_id: int = Field(sa_column=Column(BigId, ForeignKey("posting.id"), nullable=False))
    day: date = Field(index=True)
    closed_by: int = Field(foreign_key="person.id")
    closed_at: datetime
    note: str = Field(default="", max_length=2000)
    entries: int
    hash: str = Field(max_length=64)
