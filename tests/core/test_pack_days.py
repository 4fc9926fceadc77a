"""When a day of the shop ended, where its time zone was changed."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from service.core.findings import Invalid
from service.core.inspection_pack import ZoneHeld, moment_of

NOW = datetime(2026, 3, 20, 9, tzinfo=UTC)
BEGAN = datetime(2026, 3, 1, 9, tzinfo=UTC)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 3, day, hour, minute, tzinfo=UTC)


def zones(*held: tuple[str, datetime | None]) -> list[ZoneHeld]:
    return [ZoneHeld(ZoneInfo(name), until) for name, until in held]


EAST = zones(("Etc/UTC", at(12, 13)), ("Pacific/Auckland", None))
WEST = zones(("Pacific/Auckland", at(12, 13)), ("Etc/UTC", None))
THREE = zones(("Etc/UTC", at(5, 12)), ("America/Chicago", at(10, 12)), ("Etc/UTC", None))


@pytest.mark.parametrize(
    ("held", "day", "ends"),
    [
        (EAST, 11, at(12, 0)),
        (EAST, 12, at(12, 13)),  # the change jumped over its midnight
        (EAST, 13, at(13, 11)),
        (WEST, 11, at(11, 11)),
        (WEST, 12, at(13, 0)),  # it was over at 11, came again with the change, and ended the second time
        (THREE, 4, at(5, 0)),
        (THREE, 5, at(6, 6)),
        (THREE, 9, at(10, 5)),
        (THREE, 10, at(11, 0)),
    ],
)
def test_a_day_ends_by_the_zone_the_shop_had_then(held: list[ZoneHeld], day: int, ends: datetime) -> None:
    moment = moment_of(date(2026, 3, day), NOW, held, BEGAN)
    assert moment.before == ends and moment.past


def test_the_first_day_is_by_the_first_zone_and_today_by_the_last() -> None:
    late = datetime(2026, 3, 1, 22, tzinfo=UTC)  # the second of March in Auckland
    assert moment_of(date(2026, 3, 1), NOW, EAST, late).before == at(2, 0)
    with pytest.raises(Invalid, match="begins on 2026-03-01"):
        moment_of(date(2026, 2, 28), NOW, EAST, late)
    evening = at(20, 13)  # the 21st in Auckland
    assert moment_of(None, evening, EAST, late).day == date(2026, 3, 21)
    assert moment_of(date(2026, 3, 21), evening, EAST, late).past is False
