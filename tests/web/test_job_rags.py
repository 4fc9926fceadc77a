"""Pieces of a job and the end of the day at the doors: pages without script, and the calls."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.access import Role
from service.records.engine import Database
from tests.rag_shop import ENDS, RagShop, once
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_counted_out_and_in_and_missing_at_the_close(made: tuple[RagShop, Shop]) -> None:
    _rags, doors = made
    client = doors.signed_in(Role.FINISHER)
    for way, pieces in (("out", "6"), ("in", "4")):
        data = {"way": way, "thing": "rags", "pieces": pieces, "once": once()}
        assert client.post("/jobs/1/rags", data=data).headers["location"] == "/jobs/1/rags"
    page = client.get("/jobs/1/rags").text
    assert "Missing" in page and ">2<" in page.replace("\n", "")
    assert "2 are missing. Find them." in client.get("/jobs/1/close").text
    refused = client.post("/jobs/1/close", data={"once": once()})
    assert refused.status_code == 422 and "what became of them" in refused.text
    said = {"once": once(), "close_note": "Two are in the customer's own can"}
    assert client.post("/jobs/1/close", data=said).status_code == 303


def test_what_lies_loose_leads_on_to_where_it_goes(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.signed_in(Role.STUDENT)
    data = {"way": "loose", "thing": "dust", "pieces": "1", "note": "from the floor", "once": once()}
    answer = client.post("/jobs/1/rags", data=data)
    assert answer.headers["location"] == f"/rags/{rags.load_id()}/step"
    assert "sanding dust" in client.get(f"/rags/{rags.load_id()}").text
    for odd in ("0", "-1", "x", "1e9", ""):
        assert client.post("/jobs/1/rags", data=data | {"pieces": odd, "once": once()}).status_code == 422
    assert client.post("/jobs/1/rags", data=data | {"thing": "hats", "once": once()}).status_code == 422
    assert client.get("/jobs/999/rags").status_code in (403, 404)


def test_the_day_is_closed_by_a_keeper_and_stands_on_the_sheet(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    assert doors.signed_in(Role.FINISHER).get("/day/close").status_code == 403
    keeper = doors.signed_in(Role.KEEPER)
    rags.draw()
    page = keeper.get("/day/close").text
    assert "still open" in page and "Close the day</button>" not in page
    data = {"on": ENDS.date().isoformat(), "once": once()}
    assert keeper.post("/day/close", data=data).status_code == 409
    rags.now += timedelta(minutes=1)
    rags.into_can()
    rags.now += timedelta(minutes=1)
    hauled = {"step": "removed", "how": "hauler", "named": "North Quay Waste", "once": once()}
    assert keeper.post("/rags/1/step", data=hauled).status_code == 303
    assert keeper.post("/jobs/1/close", data={"once": once()}).status_code == 303
    assert "Day not closed" in keeper.get("/rags/day-sheet").text
    done = keeper.post("/day/close", data={"on": ENDS.date().isoformat(), "once": once(), "note": "Swept"})
    assert done.headers["location"].startswith("/rags/day-sheet?on=2026-03-12")
    sheet = keeper.get(done.headers["location"]).text
    assert "Day closed" in sheet and "Swept" in sheet
    assert "day closed" in keeper.get("/rags/log").text


def test_the_same_by_calls(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    api = doors.api(Role.KEEPER)
    body = {"once": "h1", "way": "out", "pieces": 3}
    counted = api.post("/api/jobs/1/rags", json=body)
    assert counted.status_code == 201 and counted.json()["out"] == 3 and counted.json()["in"] == 0
    assert api.post("/api/jobs/1/rags", json=body).json() == counted.json()
    wool = {"once": "h2", "way": "loose", "thing": "steel-wool", "pieces": 2}
    loose = api.post("/api/jobs/1/rags", json=wool)
    assert loose.json()["load"]["id"] == rags.load_id() and loose.json()["load"]["contained"] is False
    closing = {"once": "d1", "day": "2026-03-12"}
    refused = api.post("/api/day-closings", json=closing)
    assert refused.status_code == 409
    assert {"job-open", "rags-loose"} <= {f["code"] for f in refused.json()["findings"]}
    to_come = closing | {"day": "2027-01-01", "once": "d2"}
    assert api.post("/api/day-closings", json=to_come).status_code == 422
    assert doors.api(Role.FINISHER).post("/api/day-closings", json=closing).status_code == 403
