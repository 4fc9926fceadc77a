"""Dates follow the shop's wall, never the machine's; an hour is 3,600 seconds when the clocks change."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import select

from service.actions.draw_stock import DrawAsked, draw
from service.actions.list_alerts import list_alerts
from service.actions.run_job import JobAsked, open_job
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.rag_deadlines import clocks, day_end
from service.records.engine import Database
from service.records.rags import RagLoad
from service.records.stock import Container
from tests.builders import cast
from tests.store_builders import material, oil, once, received

ZONES = (
    "UTC",
    "Europe/Berlin",
    "America/St_Johns",
    "Asia/Kathmandu",
    "Pacific/Apia",
    "Pacific/Kiritimati",
    "Africa/Casablanca",
)


def midnights(zone: ZoneInfo, year: int = 2026) -> Iterator[datetime]:
    """Every midnight on the wall of a year, in UTC."""
    for number in range(365):
        day = date(year, 1, 1) + timedelta(days=number)
        yield datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(UTC)


def changes(zone: ZoneInfo, year: int = 2026) -> list[datetime]:
    """The instants at which the clocks change, to the hour."""
    hours = [datetime(year, 1, 1, tzinfo=UTC) + timedelta(hours=n) for n in range(365 * 24)]
    return [b for a, b in pairwise(hours) if a.astimezone(zone).utcoffset() != b.astimezone(zone).utcoffset()]


@pytest.mark.parametrize("name", ZONES)
def test_a_grace_of_an_hour_is_an_hour_over_both_changes(name: str) -> None:
    zone = ZoneInfo(name)
    at = changes(zone)
    assert len(at) == (2 if name in ("Europe/Berlin", "America/St_Johns", "Africa/Casablanca") else 0)
    for change in at or [datetime(2026, 3, 29, 1, tzinfo=UTC)]:
        for minutes in (-90, -59, -30, -1, 0, 1, 30):
            used = change + timedelta(minutes=minutes)
            due = clocks(used_until=used, job_ends=None, shift_ends=None, zone=zone, grace_min=60)
            assert (due.contain_by - used).total_seconds() == 3600
            assert used < due.remove_by <= used + timedelta(hours=25)
            assert due.remove_by.astimezone(zone).date() > used.astimezone(zone).date()


@pytest.mark.parametrize("name", ZONES)
def test_days_of_23_and_25_hours_end_at_their_own_midnight(name: str) -> None:
    zone = ZoneInfo(name)
    starts = list(midnights(zone))
    lengths = {(day_end(start, zone) - start) // timedelta(hours=1) for start in starts}
    assert lengths == ({23, 24, 25} if changes(zone) else {24})
    assert [day_end(start, zone) for start in starts[:-1]] == starts[1:]


@given(
    used=st.datetimes(
        datetime(2000, 1, 1), datetime(2100, 1, 1), timezones=st.timezones()  # noqa: DTZ001
    ),
    grace=st.integers(0, 1440),
)
def test_the_clocks_of_any_zone(used: datetime, grace: int) -> None:
    zone = used.tzinfo
    assert zone is not None
    due = clocks(used_until=used, job_ends=None, shift_ends=None, zone=zone, grace_min=grace)
    # Two wall times with one zone subtract as the wall shows them; in UTC it is the time that passes.
    assert due.contain_by - used.astimezone(UTC) == timedelta(minutes=grace)
    assert timedelta() < due.remove_by - used.astimezone(UTC) <= timedelta(hours=50)


@pytest.fixture(params=ZONES)
def machine(request: pytest.FixtureRequest) -> Iterator[str]:
    """The zone this machine is set to, for the time of a test."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = request.param
    time.tzset()
    yield request.param
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


def test_what_is_stored_does_not_depend_on_the_machines_zone(sqlite_database: Database, machine: str) -> None:
    data = sqlite_database
    morning = datetime(2025, 2, 20, 9, tzinfo=UTC)
    with data.writing() as session:
        people = cast(session)  # a shop in Berlin
        keeper = people.actor(Role.KEEPER)
        policy = {"sealed_months": 12, "opened_months": 24}
        ageing = material(session, "japan drier", policy=policy)
        leap = date(2024, 2, 29)
        code = received(
            session, keeper, ageing, now=morning, is_open=False, packed_on=leap, received_on=leap
        )
        days = {"packed_on": leap, "received_on": leap}
        can = received(session, keeper, oil(session), now=morning, **days)
        made = open_job(session, keeper, morning, JobAsked(once(), "Doors", leader_id=people.keeper.id))
        asked = DrawAsked(once=once(), code=can, amount="1 ml", job_id=int(made.result["job"]))
        draw(session, keeper, morning, asked)
    with data.reading() as session:
        row = session.exec(select(Container).where(Container.code == code)).one()
        load = session.exec(select(RagLoad)).one()
        # 29 February and a year is 28 February; it is past from midnight in Berlin on.
        last = datetime(2025, 2, 28, 22, 59, tzinfo=UTC)
        found = [
            [one.kind for one in list_alerts(session, at, 0) if one.about == code]
            for at in (last, last + timedelta(minutes=1))
        ]
    assert (machine, row.in_date_until) == (machine, date(2025, 2, 28))
    assert found == [[AlertKind.LOOK_FIRST], [AlertKind.PAST]]
    assert load.remove_by == datetime(2025, 2, 20, 23, tzinfo=UTC), "24:00 in Berlin"
    assert load.made_at == morning
