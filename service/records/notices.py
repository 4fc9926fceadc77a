"""Which mail a person wants in the morning, secret addresses of calendars and mails, what was told."""

from datetime import date, datetime

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
    """A secret address that a calendar program reads without signing in; only its token's hash is kept.

    `ended_why`: "left" where its person was switched off; what it told is told as cancelled from then on.
    """

    __tablename__ = "calendar_feed"

    id: int | None = Field(default=None, primary_key=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    token_hash: str = Field(max_length=64, unique=True)
    created_at: datetime
    ended_at: datetime | None = Field(default=None)
    ended_why: str | None = Field(default=None, max_length=8)
    last_read_at: datetime | None = Field(default=None)


class CalendarTold(SQLModel, table=True):
    """What one address told last under one number; a row is never removed, so that no number goes back."""

    __tablename__ = "calendar_told"

    feed_id: int = Field(primary_key=True, foreign_key="calendar_feed.id")
    uid: str = Field(primary_key=True, max_length=60)
    kind: str = Field(max_length=8)
    day: date
    title: str = Field(max_length=400)
    page: str = Field(max_length=200)
    sequence: int
    stamp: datetime
    cancelled_at: datetime | None = Field(default=None)


class MailLeave(SQLModel, table=True):
    """A secret address in one mail, by which one person leaves one kind out of it; only the hash is kept.

    `kind` is a kind of alert, or "all". It serves for nothing else.
    """

    __tablename__ = "mail_leave"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(max_length=64, unique=True)
    person_id: int = Field(foreign_key="person.id", index=True)
    kind: str = Field(max_length=32)
    created_at: datetime
    used_at: datetime | None = Field(default=None)
