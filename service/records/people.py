"""People, how they sign in, and the tablets and scripts that act for them."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint
from sqlmodel import Field, SQLModel

from service.core.access import Role
from service.records.base import enum_by_value


class LinkPurpose(StrEnum):
    """What a one-time address is for. The first two are answered on this machine only."""

    SIGN_IN = "sign-in"
    FIRST_KEEPER = "first-keeper"
    PASSWORD = "password"
    DEVICE = "device"


class Person(SQLModel, table=True):
    """Somebody who is named in the books. Never deleted; `active` is switched off.

    `is_script` marks the name a script's entries are booked to: it has no password and no PIN.
    """

    __tablename__ = "person"
    __table_args__ = (CheckConstraint("length(name) between 1 and 120", name="name_length"),)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120)
    sign_in_name: str | None = Field(default=None, max_length=60, unique=True)
    role: Role = Field(sa_type=enum_by_value(Role, "role"))
    password_hash: str | None = Field(default=None, max_length=300)
    pin_hash: str | None = Field(default=None, max_length=300)
    active: bool = Field(default=True)
    expires_on: date | None = Field(default=None)
    email: str | None = Field(default=None, max_length=200)
    theme: str = Field(default="auto", max_length=8)
    is_script: bool = Field(default=False)
    created_at: datetime
    version: int = Field(default=1)


class Device(SQLModel, table=True):
    """A shared tablet signed in as itself; each posting from it names a person of the job."""

    __tablename__ = "device"

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=120)
    place_id: int | None = Field(default=None, foreign_key="place.id")
    active: bool = Field(default=True)
    created_by: int = Field(foreign_key="person.id")
    created_at: datetime
    version: int = Field(default=1)


class WebSession(SQLModel, table=True):
    """A server-side sign-in. Only the token's hash is kept, so the table cannot be used to sign in.

    On a device's session `tapped_person_id` is who tapped a name and gave the PIN, until `tapped_until`.
    """

    __tablename__ = "web_session"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(max_length=64, unique=True)
    person_id: int | None = Field(default=None, foreign_key="person.id", index=True)
    device_id: int | None = Field(default=None, foreign_key="device.id", index=True)
    created_at: datetime
    last_seen_at: datetime
    expires_at: datetime
    ended_at: datetime | None = Field(default=None)
    user_agent: str = Field(default="", max_length=200)
    flash: str = Field(default="", max_length=2000)
    tapped_person_id: int | None = Field(default=None, foreign_key="person.id")
    tapped_until: datetime | None = Field(default=None)


class ApiToken(SQLModel, table=True):
    """A bearer token for a script, with a role of its own; only its hash is kept."""

    __tablename__ = "api_token"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(max_length=64, unique=True)
    label: str = Field(max_length=120)
    role: Role = Field(sa_type=enum_by_value(Role, "role"))
    person_id: int = Field(foreign_key="person.id", index=True)
    created_at: datetime
    last_used_at: datetime | None = Field(default=None)
    ended_at: datetime | None = Field(default=None)


class SignInLink(SQLModel, table=True):
    """A one-time address: works once, for a short time, confirmed by a POST; only its hash is kept."""

    __tablename__ = "sign_in_link"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(max_length=64, unique=True)
    purpose: LinkPurpose = Field(sa_type=enum_by_value(LinkPurpose, "purpose"))
    person_id: int | None = Field(default=None, foreign_key="person.id")
    device_id: int | None = Field(default=None, foreign_key="device.id")
    created_at: datetime
    expires_at: datetime
    used_at: datetime | None = Field(default=None)


class Throttle(SQLModel, table=True):
    """Wrong tries per account and per address; five free, then doubling waits up to fifteen minutes."""

    __tablename__ = "throttle"

    kind: str = Field(primary_key=True, max_length=20)
    key: str = Field(primary_key=True, max_length=200)
    failures: int = Field(default=0)
    wait_until: datetime | None = Field(default=None)
    last_at: datetime
