"""The air of a room: its size, its fresh air, how warm it is. What nobody measured is ``None``."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, SQLModel, col, select

from service.core.materials import Unknown
from service.records.base import enum_by_value
from service.records.places import Place, PlaceKind


class AirFrom(StrEnum):
    """What moves the air: a fan, or openings through which it comes only while it blows."""

    FAN = "fan"
    OPENINGS = "openings"
    NOT_KNOWN = "not-known"


class RoomAir(SQLModel, table=True):
    """One row a room, whole litres, litres an hour, tenths of a mixing factor, tenths of °C."""

    __tablename__ = "room_air"
    __table_args__ = (
        CheckConstraint("volume_l is null or volume_l > 0", name="volume_above_zero"),
        CheckConstraint("fresh_air_l_h is null or fresh_air_l_h >= 0", name="air_not_below_zero"),
        CheckConstraint("mixing_tenths is null or mixing_tenths >= 10", name="mixing_at_least_one"),
    )

    place_id: int = Field(primary_key=True, foreign_key="place.id")
    volume_l: int | None = Field(default=None)
    fresh_air_l_h: int | None = Field(default=None)
    air_from: AirFrom = Field(default=AirFrom.NOT_KNOWN, sa_type=enum_by_value(AirFrom, "air_from"))
    mixing_tenths: int | None = Field(default=None)
    temperature_tenths: int | None = Field(default=None)
    local_exhaust: Unknown = Field(default=Unknown.NOT_KNOWN, sa_type=enum_by_value(Unknown, "local_exhaust"))
    note: str = Field(default="", max_length=2000)
    set_by: int = Field(foreign_key="person.id")
    set_at: datetime
    version: int = Field(default=1)


def air_of(session: Session, place_id: int) -> RoomAir | None:
    """What is written down of a room's air; ``None``: nothing."""
    return session.get(RoomAir, place_id)


def rooms(session: Session) -> list[Place]:
    """Every room in use, by name."""
    wanted = select(Place).where(col(Place.kind) == PlaceKind.ROOM, col(Place.active).is_(True))
    return sorted(session.exec(wanted).all(), key=lambda place: (place.name.casefold(), place.id or 0))
