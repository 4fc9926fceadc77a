"""The JSON calls of jobs, rags, overrides and the log: shapes, refusals, odd bodies, hashes redone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from service.core.access import Role
from service.core.rag_log import GENESIS, entry_hash
from service.records.engine import Database
from service.records.places import Place
from tests.rag_shop import ENDS, RagShop, once, open_a_job
from tests.web.conftest import Shop
from tests.web.rag_client import rag_client

REASON = "The last coat must go on while the first is wet"


@pytest.fixture
def made(sqlite_database: Database, tmp_path: Path) -> Iterator[tuple[RagShop, Shop]]:
    with rag_client(sqlite_database, tmp_path) as both:
        yield both


def test_a_job_from_open_to_closed(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    client = doors.api(Role.FINISHER)
    piet = rags.people.finisher.id
    sanne = rags.people.student.id
    body: dict[str, Any] = {"once": once(), "name": "Evening class", "kind": "class", "people": [sanne]}
    own = client.post("/api/jobs", json=body | {"once": once()})
    assert own.status_code == 201 and own.json()["findings"][0]["code"] == "led-by-script"
    answer = client.post("/api/jobs", json=body | {"person": piet})
    assert answer.status_code == 201 and answer.json()["ends_by"] == "2026-03-12T16:00:00Z"
    job = answer.json()["job"]
    assert client.post("/api/jobs", json=body | {"person": piet}).json()["job"] == job
    listed = {one["id"]: one for one in client.get("/api/jobs").json()["jobs"]}
    assert listed[job]["people"] == ["Piet Maas", "Sanne Vos"] and listed[job]["running"]
    close = f"/api/jobs/{job}/close"
    assert client.post(close, json={"once": once()}).status_code == 403  # a script leads nothing
    early = {"once": once(), "person": piet, "happened_at": "2026-03-12T09:00:00Z"}
    assert client.post(close, json=early).status_code == 422
    assert client.post(close, json={"once": once(), "person": piet}).status_code == 200
    assert job in {one["id"] for one in client.get("/api/jobs?closed=true").json()["jobs"]}
    again = client.post(close, json={"once": once(), "person": piet})
    assert again.status_code == 409 and again.json()["findings"][0]["code"] == "job-closed"


def test_a_load_from_made_to_removed(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    client = doors.api(Role.FINISHER)
    load = client.get("/api/rag-loads").json()["loads"][0]
    assert load["remove_by"] == ENDS.isoformat().replace("+00:00", "Z") and not load["contained"]
    assert load["open_draws"] and load["because"]
    with rags.database.reading() as session:
        place = session.get(Place, rags.can)
        assert place is not None
    entries = f"/api/rag-loads/{load['id']}/entries"
    bucket = client.post(entries, json={"once": once(), "step": "in-can", "can": rags.bucket})
    assert bucket.status_code == 409
    assert {"rag-can-not-listed", "rags-record-instead"} <= {f["code"] for f in bucket.json()["findings"]}
    said = {"once": once(), "step": "in-can", "can": place.code.lower(), "witness": "Sanne"}
    done = client.post(entries, json=said)
    assert done.status_code == 201 and done.json()["loads"][0]["contained"]
    rags.pass_by(minutes=5)
    removal = {"how": "hauler", "named": "County waste service"}
    done = client.post(entries, json={"once": once(), "step": "removed", "removal": removal})
    assert done.json()["loads"][0]["ended"]
    assert client.get("/api/rag-loads").json()["loads"] == []
    assert client.get("/api/rag-loads?ended=true").json()["loads"][0]["id"] == load["id"]


@pytest.mark.parametrize("body", [
    {}, {"once": "", "step": "in-can"}, {"once": "x" * 10, "step": "burned"},
    {"once": "x" * 10, "step": None},
    {"once": "x" * 10, "step": "in-can", "can": "ZZZZZZ"}, {"once": "x" * 10, "step": "in-can"},
    {"once": "x" * 10, "step": "in-can", "can": True}, {"once": "x" * 10, "step": "in-can", "can": 1.5},
    {"once": "x" * 10, "step": "loose", "more": 1}, {"once": "x" * 10, "step": "loose", "count": -1},
    {"once": "x" * 10, "step": "loose", "also": [0]}, {"once": "x" * 10, "step": "loose", "also": ["1"]},
    {"once": "x" * 10, "step": "loose", "note": "\x00"}, {"once": "x" * 10, "step": "loose", "person": 4711},
    {"once": "x" * 10, "step": "loose", "happened_at": "2026-03-12"},
    {"once": "x" * 10, "step": "removed", "removal": {"how": "eaten"}},
    {"once": "x" * 10, "step": "loose", "happened_at": "2031-03-12T00:00:00Z"},
])  # fmt: skip
def test_bodies_that_cannot_be_used(made: tuple[RagShop, Shop], body: dict[str, Any]) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    assert doors.api(Role.FINISHER).post("/api/rag-loads/1/entries", json=body).status_code == 422


@pytest.mark.parametrize(("can", "status"), [(-1, 422), (0, 422), (2**40, 422), (99_999, 404)])
def test_cans_that_are_not_there(made: tuple[RagShop, Shop], can: int, status: int) -> None:
    rags, doors = made
    rags.draw()
    rags.pass_by(minutes=5)
    body = {"once": once(), "step": "in-can", "can": can}
    assert doors.api(Role.FINISHER).post("/api/rag-loads/1/entries", json=body).status_code == status


def test_an_override_needs_a_keeper_with_a_name(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue_in_can()
    job = open_a_job(rags, "Second job", ends_at=None)
    keeper = rags.people.keeper.id
    body: dict[str, Any] = {"once": once(), "for": f"draw of {rags.oil}", "job": job, "reason": REASON}
    assert doors.api(Role.FINISHER).post("/api/overrides", json=body | {"person": keeper}).status_code == 403
    client = doors.api(Role.KEEPER)
    script = client.post("/api/overrides", json=body)
    assert script.status_code == 422 and "person" in script.json()["errors"]
    odd = client.post("/api/overrides", json=body | {"for": "everything", "person": keeper})
    assert odd.status_code == 422 and "for" in odd.json()["errors"]
    late = client.post("/api/overrides", json=body | {"until": "2026-03-13T00:00:00Z", "person": keeper})
    assert late.status_code == 409 and late.json()["findings"][0]["code"] == "override-too-long"
    given = client.post("/api/overrides", json=body | {"person": keeper})
    assert given.status_code == 201 and given.json()["for"].startswith("draw of ")
    drawn = {"once": once(), "amount": "10 ml", "job": job, "looked": True}
    draw = f"/api/containers/{rags.oil}/draws"
    assert client.post(draw, json=drawn).status_code == 201
    assert client.post(draw, json=drawn | {"once": once()}).status_code == 409
    listed = client.get("/api/overrides").json()["overrides"]
    assert [(one["for"], one["used"]) for one in listed] == [(given.json()["for"], True)]


def test_the_log_comes_in_pieces_and_anyone_can_redo_its_hashes(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    for _ in range(3):
        rags.draw()
        rags.pass_by(minutes=1)
        rags.into_can()
        rags.pass_by(minutes=1)
    client = doors.api(Role.READER)
    entries: list[dict[str, Any]] = []
    after: int | None = 0
    while after is not None:
        piece = client.get(f"/api/rag-log?after={after}&limit=3").json()
        entries += piece["entries"]
        after = piece["next_after"]
    assert [one["number"] for one in entries] == list(range(1, 8))
    previous = GENESIS
    for one in entries:
        previous = entry_hash(previous, one["number"], one["entry"])
        assert previous == one["hash"]
    proof = client.get("/api/rag-log/proof").json()
    assert proof["fits"] and proof["head"] == previous and proof["outside_heads"] == 0
    assert "no outside witness yet" in proof["sentence"]
    typed = client.get(f"/api/rag-log/proof?count=7&digits={previous[:12]}").json()
    assert typed["fits"] and typed["last_witness"].startswith("entry 7")
    wrong = client.get(f"/api/rag-log/proof?count=7&digits={'f' * 12}").json()
    assert not wrong["fits"] and "written anew" in wrong["what"]
    assert client.get("/api/rag-log/proof?count=7&digits=abc").status_code == 422
    assert client.get("/api/rag-log?after=-1").status_code == 422
    assert client.get("/api/rag-log?limit=100000").status_code == 422


def test_a_student_script_sees_no_log(made: tuple[RagShop, Shop]) -> None:
    _, doors = made
    client = doors.api(Role.STUDENT)
    for path in ("/api/rag-log", "/api/rag-log/proof", "/api/rag-loads", "/api/overrides"):
        assert client.get(path).status_code == 403, path
    assert client.get("/api/jobs").json()["jobs"] == []


def test_overdue_shows_with_its_minutes(made: tuple[RagShop, Shop]) -> None:
    rags, doors = made
    rags.overdue()
    rags.pass_by(minutes=5)
    load = doors.api(Role.READER).get("/api/rag-loads").json()["loads"][0]
    assert load["overdue"] and load["minutes_late"] == 35 and load["minutes_left"] == 0
    assert {found["code"] for found in load["violations"]} == {"rags-not-contained", "rags-not-removed"}
    rags.now -= timedelta(days=1)
    assert doors.api(Role.READER).get("/api/rag-loads").json()["as_of"] >= "2026-03-12"
