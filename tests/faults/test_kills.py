"""The plug is pulled: the service is killed a hundred times while eight people write, on both engines."""

from __future__ import annotations

import json
from collections.abc import Callable

from tests.faults.how_many import how_many
from tests.faults.kills import kill_rounds
from tests.faults.served import Served
from tests.faults.stand import Stand

KILLS = how_many(100, 1000)
KILLS_POSTGRES = how_many(10, 100)


def test_a_hundred_kills_lose_nothing(
    sqlite_stand: Stand, serving: Callable[..., Served], record_property: Callable[[str, object], None]
) -> None:
    service = serving(sqlite_stand)
    report = kill_rounds(sqlite_stand, service, KILLS, 20261126, service.kill, service.start)
    record_property("kills", json.dumps(report.as_dict()))
    assert report.acknowledged > 5 * KILLS, "so few answers show nothing"
    assert report.unanswered > KILLS / 4, "no kill came between a question and its answer"


def test_a_service_killed_on_postgresql_loses_nothing(
    postgres_stand: Stand, serving: Callable[..., Served]
) -> None:
    service = serving(postgres_stand)
    report = kill_rounds(postgres_stand, service, KILLS_POSTGRES, 7, service.kill, service.start)
    assert report.acknowledged > 5 * KILLS_POSTGRES
