"""Channels by which warnings reach people, the messages that leave by them, and when somebody last looked."""

from datetime import datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import JSON, CheckConstraint, Index
from sqlmodel import Field, SQLModel

from service.records.base import enum_by_value


class ChannelKind(StrEnum):
    """Mail over the shop's mail server, or the address of a notification service."""

    MAIL = "mail"
    SERVICE = "service"


class MessageState(StrEnum):
    """Waiting to be sent (or sent again), sent, refused for good, or not needed any more."""

    WAITING = "waiting"
    SENT = "sent"
    REFUSED = "refused"
    DROPPED = "dropped"


class Channel(SQLModel, table=True):
    """One way to one person, or to the shop as a whole (no person). Never deleted; `active` is switched off.

    `address` is a secret for a notification service. A person's mail goes to the address that stands in the
    book of people; for mail it is empty here unless it is the shop's. `test_key` is the outbox key of the
    last test message; `test_ok` is None while it is under way.
    """

    __tablename__ = "channel"
    __table_args__ = (CheckConstraint("length(label) between 1 and 120", name="label_length"),)

    id: int | None = Field(default=None, primary_key=True)
    kind: ChannelKind = Field(sa_type=enum_by_value(ChannelKind, "channel_kind"))
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    label: str = Field(max_length=120)
    address: str = Field(default="", max_length=1000)
    active: bool = Field(default=True)
    created_by: int | None = Field(default=None, foreign_key="person.id")
    created_at: datetime
    test_key: str = Field(default="", max_length=200)
    tested_at: datetime | None = Field(default=None)
    test_ok: bool | None = Field(default=None)
    last_sent_at: datetime | None = Field(default=None)
    last_failed_at: datetime | None = Field(default=None)
    last_error: str = Field(default="", max_length=300)
    version: int = Field(default=1)


class OutboxRow(SQLModel, table=True):
    """One message by one channel. `key` names rule, thing, stage, person and channel: there is one row of it.

    `message_id` never changes, however often it is sent. A row is claimed before it is sent; a claim lapses,
    so that what a killed sender held is sent by the next one.
    """

    __tablename__ = "outbox"
    __table_args__ = (Index("ix_outbox_state_next_try_at", "state", "next_try_at"),)

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(max_length=200, unique=True)
    rule: str = Field(max_length=32)
    stage: str = Field(max_length=32)
    load_id: int | None = Field(default=None, foreign_key="rag_load.id", index=True)
    person_id: int | None = Field(default=None, foreign_key="person.id")
    channel_id: int = Field(foreign_key="channel.id", index=True)
    message_id: str = Field(max_length=250)
    subject: str = Field(max_length=200)
    body: str = Field(max_length=20_000)
    facts: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    due_at: datetime
    created_at: datetime
    state: MessageState = Field(
        default=MessageState.WAITING, sa_type=enum_by_value(MessageState, "message_state")
    )
    attempts: int = Field(default=0)
    next_try_at: datetime
    claimed_by: str | None = Field(default=None, max_length=60)
    claimed_until: datetime | None = Field(default=None)
    sent_at: datetime | None = Field(default=None)
    last_error: str = Field(default="", max_length=300)


class WarningRound(SQLModel, table=True):
    """One row: when somebody last looked for warnings to send. Silence of the sender must show."""

    __tablename__ = "warning_round"
    __table_args__ = (CheckConstraint("id = 1", name="single_row"),)

    id: int = Field(default=1, primary_key=True)
    looked_at: datetime
    failed: int = Field(default=0)
