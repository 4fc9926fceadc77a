"""A whole can at the doors: emptied into the drum, or carried home from a customer's, by page and by call."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.access import Role
from service.records.engine import Database
from service.records.places import PlaceKind
from tests.rag_shop import ENDS, RagShop, add_place, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as (rags, doors):
        rags.draw()
        rags.pass_by(minutes=5)
        rags.into_can()
        rags.pass_by(minutes=5)
        yield rags, doors


def test_emptied_on_the_page(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client, page = doors.signed_in(Role.FINISHER), f"/rags/cans/{rags.can}"
    assert "1 rag load" in client.get("/rags/cans").text
    said = {"into": str(rags.drum), "water": "partly", "when": "now", "mass": "1 kg"}
    refused = client.post(page + "/empty", data=said | {"once": once()})
    assert refused.status_code == 409 and "not wholly under water" in refused.text and "1 kg" in refused.text
    for odd in ({"into": ""}, {"into": "4711x"}, {"when": "earlier"}, {"collected_on": "soon"}):
        answer = client.post(page + "/empty", data=said | {"once": once()} | odd)
        assert answer.status_code == 422, odd
    done = client.post(page + "/empty", data=said | {"water": "full", "once": once()})
    assert done.headers["location"] == "/rags"
    assert "No rags are in it by the book" in client.get(page).text
    assert "outside, waits for collection" in client.get("/rags").text
    log = client.get("/rags/log").text
    assert "Rag can emptied into Drum in the yard, loads 1" in log


def test_carried_home_late_on_the_page(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    with rags.database.writing() as session:
        hall = add_place(session, "Hall", PlaceKind.ROOM)
    client, page = doors.signed_in(Role.FINISHER), f"/rags/cans/{rags.can}/carry"
    assert client.get(page).status_code == 200
    when = {"to": str(hall), "when": "earlier", "happened": "12 Mar 2026 10:46"}
    rags.now = ENDS + timedelta(hours=1)
    assert client.post(page, data=when | {"once": once()}).status_code == 422
    why = {"reason": "We unloaded first and came to the tablet after the meal"}
    assert client.post(page, data=when | why | {"once": once()}).status_code == 303
    text = client.get(f"/rags/cans/{rags.can}").text
    assert "Hall" in text and "overdue" in text
    assert "can carried" in client.get("/rags/log").text


def test_the_same_by_the_calls(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    with rags.database.writing() as session:
        van = add_place(session, "The van", PlaceKind.VEHICLE)
    script = doors.api(Role.FINISHER)
    before = script.get("/api/rag-loads").json()["loads"][0]["remove_by"]
    assert doors.api(Role.STUDENT).post(
        f"/api/rag-cans/{rags.can}/carry", json={"to": van, "once": once()}
    ).status_code == 403  # fmt: skip
    carried = script.post(f"/api/rag-cans/{rags.can}/carry", json={"to": van, "once": once()})
    assert carried.status_code == 201 and carried.json()["loads"] == [1]
    assert {f["code"] for f in carried.json()["findings"]} == {"can-place-not-known"}
    body = {"into": rags.drum, "water": "full", "once": once()}
    emptied = script.post(f"/api/rag-cans/{rags.can}/empty", json=body)
    assert emptied.status_code == 201 and emptied.json()["loads"][0]["remove_met"]
    assert script.post(f"/api/rag-cans/{rags.can}/empty", json=body).json() == emptied.json()
    assert script.get("/api/rag-loads").json()["loads"][0]["remove_by"] == before
