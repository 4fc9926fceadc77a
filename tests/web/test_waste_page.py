"""Waste by month at the doors: page, file and call say the same, and only to whoever sees the logs."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.core.access import Role
from service.core.rags import RagStep, Water
from service.records.engine import Database
from tests.rag_shop import RagShop, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_page_file_and_call_say_the_same(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=1)
    rags.step(RagStep.OUTSIDE_DRUM, Role.KEEPER, can_id=rags.drum, water=Water.FULL, mass="about 3 kg")
    keeper = doors.signed_in(Role.KEEPER)
    code = rags.spirit
    spoilt = {"once": once(), "destination": "hauler", "amount": "100 ml"}
    thrown = doors.api(Role.KEEPER).post(f"/api/containers/{code}/discards", json=spoilt)
    assert thrown.status_code < 300
    assert "hauler-not-named" in [one["code"] for one in thrown.json()["findings"]]
    [month] = doors.api(Role.READER).get("/api/waste").json()["months"]
    assert (month["category"], month["at_least"]) == (None, "VSQG")
    by_name = {line["container"]: line for line in month["lines"]}
    assert (by_name[""]["kg"], by_name[""]["where"]) == ("3", "Drum in the yard")
    assert by_name[code]["where"] == "handed to the hauler (nobody named)"
    rows = list(csv.reader(io.StringIO(doors.signed_in(Role.READER).get("/records/csv/waste.csv").text)))
    assert len(rows) == 1 + len(month["lines"])
    told = {row[3]: row for row in rows[1:]}
    assert told[""][4] == "3" and told[code][6] == "handed to the hauler (nobody named)"
    text = keeper.get("/waste").text.replace("\u00a0", " ")
    drum = ("about 3 kg", "waits in Drum in the yard", "collection day not known")
    for words in (*drum, "handed to the hauler", "at least VSQG", "Your authority"):
        assert words in text, words
    assert "/waste" in keeper.get("/records").text


def test_only_whoever_sees_the_logs_sees_it(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    assert doors.api(Role.STUDENT).get("/api/waste").status_code == 403
    for path in ("/waste", "/records/csv/waste.csv"):
        assert doors.signed_in(Role.STUDENT).get(path).status_code == 403
    assert "Nothing was written down as waste yet" in doors.signed_in(Role.READER).get("/waste").text
