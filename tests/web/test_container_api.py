"""The same acts over JSON: answers, keys, refusals with findings, and odd input that is never a 5xx."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.shelf_codes import show_code
from service.records.places import PlaceKind
from service.records.stock import Movement
from tests.store_builders import container, holds, job, material, oil, once, place, received
from tests.web.conftest import Shop


@pytest.fixture
def code(shop: Shop) -> str:
    with shop.database.writing() as session:
        return received(session, shop.actor(Role.KEEPER), material(session))


@pytest.fixture
def script(shop: Shop) -> TestClient:
    return shop.api(Role.FINISHER)


def post(client: TestClient, path: str, **body: Any) -> Any:
    return client.post(path, json={"once": once(), **body})


def test_a_draw_answers_with_whole_numbers_and_the_container(
    shop: Shop, script: TestClient, code: str
) -> None:
    answer = post(script, f"/api/containers/{code.lower()}/draws", amount="250 g")
    assert answer.status_code == 201, answer.text
    told = answer.json()
    assert (told["drawn"], told["container"]["amount"], told["container"]["words"]) == (
        250_000,
        750_000,
        "750 g",
    )
    assert told["repeated"] is False
    assert told["container"]["shown"] == show_code(code)
    holds(shop.database)


def test_one_key_one_posting_and_another_body_is_refused(shop: Shop, script: TestClient, code: str) -> None:
    body = {"once": "key-of-my-own", "amount": "250 g"}
    first = script.post(f"/api/containers/{code}/draws", json=body).json()
    again = script.post(f"/api/containers/{code}/draws", json=body)
    assert again.status_code == 201
    assert again.json() == first | {"repeated": True}
    other = script.post(f"/api/containers/{code}/draws", json=body | {"amount": "251 g"})
    assert (other.status_code, other.json()["type"]) == (409, "/problems/once-reused")
    with shop.database.reading() as session:
        assert container(session, code).balance == 750_000


def test_every_call_of_a_container(shop: Shop, script: TestClient, code: str) -> None:
    with shop.database.writing() as session:
        shelf = place(session, "Shelf 3", PlaceKind.SHELF)
        drum = place(session, "Waste drum 1", PlaceKind.WASTE_DRUM)
    base = f"/api/containers/{code}"
    calls: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
        ("draws", {"how": "container", "before": "500", "after": "450"}, {"drawn": 50_000}),
        ("returns", {"amount": "20 g"}, {"returned": 20_000}),
        ("counts", {"amount": "900 g"}, {"difference": -70_000, "confirms": False}),
        ("counts", {"by": "weight", "gross": "1100", "tare": "200"}, {"confirms": True}),
        ("counts", {"by": "share", "share": "about half", "of_last": True}, {"counted": 450_000}),
        ("losses", {"loss": "stuck", "amount": "5 g"}, {"lost": 5_000}),
        ("opened", {}, {"first": False}),
        ("closed", {"note": "wiped the rim"}, {}),
        ("moves", {"place": shelf.id}, {"place": "Shelf 3"}),
        ("checks", {"outcome": "passed"}, {"outcome": "passed"}),
        ("relabelled", {}, {}),
        ("decants", {"amount": "45 g", "capacity": "100 g"}, {"poured": 45_000, "new_container": True}),
        ("discards", {"destination": "waste-drum", "place": drum.id}, {"discarded": 400_000}),
    ]
    for path, body, expected in calls:
        answer = post(script, f"{base}/{path}", **body)
        assert answer.status_code == 201, (path, answer.text)
        assert expected.items() <= answer.json().items(), (path, answer.json())
    told = script.get(base).json()
    assert told.get("code") == code, told
    assert (told["state"], told["amount"], told["place"]) == ("gone", 0, "Shelf 3")
    assert [e["kind"] for e in told["events"]][-1] == "relabelled"
    holds(shop.database)


def test_emptied_and_vapour_free(script: TestClient, code: str) -> None:
    base = f"/api/containers/{code}"
    refused = post(script, f"{base}/emptied")
    assert (refused.status_code, refused.json()["findings"][0]["code"]) == (409, "not-empty")
    assert post(script, f"{base}/counts", amount="nothing").json()["container"]["state"] == "empty"
    assert post(script, f"{base}/vapour-free").status_code == 201


def test_a_refusal_carries_its_findings(script: TestClient, code: str) -> None:
    answer = post(script, f"/api/containers/{code}/draws", amount="2 kg")
    assert answer.headers["content-type"].startswith("application/problem+json")
    assert answer.json()["type"] == "/problems/refused"
    assert answer.json()["findings"][0]["code"] == "not-enough"
    more = post(script, f"/api/containers/{code}/draws", amount="2 kg", more_than_book=True)
    assert more.status_code == 201


def test_a_doubtful_amount_gives_readings(script: TestClient, code: str) -> None:
    answer = post(script, f"/api/containers/{code}/draws", amount="1,000 g")
    assert answer.status_code == 422
    assert len(answer.json()["readings"]) == 2
    assert "amount" in answer.json()["errors"]


def test_a_token_names_the_person_but_never_grows(shop: Shop, code: str) -> None:
    student, keeper = shop.cast.student.id, shop.cast.keeper.id
    with shop.database.writing() as session:
        running = job(session, shop.actor(Role.FINISHER), people=(student or 0,))
    script = shop.api(Role.FINISHER)
    path = f"/api/containers/{code}"
    assert post(script, f"{path}/counts", amount="900 g", person=student).status_code == 403
    assert post(script, f"{path}/draws", amount="5 g", person=student).status_code == 403
    answer = post(script, f"{path}/draws", amount="5 g", person=student, job=running.id)
    assert answer.status_code == 201
    with shop.database.reading() as session:
        movement = session.get_one(Movement, answer.json()["movement"])
        assert movement.person_id == student
    assert post(script, f"{path}/draws", amount="5 g", person=987_654).status_code == 422
    mine = post(script, f"{path}/draws", amount="5 g", person=keeper).json()["movement"]
    late = {"once": once(), "reason": "another day", "person": keeper}
    shop.clock.pass_by(days=2)
    assert script.post(f"/api/movements/{mine}/reversal", json=late).status_code == 409


def test_roles_at_the_door(shop: Shop, code: str) -> None:
    path = f"/api/containers/{code}/draws"
    assert post(shop.api(Role.READER), path, amount="5 g").status_code == 403
    assert shop.api(Role.READER).get("/api/containers").status_code == 200
    assert shop.api(Role.STUDENT).get("/api/ledger").status_code == 403
    assert post(shop.client(), path, amount="5 g").status_code == 401


def test_reversal_and_ledger(shop: Shop, script: TestClient, code: str) -> None:
    with shop.database.writing() as session:
        tin = received(session, shop.actor(Role.KEEPER), oil(session))
    drawn = post(script, f"/api/containers/{tin}/draws", amount="50 ml").json()
    assert drawn["rag_load"] is not None
    number = drawn["movement"]
    assert script.post(f"/api/movements/{number}/reversal", json={"once": once()}).status_code == 422
    empty = post(script, f"/api/movements/{number}/reversal", reason="")
    assert empty.json()["findings"][0]["code"] == "reason-missing"
    back = post(script, f"/api/movements/{number}/reversal", reason="wrong tin")
    assert back.status_code == 201
    assert "load-stays" in {f["code"] for f in back.json()["findings"]}
    again = post(script, f"/api/movements/{number}/reversal", reason="wrong tin")
    assert again.json()["findings"][0]["code"] == "reversed-already"
    assert post(script, "/api/movements/987654/reversal", reason="wrong tin").status_code == 404

    told = script.get("/api/ledger", params={"container": tin}).json()
    assert told["total"] == 3
    assert [row["kind"] for row in told["items"]] == ["reversal", "draw", "receive"]
    assert told["items"][1]["reversed_by"] == told["items"][0]["id"]
    assert told["items"][1]["self_heating"] is True
    page = script.get("/api/ledger", params={"limit": 1, "offset": 1}).json()
    assert (page["total"], len(page["items"])) == (4, 1)
    assert script.get("/api/ledger", params={"kind": "draw"}).json()["total"] == 1
    assert script.get("/api/ledger", params={"before": "2020-01-01T00:00:00Z"}).json()["total"] == 0
    assert script.get("/api/ledger", params={"container": "K7Q"}).status_code == 404
    report = script.get("/api/ledger/check").json()
    assert (report["holds"], report["faults"]) == (True, [])
    assert "no outside witness yet" in report["rag_log"]


def test_the_store_as_a_list(shop: Shop, script: TestClient, code: str) -> None:
    with shop.database.writing() as session:
        unknown = received(session, shop.actor(Role.KEEPER), oil(session), None, opened_on=None)
    told = script.get("/api/containers").json()
    assert [row["code"] for row in told["items"]] == [unknown, code]
    assert (told["items"][0]["amount"], told["items"][0]["standing"]) == (None, "not-known")
    assert script.get("/api/containers", params={"q": "umber"}).json()["total"] == 1
    assert script.get("/api/containers", params={"standing": "not-known"}).json()["total"] == 1
    assert script.get("/api/containers", params={"state": "gone"}).json()["total"] == 0
    one = script.get(f"/api/containers/{unknown}").json()
    assert one["self_heating"] is True
    assert one["opened_on"] is None
    assert "opening-not-known" in {reason["code"] for reason in one["because"]}


HOSTILE: list[Any] = [
    "\x00", "1e999 g", "-5 g", "5 ml", "", "x" * 5000, "NaN g", "\ud800", 5, None, True, [], {},
    2**63, -1, 1e308,
]  # fmt: skip


@pytest.mark.parametrize("value", HOSTILE, ids=[f"value-{n}" for n in range(len(HOSTILE))])
def test_odd_values_are_422_and_book_nothing(shop: Shop, script: TestClient, code: str, value: Any) -> None:
    base = f"/api/containers/{code}"
    for path, name, rest in (
        ("draws", "amount", {}),
        ("draws", "before", {"how": "container", "after": "3"}),
        ("draws", "opened_on", {"amount": "x"}),
        ("draws", "happened_at", {"amount": "x"}),
        ("draws", "job", {"amount": "x"}),
        ("counts", "gross", {"by": "weight", "tare": "1"}),
        ("counts", "share", {"by": "share"}),
        ("losses", "loss", {"amount": "1 g"}),
        ("discards", "destination", {"amount": "1 g"}),
        ("moves", "place", {}),
        ("decants", "into", {"amount": "no amount"}),
        ("checks", "outcome", {}),
        ("opened", "once", {}),
        ("closed", "late_reason", {"happened_at": "2020-01-01T00:00:00Z"}),
    ):
        try:
            answer = script.post(f"{base}/{path}", json={"once": once(), **rest, name: value})
        except (UnicodeEncodeError, ValueError):
            continue  # the client itself cannot write it
        assert answer.status_code in (404, 422), (path, name, value, answer.status_code, answer.text)
    with shop.database.reading() as session:
        assert len(session.exec(select(Movement)).all()) == 1
    holds(shop.database)


@pytest.mark.parametrize(
    "path", ["K7Q", "%00", "%ff%fe", "a" * 300, "..%2f..", "ÄÖÜÄÖÜ", "123456", "99999999999999999999"]
)
def test_odd_codes_are_no_containers(script: TestClient, path: str) -> None:
    assert script.get(f"/api/containers/{path}").status_code in (404, 422)
    assert post(script, f"/api/containers/{path}/draws", amount="5 g").status_code in (404, 405, 422)


@pytest.mark.parametrize(
    "query",
    ["limit=0", "limit=-1", "limit=201", "offset=-1", "offset=9223372036854775808", "kind=x", "material=0",
     "person=2147483648", "since=yesterday", "late=perhaps"],
)  # fmt: skip
def test_paging_and_filters_are_bounded(script: TestClient, query: str) -> None:
    assert script.get(f"/api/ledger?{query}").status_code == 422


def test_unknown_fields_and_numbers_of_entries(script: TestClient, code: str) -> None:
    assert post(script, f"/api/containers/{code}/draws", amount="5 g", colour="red").status_code == 422
    for number in ("0", "-1", "9223372036854775808", "one", "1_0"):
        assert post(script, f"/api/movements/{number}/reversal", reason="a slip").status_code == 422
