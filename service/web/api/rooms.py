"""`/api/places/{id}/air`: what is known of a room's air."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.actions.arrange_places import the_place
from service.actions.describe_room import RoomAsked, describe_room
from service.core.materials import Unknown
from service.records.rooms import AirFrom, air_of
from service.web.access_gate import Signed
from service.web.api.posting import PROBLEMS, PostModel, acting_for
from service.web.deps import Data, Now
from service.web.fields import Id, Note, Version

router = APIRouter(prefix="/api/places", tags=["places"], responses=PROBLEMS)


class RoomIn(PostModel):
    """A room's air as it is to stand; what is left out is not known. ``version``: as shown, 0 for none."""

    version: Version = 0
    volume_m3: Annotated[Decimal, Field(gt=0, le=1_000_000)] | None = None
    fresh_air_m3_h: Annotated[Decimal, Field(ge=0, le=1_000_000)] | None = None
    air_from: AirFrom = AirFrom.NOT_KNOWN
    mixing_factor: Annotated[Decimal, Field(gt=0, le=1000)] | None = None
    temperature_c: Annotated[Decimal, Field(ge=-100, le=100)] | None = None
    local_exhaust: Unknown = Unknown.NOT_KNOWN
    note: Note = ""


class RoomMade(BaseModel):
    place: int
    name: str
    version: int


class RoomOut(BaseModel):
    """``null`` is not known."""

    place: int
    name: str
    volume_m3: float | None
    fresh_air_m3_h: float | None
    air_from: AirFrom
    mixing_factor: float | None
    temperature_c: float | None
    local_exhaust: Unknown
    note: str
    version: int
    set_at: datetime | None


@router.get("/{place_id}/air", summary="What is known of a room's air")
def look(place_id: Id, data: Data, actor: Signed) -> RoomOut:
    """All of it not known where nobody wrote it down."""
    with data.reading() as session:
        place, row = the_place(session, place_id), air_of(session, place_id)
        return RoomOut(
            place=place_id,
            name=place.name,
            volume_m3=_parts(row.volume_l if row else None, 1000),
            fresh_air_m3_h=_parts(row.fresh_air_l_h if row else None, 1000),
            air_from=row.air_from if row else AirFrom.NOT_KNOWN,
            mixing_factor=_parts(row.mixing_tenths if row else None, 10),
            temperature_c=_parts(row.temperature_tenths if row else None, 10),
            local_exhaust=row.local_exhaust if row else Unknown.NOT_KNOWN,
            note=row.note if row else "",
            version=row.version if row else 0,
            set_at=row.set_at if row else None,
        )


@router.post("/{place_id}/air", status_code=201, summary="Write down a room's air")
def write(place_id: Id, asked: RoomIn, data: Data, now: Now, actor: Signed) -> RoomMade:
    """Each change is kept with before and after. Keepers only."""
    wanted = RoomAsked(
        asked.once,
        asked.version,
        asked.volume_m3,
        asked.fresh_air_m3_h,
        asked.air_from,
        asked.mixing_factor,
        asked.temperature_c,
        asked.local_exhaust,
        asked.note,
    )
    with data.writing() as session:
        person = acting_for(session, actor, asked.person, now)
        return RoomMade(**describe_room(session, person, now, place_id, wanted).result)


def _parts(value: int | None, parts: int) -> float | None:
    return None if value is None else value / parts
