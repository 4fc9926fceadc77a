"""`/api/samples` and `/api/batches/N/as-made`: the acts of the pages; odd bodies; what a student is told."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.core.access import Role
from service.records.engine import Database
from service.records.jobs import JobPerson
from tests.builders import FAST_HASHER, cast
from tests.mixing_shop import MixShop, make_mix_shop
from tests.web.conftest import Clock, Shop, shop_settings
from tests.web.hostile import fresh_key


@pytest.fixture
def desk(database: Database, tmp_path: Path) -> Iterator[Shop]:
    """The small shop on either database."""
    with database.writing() as session:
        people = cast(session)
    clock = Clock()
    app = create_app(shop_settings(tmp_path, database), database, clock, hasher=FAST_HASHER)
    made = Shop(app, database, clock, people)
    yield made
    for client in made.clients:
        client.close()


@pytest.fixture
def mix(desk: Shop) -> MixShop:
    made = make_mix_shop(desk.database, desk.cast)
    for name, price in (("raw umber", "40"), ("boiled oil", None), ("spirit", "10")):
        made.can(name, price=Decimal(price) if price else None)
    return made


@pytest.fixture
def api(desk: Shop, mix: MixShop) -> TestClient:
    return desk.api(Role.FINISHER)


def body(mix: MixShop, **said: Any) -> dict[str, Any]:
    usual = {"once": fresh_key(), "target": "The old door", "wood": "ash", "sealed": "no", "job": mix.job}
    return usual | said


def put_in(api: TestClient, mix: MixShop, batch: int, name: str, amount: str) -> None:
    said = {"once": fresh_key(), "material": mix.ids[name], "amount": amount}
    assert api.post(f"/api/batches/{batch}/additions", json=said).status_code == 201


def test_begin_fill_judge_keep(api: TestClient, mix: MixShop) -> None:
    asked = body(mix, coats=2)
    done = api.post("/api/samples", json=asked)
    assert done.status_code == 201 and done.json()["name"] == "The old door", done.text
    assert api.post("/api/samples", json=asked).json()["repeated"] is True
    sample, batch = done.json()["id"], done.json()["batch"]
    put_in(api, mix, batch, "spirit", "100 ml"), put_in(api, mix, batch, "raw umber", "22 g")
    one = api.get(f"/api/samples/{sample}").json()
    assert [(s["name"], s["mass_mg"], s["total_mg"], s["percent"]) for s in one["additions"]] == [
        ("spirit", 78_000, 78_000, "78.0"), ("raw umber", 22_000, 100_000, "22.0"),
    ]  # fmt: skip
    assert (one["coats"], one["sealed"], one["verdict"], one["photo"]) == (2, "no", None, False)
    verdict = {"once": fresh_key(), "verdict": "match", "note": "dry", "version": 1}
    assert api.post(f"/api/samples/{sample}/verdict", json=verdict).json()["version"] == 2
    stale = api.post(f"/api/samples/{sample}/verdict", json=verdict | {"once": fresh_key()})
    assert stale.status_code == 409 and stale.json()["type"] == "/problems/stale"
    assert api.get("/api/samples").json()["items"][0]["verdict"] == "match"
    seen = api.get(f"/api/batches/{batch}/as-made").json()
    assert seen["kept_versions"] == [] and seen["planned_version"] == 1 and seen["complete"] is True
    assert {line["differs"] for line in seen["lines"]} == {"not-planned"}
    assert (seen["makes"]["amount"], seen["makes"]["basis"]) == (100_000, "mass")
    assert seen["cost"]["amount"] == "1.88" and seen["cost"]["at_least"] is False
    kept = api.post(f"/api/batches/{batch}/as-made", json={"once": fresh_key(), "note": "as the door"})
    assert kept.status_code == 201 and kept.json()["version_number"] == 2
    recipe = api.get(f"/api/recipes/{kept.json()['recipe']}").json()
    assert [(line["name"], line["amount"]) for line in recipe["lines"]] == [
        ("spirit", "100 ml"), ("raw umber", "22 g"),
    ]  # fmt: skip
    assert api.get(f"/api/batches/{batch}/as-made").json()["kept_versions"] == [2]
    check = api.post(f"/api/recipes/{kept.json()['recipe']}/check", json={"amount": "500 g"}).json()
    assert [a["amount"] for a in check["allocations"]] == [500_000, 110_000]


def test_what_is_not_known_is_null_and_said(api: TestClient, mix: MixShop) -> None:
    batch = api.post("/api/samples", json=body(mix)).json()["batch"]
    put_in(api, mix, batch, "spirit", "100 ml"), put_in(api, mix, batch, "boiled oil", "10 ml")
    cost = api.get(f"/api/batches/{batch}/as-made").json()["cost"]
    assert (cost["amount"], cost["at_least"], cost["words"]) == ("1.00", True, "at least 1.00")
    assert cost["per"] is None and [f["code"] for f in cost["findings"]] == ["cost-not-known"]


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"target": ""}, "target"), ({"target": "x" * 501}, "target"), ({"wood": None}, "wood"),
        ({"coats": 0}, "coats"), ({"coats": True}, "coats"), ({"coats": "two"}, "coats"),
        ({"sealed": "perhaps"}, "sealed"), ({"sealed_with": "shellac"}, "sealed_with"),
        ({"grit": "g" * 41}, "grit"), ({"purpose": "p" * 61}, "purpose"), ({"job": 0}, "job"),
        ({"batch": 1}, "batch"), ({"target": "a\x00b"}, "target"), ({"wood": "a\u202eb"}, "wood"),
        ({"happened_at": "2026-03-11T09:00:00Z"}, "happened_at"),
    ],
)  # fmt: skip
def test_a_body_that_cannot_be_used_names_the_field(
    api: TestClient, mix: MixShop, said: dict[str, Any], field: str
) -> None:
    done = api.post("/api/samples", json=body(mix, **said))
    assert done.status_code == 422 and field in done.json()["errors"], done.text
    assert api.get("/api/samples").json()["items"] == []


def test_odd_numbers_and_verdicts(api: TestClient, mix: MixShop) -> None:
    sample = api.post("/api/samples", json=body(mix)).json()["id"]
    for said in ({"verdict": "perfect"}, {"verdict": None}, {"verdict": "off", "version": -1}, {}):
        odd = {"once": fresh_key()} | said
        assert api.post(f"/api/samples/{sample}/verdict", json=odd).status_code == 422, said
    for number, status in ((99, 404), (0, 422), (2**31, 422), ("x", 422)):
        assert api.get(f"/api/samples/{number}").status_code == status
        assert api.get(f"/api/batches/{number}/as-made").status_code == status
        asked = {"once": fresh_key()}
        assert api.post(f"/api/batches/{number}/as-made", json=asked).status_code == status
    empty = api.post("/api/batches/1/as-made", json={"once": fresh_key()})
    assert empty.status_code == 409 and empty.json()["findings"][0]["code"] == "nothing-went-in"
    assert api.post("/api/samples", json=body(mix, job=99)).status_code == 404


def test_a_student_is_told_of_none_and_no_cost(desk: Shop, api: TestClient, mix: MixShop) -> None:
    done = api.post("/api/samples", json=body(mix)).json()
    put_in(api, mix, done["batch"], "spirit", "10 ml")
    student = desk.api(Role.STUDENT)
    assert student.get("/api/samples").json()["items"] == []
    assert student.get(f"/api/samples/{done['id']}").status_code == 404
    assert student.get(f"/api/batches/{done['batch']}/as-made").status_code == 404
    judged, kept = f"/api/samples/{done['id']}/verdict", f"/api/batches/{done['batch']}/as-made"
    for path in ("/api/samples", judged, kept):
        assert student.post(path, json=body(mix)).status_code in (403, 422), path
    with desk.database.writing() as session:
        session.add(JobPerson(job_id=mix.job, person_id=desk.cast.student.id or 0, added_at=mix.now))
    person = desk.signed_in(Role.STUDENT)
    assert person.get(f"/bench/{done['batch']}/as-made").status_code == 200


def test_the_price_of_a_delivery(api: TestClient, mix: MixShop) -> None:
    asked = {"once": fresh_key(), "material": mix.ids["spirit"], "amount": "1 l", "count": 2}
    asked |= {"price": "12.50"}
    assert api.post("/api/containers", json=asked).status_code == 201
    assert api.post("/api/containers", json=asked).status_code == 201
    other = api.post("/api/containers", json=asked | {"price": "13"})
    assert other.status_code == 409 and other.json()["type"] == "/problems/once-reused"
    for price in ("-1", "much", 1e9, "0.00001", True):
        odd = api.post("/api/containers", json=asked | {"once": fresh_key(), "price": price})
        assert odd.status_code == 422 and "price" in odd.json()["errors"], price
