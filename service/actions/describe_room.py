"""What a keeper writes down of a room's air: its size, its fresh air, how warm it is; each change is kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Stale
from service.core.materials import Unknown
from service.records.places import Place, PlaceKind
from service.records.rooms import AirFrom, RoomAir

LARGEST_M3: Final = Decimal(1_000_000)
MOST_AIR_M3_H: Final = Decimal(1_000_000)
MOST_MIXING: Final = Decimal(20)
COLDEST_C, WARMEST_C = Decimal(-20), Decimal(60)
_FIELDS: Final = (
    "volume_l", "fresh_air_l_h", "air_from", "mixing_tenths", "temperature_tenths", "local_exhaust", "note",
)  # fmt: skip


@dataclass(frozen=True)
class RoomAsked:
    """A room's air as it is to stand. ``None`` is not known, and never counts as enough.

    Args:
        volume_m3: above 0 to a million.
        fresh_air_m3_h: fresh air, not air that goes round, 0 to a million.
        mixing_factor: 1 (perfect) to 20; None counts as 10.
        temperature_c: how warm it is while people work in it, -20 to 60.
        local_exhaust: there is a hood, a booth or an arm that takes vapour away where it rises.
        version: of the row that was shown; 0 where there was none.
    """

    once: str
    version: int = 0
    volume_m3: Decimal | None = None
    fresh_air_m3_h: Decimal | None = None
    air_from: AirFrom = AirFrom.NOT_KNOWN
    mixing_factor: Decimal | None = None
    temperature_c: Decimal | None = None
    local_exhaust: Unknown = Unknown.NOT_KNOWN
    note: str = ""

    def values(self) -> dict[str, Any]:
        """The columns of the row this describes: whole litres and tenths."""
        return {
            "volume_l": _whole(self.volume_m3, 1000),
            "fresh_air_l_h": _whole(self.fresh_air_m3_h, 1000),
            "air_from": self.air_from,
            "mixing_tenths": _whole(self.mixing_factor, 10),
            "temperature_tenths": _whole(self.temperature_c, 10),
            "local_exhaust": self.local_exhaust,
            "note": self.note.strip(),
        }


def describe_room(session: Session, actor: Actor, now: datetime, place_id: int, asked: RoomAsked) -> Settled:
    """Write down a room's air; answers ``place``, ``name``, ``version``.

    Raises:
        NotAllowed: only a keeper describes rooms.
        NotFound: no such place.
        Invalid: it is no room, or a figure is out of range; `errors` names the field.
        Stale: it was changed since the form was opened.
    """
    require(actor, Permission.PROFILES)
    body = {key: getattr(value, "value", value) for key, value in asked.values().items()}
    sent = Sent(asked.once, "describe-room", body | {"place": place_id, "version": asked.version})
    return settle(session, actor, sent, now, lambda act: _write(act, actor, place_id, asked))


def _write(act: Act, actor: Actor, place_id: int, asked: RoomAsked) -> dict[str, Any]:
    place = act.session.get(Place, place_id, with_for_update=True, populate_existing=True)
    if place is None:
        raise NotFound(f"There is no place number {place_id}.")
    if place.kind is not PlaceKind.ROOM:
        raise Invalid(f"{place.name} is no room. Describe the air of the room it stands in.")
    _judge(asked)
    row = act.session.get(RoomAir, place_id, populate_existing=True)
    if (row.version if row else 0) != asked.version:
        raise Stale(f"The air of {place.name} was changed meanwhile. Open it again and enter it once more.")
    if row is None:
        row = RoomAir(place_id=place_id, set_by=actor.person_id, set_at=act.recorded_at, version=0)
    for field, after in asked.values().items():
        note_change(
            act.session, actor, act.recorded_at, ("place", place_id), field.replace("_", " "),
            getattr(row, field), after,
        )  # fmt: skip
        setattr(row, field, after)
    row.set_by, row.set_at, row.version = actor.person_id, act.recorded_at, row.version + 1
    act.session.add(row)
    act.session.flush()
    return {"place": place_id, "name": place.name, "version": row.version}


def _judge(asked: RoomAsked) -> None:
    bounds = (
        ("volume_m3", asked.volume_m3, Decimal("0.1"), LARGEST_M3, "m³ of the room"),
        ("fresh_air_m3_h", asked.fresh_air_m3_h, Decimal(0), MOST_AIR_M3_H, "m³ of fresh air an hour"),
        ("temperature_c", asked.temperature_c, COLDEST_C, WARMEST_C, "°C"),
    )
    for field, value, least, most, what in bounds:
        if value is not None and not least <= value <= most:
            raise _wrong(field, f"Enter {least} to {most} {what}, or leave it empty: not known.")
    factor = asked.mixing_factor
    if factor is not None and not 1 <= factor <= MOST_MIXING:
        raise _wrong(
            "mixing_factor",
            "The mixing factor is 1 (air mixes perfectly) to 20; a room with a planned fan has about 3. "
            "An efficiency below 1 is its inverse: write 5 for 0.2.",
        )


def _wrong(field: str, sentence: str) -> Invalid:
    return Invalid(sentence, {field: sentence})


def _whole(value: Decimal | None, times: int) -> int | None:
    return None if value is None else round(value * times)
