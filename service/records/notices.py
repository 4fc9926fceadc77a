"""Which mail a person wants in the morning, and the secret addresses of their calendar."""

from datetime import datetime

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel


class DigestChoice(SQLModel, table=True):
    """What a person chose about the morning mail; without a row: everything, and no quiet hours.

    `quiet_from` and `quiet_until` are hours of the wall clock, "22:00"; either both or none. `kinds_off` are
    kinds of alert they do not want in it; what must stop somebody is never among them.
    """

    __tablename__ = "digest_choice"

    person_id: int = Field(primary_key=True, foreign_key="person.id")
    wanted: bool = Field(default=True)
    quiet_from: str | None = Field(default=None, max_length=5)
    quiet_until: str | None = Field(default=None, max_length=5)
    kinds_off: list[str] = Field(default_factory=list, sa_type=JSON)
    version: int = Field(default=1)


class CalendarFeed(SQLModel, table=True):
    """A secret address that a calendar program reads without signing in; only its token's hash is kept."""

    __tablename__ = "calendar_feed"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    token_hash: str = Field(max_length=64, unique=True)
    created_at: datetime
    ended_at: datetime | None = Field(default=None)
    last_read_at: datetime | None = Field(default=None)
