"""What was put away or left too late reads so on every page and on the printed sheet; never "met"."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.access import Role
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.engine import Database
from service.records.rags import RagLoad
from tests.rag_shop import ENDS, RagShop
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_late_is_never_met(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.now = ENDS + timedelta(minutes=12)
    client = doors.signed_in(Role.KEEPER)
    assert client.get("/rags/1").text.count("(late by 12 min so far)") == 2
    rags.now = ENDS + timedelta(minutes=72, seconds=40)
    rags.into_can()
    assert "(late by 1 h 13 min)" in client.get("/rags/1").text  # its contain clock; it is still here
    rags.pass_by(minutes=60)
    rags.step(RagStep.OUTSIDE_DRUM, can_id=rags.drum, water=Water.FULL)
    rags.pass_by(minutes=5)
    for page in ("/rags/1", "/rags", f"/rags/day-sheet?on={ENDS.date()}"):
        text = client.get(page).text
        assert "(late by 1 h 13 min)" in text and "(late by 2 h 13 min)" in text, page
        assert "(met)" not in text and "so far" not in text, page
    rags.step(RagStep.REMOVED, Role.KEEPER, removal=Removal(RemovalHow.HAULER, "North Quay Waste"))
    assert "(met)" not in client.get("/rags/1").text


def test_in_time_is_met(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=1)
    rags.step(RagStep.OUTSIDE_DRUM, can_id=rags.drum, water=Water.FULL)
    rags.now = ENDS + timedelta(days=2)
    text = doors.signed_in(Role.FINISHER).get("/rags/1").text
    assert text.count("(met)") == 2 and "late by" not in text


def test_put_away_by_is_never_shown_after_out_by(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    with rags.database.writing() as session:
        # As an older program may have kept it: out of the building before put away.
        load = session.get_one(RagLoad, 1)
        load.remove_by = load.contain_by - timedelta(hours=1)
        session.add(load)
    told = doors.api(Role.FINISHER).get("/api/rag-loads").json()["loads"][0]
    assert told["contain_by"] == told["remove_by"]
    rags.now = ENDS - timedelta(minutes=30)
    assert rags.load().judgement.past_contain
