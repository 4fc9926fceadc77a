"""The design's week, played through the calls by a stranger with an empty shop and one token."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import create_app
from service.cli import main
from service.config import read_settings
from service.web.api_description import BODIES
from tests.builders import FAST_HASHER
from tests.web.calculator_calls import CALCULATORS

MONDAY = datetime(2035, 3, 12, 9, 0, tzinfo=UTC)
"""After the machine's own time, by which the command writes: what is recorded never goes back."""


@dataclass
class Stranger:
    """A script with a token of its own, a clock to move, and the codes it was told."""

    app: FastAPI
    client: TestClient
    now: datetime = MONDAY
    keys: Iterator[int] = field(default_factory=lambda: itertools.count(1))

    def post(self, path: str, status: int = 201, **body: Any) -> Any:
        answer = self.client.post(path, json={"once": f"k{next(self.keys)}"} | body)
        assert answer.status_code == status, (path, body, answer.text)
        return answer.json()

    def get(self, path: str) -> Any:
        answer = self.client.get(path)
        assert answer.status_code == 200, (path, answer.text)
        return answer.json()

    def material(self, name: str, kind: str, **more: Any) -> int:
        return int(self.post("/api/materials", name=name, kind=kind, **more)["id"])

    def received(self, material: int, amount: str, **more: Any) -> str:
        told = self.post("/api/containers", material=material, amount=amount, **more)
        return str(told["containers"][0]["code"])


