"""What is known of a room's air in words, for its page and for the page Air."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from service.core.materials import Unknown
from service.records.rooms import AirFrom, RoomAir
from service.web.render import number

FROM_WORDS = [
    (AirFrom.FAN.value, "A fan"),
    (AirFrom.OPENINGS.value, "Windows and doors"),
    (AirFrom.NOT_KNOWN.value, "Not known"),
]


def shown(value: int | None, parts: int) -> str | None:
    return None if value is None else number(Decimal(value) / parts)


def air_facts(row: RoomAir | None) -> list[tuple[str, Any]]:
    """The rows of the room's page; ``None`` is shown as not known."""
    if row is None:
        return [("Size", None), ("Fresh air", None), ("Temperature at work", None)]

    def with_unit(value: int | None, parts: int, unit: str) -> str | None:
        told = shown(value, parts)
        return None if told is None else f"{told} {unit}"

    moved = dict(FROM_WORDS)[row.air_from.value]
    exhaust = {Unknown.YES: "yes", Unknown.NO: "no"}.get(row.local_exhaust)
    return [
        ("Size", with_unit(row.volume_l, 1000, "m³")),
        ("Fresh air", with_unit(row.fresh_air_l_h, 1000, "m³ an hour")),
        ("It comes by", None if row.air_from is AirFrom.NOT_KNOWN else moved),
        ("Mixing factor", shown(row.mixing_tenths, 10)),
        ("Temperature at work", with_unit(row.temperature_tenths, 10, "°C")),
        ("Exhaust at the bench", exhaust),
    ]