@pytest.fixture
def stranger(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Iterator[Stranger]:
    """An empty folder; `umberkeep token new` is the first thing that ever happens in it."""
    folder = str(tmp_path / "shop")
    assert main(["token", "new", "--role", "keeper", "--label", "stranger", "--data", folder]) == 0
    token = capsys.readouterr().out.strip()
    assert token and "\n" not in token, "the token stands alone on standard output"
    app = create_app(read_settings(data=folder), clock=lambda: made.now, hasher=FAST_HASHER)
    headers = {"authorization": f"Bearer {token}"}
    with TestClient(app, base_url="http://localhost", headers=headers) as client:
        made = Stranger(app, client)
        yield made


@dataclass(frozen=True)
class Store:
    """What Monday brought."""

    room: Any
    umber: int
    oil: int
    tub: str
    fresh: str


def monday(s: Stranger) -> Store:
    """Places, a delivery of twelve alike, two cans of thinner and a dented one, an old can nobody knows."""
    room = s.post("/api/places", name="Store room", kind="room")
    shelf = s.post("/api/places", name="Shelf 1", kind="shelf", parent=room["id"])
    umber = s.material("Raw umber", "dry pigment", self_heating="no",
                       self_heating_reason="A dry earth pigment without any binder")  # fmt: skip
    oil = s.material("Linseed oil", "binder", density_g_ml=0.93, self_heating=True, flash_point_c=222,
                     flash_point_method="closed-cup")  # fmt: skip
    thinner = s.material("White spirit", "solvent", density_g_ml="0.78", hazards=["Flam. Liq. 3 H226"])
    twelve = s.post("/api/containers", material=umber, amount="250 g", count=12, place=shelf["id"])
    assert len({one["code"] for one in twelve["containers"]}) == 12
    s.post("/api/containers", material=thinner, amount="1 l", count=2, place=shelf["code"])
    dented = s.received(thinner, "1 l", condition="damaged")
    assert s.get(f"/api/containers/{dented}")["condition"] == "damaged"
    old = s.received(oil, "about half", capacity="1 l", origin="stock-take", opened=True)
    assert s.get(f"/api/containers/{old}")["standing"] == "not-known"
    fresh = s.received(oil, "1 l", packed_on="2035-03-01", place=shelf["id"])
    return Store(room, umber, oil, twelve["containers"][0]["code"], fresh)


def all_that_is_done_to_a_container(s: Stranger, store: Store) -> None:
    """With the least that says it."""
    base = f"/api/containers/{store.tub}"
    s.post(f"{base}/opened")
    drawn = s.post(f"{base}/draws", amount="100 g")
    assert (drawn["drawn"], drawn["container"]["words"]) == (100_000, "150 g")
    s.post(f"{base}/returns", amount="20 g")
    s.post(f"{base}/counts", amount="160 g")
    s.post(f"{base}/losses", loss="spilled", amount="10 g")
    s.post(f"{base}/moves", place=store.room["code"])
    s.post(f"{base}/checks", outcome="passed")
    poured = s.post(f"{base}/decants", amount="50 g")
    assert poured["into"]["words"] == "50 g"
    s.post(f"{base}/closed")
    s.post(f"/api/containers/{poured['into']['code']}/discards", destination="dry refuse")
    wrong = s.post(f"{base}/draws", amount="1 g")
    s.post(f"/api/movements/{wrong['movement']}/reversal", reason="Scanned the wrong tub")


def wednesday(s: Stranger, store: Store) -> int:
    """A recipe, checked, and a batch from the fingerprint in a class; the number of the job."""
    lines = [{"material": store.umber, "amount": "20 g"}, {"material": store.oil, "amount": "100 ml"}]
    recipe = s.post("/api/recipes", name="Walnut stain", lines=lines)["id"]
    check = s.post(f"/api/recipes/{recipe}/check", 200, amount="2 times")
    assert {"allocations", "shortages", "findings", "fingerprint"} <= check.keys()
    assert store.fresh in {one["code"] for one in check["allocations"]} and check["shortages"] == []
    short = s.post(f"/api/recipes/{recipe}/check", 200, amount="40 times")
    assert [one["name"] for one in short["shortages"]] == ["Linseed oil"]
    job = int(s.post("/api/jobs", name="Class", kind="class")["id"])
    batch = s.post("/api/batches", fingerprint=check["fingerprint"], job=job)["id"]
    s.post(f"/api/batches/{batch}/additions", material=store.umber, amount="5 g")
    done = s.post(f"/api/batches/{batch}/finish", jars=[{"amount": "150 ml"}])
    assert done["state"] == "finished" and done["jars"]
    return job


def the_rags(s: Stranger, job: int) -> None:
    """A can, the step with its witness, an end that is none, and the log."""
    load = s.get("/api/rag-loads")["loads"][0]
    assert {"contain_by", "remove_by", "step", "overdue"} <= load.keys()
    can = s.post("/api/places", name="Rag can", kind="rag can", metal=True, lid=True, self_closing=True,
                 listed=True, floor_cannot_burn=True, distance_mm=2000)  # fmt: skip
    entries = f"/api/rag-loads/{load['id']}/entries"
    s.now += timedelta(minutes=5)
    refused = s.post(f"/api/jobs/{job}/close", 409)
    assert refused["type"] == "/problems/refused" and refused["findings"][0]["severity"] == "stop"
    s.post(entries, step="in can", can=can["code"], witness="The apprentice", note="Six wipes")
    s.post(f"/api/jobs/{job}/close", 200)
    s.now += timedelta(minutes=5)
    washed = s.post(entries, 409, step="removed", removal={"how": "washed-here"})
    assert washed["findings"]
    s.post(entries, step="removed", removal={"how": "hauler", "named": "The county"})
    assert s.get("/api/rag-loads")["loads"] == []
    assert s.get("/api/rag-log")["entries"][0]["kind"] == "load-made"


def test_the_week(stranger: Stranger) -> None:
    store = monday(stranger)
    all_that_is_done_to_a_container(stranger, store)
    stranger.now += timedelta(days=2)
    the_rags(stranger, wednesday(stranger, store))
    told = stranger.get("/api/alerts?days=60")["alerts"][0]
    assert {"severity", "sentence", "due"} <= told.keys()
    assert stranger.get("/api/ledger")["total"] == len(stranger.get("/api/ledger?limit=200")["items"])
    assert stranger.get("/api/ledger/check")["holds"] is True


def test_a_job_past_its_end_blocks_and_an_override_is_asked_for_by_name(stranger: Stranger) -> None:
    s = stranger
    oil = s.material("Tung oil", "binder")
    code = s.received(oil, "1 l", packed_on="2035-03-01")
    s.post(f"/api/containers/{code}/draws", amount="50 ml", looked=True)
    s.now += timedelta(days=1)
    blocked = s.post(f"/api/containers/{code}/draws", 409, amount="50 ml", looked=True)
    assert blocked["type"] == "/problems/refused"
    assert {"severity", "code", "sentence", "source"} <= blocked["findings"][0].keys()
    assert s.get("/api/rag-loads")["loads"][0]["overdue"] is True
    s.post("/api/jobs", name="Urgent")
    asked: dict[str, Any] = {"for": f"draw of {code}", "reason": "The last coat must go on wet in wet"}
    assert "person" in s.post("/api/overrides", 422, **asked)["errors"]
    assert "person" in s.post("/api/overrides", 422, **asked, person="Nobody At All")["errors"]


def test_what_tells_the_conflicts_apart(stranger: Stranger) -> None:
    s = stranger
    umber = s.material("Raw umber", "dry-pigment", self_heating="no",
                       self_heating_reason="A dry earth pigment without any binder")  # fmt: skip
    code = s.received(umber, "250 g")
    first = {"once": "the-same-key", "amount": "100 g"}
    told = s.post(f"/api/containers/{code}/draws", **first)
    assert s.post(f"/api/containers/{code}/draws", **first) == told | {"repeated": True}
    again = s.post(f"/api/containers/{code}/draws", 409, **first | {"amount": "101 g"})
    assert again["type"] == "/problems/once-reused"
    assert s.post(f"/api/containers/{code}/draws", 409, amount="1 kg")["type"] == "/problems/refused"
    recipe = s.post("/api/recipes", name="Dust", lines=[{"material": umber, "amount": "100 g"}])["id"]
    check = s.post(f"/api/recipes/{recipe}/check", 200)
    s.post(f"/api/containers/{code}/draws", amount="100 g")
    stale = s.post("/api/batches", 409, fingerprint=check["fingerprint"])
    assert stale["type"] == "/problems/stale" and stale["findings"]
    late = {"amount": "1 g", "happened_at": "2035-03-12T08:00:00Z"}
    assert "late_reason" in s.post(f"/api/containers/{code}/draws", 422, **late)["errors"]
    s.post(f"/api/containers/{code}/draws", **late, late_reason="The tablet was flat")
    two = s.post(f"/api/containers/{code}/draws", 422, amount="1,000 mg")
    assert len(two["readings"]) == 2 and "amount" in two["errors"]
    assert s.client.get("/api/containers/ZZZZZZ").status_code == 404
    bare = TestClient(s.app, base_url="http://localhost")
    assert bare.get("/api/ledger").status_code == 401
    assert bare.get("/api/ledger", headers={"authorization": "Bearer nobody"}).status_code == 401


def test_words_and_names_as_a_stranger_may_write_them(stranger: Stranger) -> None:
    s = stranger
    s.post("/api/places", name="Rag can", kind="Rag_can", metal=None, lid=True)
    can = s.get("/api/places")["places"][0]
    assert (can["kind"], can["metal"], can["lid"]) == ("rag-can", "not-known", "yes")
    umber = s.material("Umber", "Dry Pigment", bulk_density_g_ml=["0.5", "0.7"])
    assert s.get(f"/api/materials/{umber}")["facts"]["bulk_density_g_ml"] == ["0.5", "0.7"]
    assert s.get(f"/api/materials/{umber}")["facts"]["form"] == "powder"
    assert "form" in s.post("/api/materials", 422, name="Nut stain crystals", kind="dye")["errors"]
    assert "kind" in s.post("/api/materials", 422, name="Something", kind="paint")["errors"]
    unheard = s.post("/api/materials", 422, name="Something", kind="solvent", colour="red")
    assert unheard["errors"].keys() == {"colour"}
    assert "place" in s.post("/api/containers", 422, material=umber, place="ZZZZZZ")["errors"]
    assert "place" in s.post("/api/containers", 422, material=umber, place=4711)["errors"]


# --- the description ---------------------------------------------------------------------------------

# Design section 7, "Records" and the calculators that exist so far; a field of each body or answer.
NAMED: dict[tuple[str, str], tuple[set[str], set[str]]] = {
    ("post", "/api/materials"): ({"once", "happened_at", "person", "name", "kind"}, {"findings"}),
    ("post", "/api/places"): ({"once", "happened_at", "person", "name", "kind"}, {"code"}),
    ("post", "/api/containers"): ({"once", "happened_at", "person", "count", "amount"}, {"containers"}),
    **{
        ("post", f"/api/containers/{{code}}/{act}"): ({"once", "happened_at", "person"}, {"findings"})
        for act in ("opened", "closed", "draws", "returns", "counts", "losses", "discards", "moves",
                    "decants", "checks")
    },
    ("post", "/api/movements/{movement_id}/reversal"): ({"once", "happened_at", "person"}, {"findings"}),
    ("post", "/api/recipes"): ({"once", "happened_at", "person", "lines"}, {"recipe"}),
    ("post", "/api/recipes/{recipe_id}/check"): (
        {"once", "happened_at", "person", "amount"},
        {"allocations", "shortages", "findings", "fingerprint"},
    ),
    ("post", "/api/jobs"): ({"once", "happened_at", "person"}, {"job"}),
    ("post", "/api/jobs/{job_id}/close"): ({"once", "happened_at", "person"}, {"findings"}),
    ("post", "/api/batches"): ({"once", "happened_at", "person", "fingerprint"}, {"batch"}),
    ("post", "/api/batches/{batch_id}/additions"): ({"once", "happened_at", "person"}, {"findings"}),
    ("post", "/api/batches/{batch_id}/finish"): ({"once", "happened_at", "person"}, {"findings"}),
    ("get", "/api/rag-loads"): (set(), {"loads"}),
    ("post", "/api/rag-loads/{load_id}/entries"): (
        {"once", "happened_at", "person", "step", "can", "witness", "note"}, {"findings"},
    ),
    ("post", "/api/overrides"): ({"once", "happened_at", "person", "for", "reason"}, {"findings"}),
    ("get", "/api/alerts"): (set(), {"alerts"}),
    ("get", "/api/ledger"): (set(), {"items"}),
    ("get", "/api/rag-log"): (set(), {"entries"}),
    ("get", "/api/ledger/check"): (set(), {"holds"}),
    ("post", "/api/calc/classify"): (
        {"regime", "ingredients", "mixture"},
        {"classifications", "ate", "unknown_acute_percent", "label", "findings", "complete", "data_used"},
    ),
    ("post", "/api/calc/label"): (
        {"regime", "hazards", "volume_ml", "audience", "label_for", "fold_out_possible", "contains",
         "unknown_acute_percent"},
        {"pictograms", "signal_word", "hazard_statements", "precautionary_statements", "supplemental",
         "may_be_left_out", "findings", "complete"},
    ),
    ("post", "/api/calc/rag-deadline"): (
        {"profiles", "item", "time_zone", "used_until", "shift_end", "grace_min", "entries", "now"},
        {"step", "contain_by", "remove_by", "overdue", "minutes_late", "violation", "because", "findings",
         "complete", "data_used"},
    ),
    **CALCULATORS,
}  # fmt: skip


def _properties(document: dict[str, Any], content: dict[str, Any]) -> dict[str, Any]:
    schema = content["application/json"]["schema"]
    name = schema["$ref"].removeprefix("#/components/schemas/")
    properties: dict[str, Any] = document["components"]["schemas"][name]["properties"]
    return properties


def test_every_name_of_the_design_is_described(stranger: Stranger) -> None:
    document = stranger.get("/api/openapi.json")
    for (method, path), (asked, told) in NAMED.items():
        call = document["paths"][path][method]
        if asked:
            assert asked <= _properties(document, call["requestBody"]["content"]).keys(), path
        answer = next(one for status, one in call["responses"].items() if status.startswith("2"))
        assert told <= _properties(document, answer["content"]).keys(), path
    days = document["paths"]["/api/alerts"]["get"]["parameters"]
    assert "days" in {one["name"] for one in days}


def test_every_call_is_told_in_words_with_its_refusals(stranger: Stranger) -> None:
    document = stranger.get("/api/openapi.json")
    for path, calls in document["paths"].items():
        for method, call in calls.items():
            where = (method, path)
            assert call["summary"][0].isupper() and len(call["description"]) > 10, where
            if not path.startswith("/api/"):
                continue
            assert call["security"] == [{"token": []}], where
            expected = {"400", "401", "403", "404", "422", "429", "503"}
            expected |= {"409", "413"} if method == "post" else set()
            assert expected <= call["responses"].keys(), where
            assert "Retry-After" in call["responses"]["503"]["headers"], where


def test_the_examples_are_bodies_that_can_be_sent(stranger: Stranger) -> None:
    document = stranger.get("/api/openapi.json")
    for path, example in BODIES.items():
        content = document["paths"][path]["post"]["requestBody"]["content"]["application/json"]
        assert content["example"] == example
        schema = {"components": document["components"], **content["schema"]}
        jsonschema_rs.Draft202012Validator(schema).validate(example)
        assert stranger.client.post(path, json={**example, "nobody_asked": 1}).status_code == 422


def test_a_body_over_the_limit_is_refused_with_and_without_a_length(stranger: Stranger) -> None:
    big = b'{"once": "big", "name": "' + b"x" * 1_100_000 + b'", "kind": "room"}'
    headers = {"content-type": "application/json"}

    def pieces() -> Iterator[bytes]:
        for start in range(0, len(big), 65_536):
            yield big[start : start + 65_536]

    for content in (big, pieces()):
        answer = stranger.client.post("/api/places", content=content, headers=headers)
        assert answer.status_code == 413 and answer.json()["type"] == "/problems/too-large"
        assert answer.headers["content-type"] == "application/problem+json"
    assert stranger.get("/api/places")["places"] == []


LISTS = ("alerts", "batches", "containers", "jobs", "ledger", "materials", "overrides", "places", "rag-loads",
         "rag-log", "recipes")  # fmt: skip


@pytest.mark.parametrize("path", LISTS)
def test_no_list_is_without_an_end(stranger: Stranger, path: str) -> None:
    document = stranger.get("/api/openapi.json")
    asked = {one["name"]: one["schema"] for one in document["paths"][f"/api/{path}"]["get"]["parameters"]}
    assert 1 <= asked["limit"]["default"] <= asked["limit"]["maximum"] <= 2000
    for odd in ("0", "-1", "99999", "1e3", "9223372036854775808", "x", "١٠"):
        assert stranger.client.get(f"/api/{path}?limit={odd}").status_code == 422, odd
    assert stranger.get(f"/api/{path}?limit=1")
