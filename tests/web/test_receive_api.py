"""The calls for materials, places and taking in: answers, problem documents, hostile input."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.core.shelf_codes import is_code
from tests.web.conftest import Shop

_keys = itertools.count(1)
PROBLEM = "application/problem+json"


def once() -> str:
    return f"api-key-{next(_keys):06d}"


def material(client: TestClient, **more: Any) -> Any:
    body = {"once": once(), "name": "Linseed oil", "kind": "binder", "form": "liquid"} | more
    return client.post("/api/materials", json=body)


def receive(client: TestClient, number: int, **more: Any) -> Any:
    return client.post("/api/containers", json={"once": once(), "material": number, "amount": "1 l"} | more)


def codes(answer: Any) -> set[str]:
    return {one["code"] for one in answer.json()["findings"]}


def test_a_material_a_place_and_twelve_containers(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    made = material(keeper, facts={"hazards": ["Asp. Tox. 1 H304"], "density_g_ml": "0.93"})
    assert made.status_code == 201
    number = made.json()["material"]
    place = keeper.post("/api/places", json={"once": once(), "name": "Cabinet A", "kind": "cabinet"})
    assert place.status_code == 201 and is_code(place.json()["code"])
    came = receive(keeper, number, count=12, place=place.json()["place"], packed_on="2026-01-05", lot="7")
    assert came.status_code == 201
    body = came.json()
    assert len({one["code"] for one in body["containers"]}) == 12
    assert (body["amount"], body["basis"], body["name"]) == (1_000_000, "volume", "Linseed oil")
    assert "sheet-not-come" in body["missing"]
    listed = keeper.get("/api/materials?q=LINSEED").json()
    assert listed["total"] == 1 and listed["materials"][0]["facts"]["hazards"] == ["Asp. Tox. 1 H304"]
    one = keeper.get(f"/api/materials/{number}").json()
    assert one["counts_self_heating"] is True and one["complete"] is False
    assert {"self-heating-not-known", "binder-not-known"} <= {f["code"] for f in one["findings"]}
    places = keeper.get("/api/places").json()["places"]
    assert places[0]["path"] == "Cabinet A" and places[0]["metal"] == "not-known"


def test_the_same_key_again_and_with_another_body(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    number, key = material(keeper).json()["material"], once()
    first = receive(keeper, number, once=key, count=2)
    again = receive(keeper, number, once=key, count=2)
    assert first.json() == again.json()
    other = receive(keeper, number, once=key, count=3)
    assert other.status_code == 409 and other.json()["type"] == "/problems/once-reused"
    assert other.headers["content-type"].startswith(PROBLEM)


def test_what_is_ambiguous_is_answered_with_readings(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    number = material(keeper).json()["material"]
    answer = receive(keeper, number, amount="1 quart")
    assert answer.status_code == 422
    assert {r["text"] for r in answer.json()["readings"]} == {"1 US quart", "1 imperial quart"}
    capacity = receive(keeper, number, amount="half", capacity="1 pint")
    assert capacity.status_code == 422 and "capacity" in capacity.json()["errors"]


def test_not_known_stays_null(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    number = material(keeper).json()["material"]
    body = receive(keeper, number, amount="", origin="stock-take", opened=True, sheet_came="no").json()
    assert body["amount"] is None and body["basis"] is None
    assert {"amount-not-known", "start-not-known", "opened-not-known"} <= set(body["missing"])
    facts = keeper.get(f"/api/materials/{number}").json()["facts"]
    assert facts["hazards"] is None and facts["density_g_ml"] is None and facts["toxic_metals"] is None


def test_published_rows_are_offered_and_none_is_chosen(shop: Shop) -> None:
    answer = shop.api(Role.FINISHER).get("/api/materials/published?q=chrome green").json()
    assert answer["ambiguous"] is True and len(answer["published"]) > 1
    key = answer["published"][0]["key"]
    made = material(shop.api(Role.KEEPER), name="Green", kind="dry-pigment", form="powder", known=key)
    assert made.status_code == 201
    lost = material(shop.api(Role.KEEPER), known="no such row")
    assert lost.status_code == 404


def test_roles(shop: Shop) -> None:
    number = material(shop.api(Role.KEEPER)).json()["material"]
    finisher = shop.api(Role.FINISHER)
    assert material(finisher, name="Other").status_code == 201
    refused = material(finisher, name="Third", facts={"hazards": []})
    assert refused.status_code == 403 and refused.json()["type"] == "/problems/not-allowed"
    place = {"once": once(), "name": "X", "kind": "room"}
    assert finisher.post("/api/places", json=place).status_code == 403
    for role in (Role.STUDENT, Role.READER):
        assert receive(shop.api(role), number).status_code == 403
    assert shop.api(Role.STUDENT).get("/api/materials").status_code == 403
    assert shop.api(Role.STUDENT).get(f"/api/materials/{number}").status_code == 200
    nobody = shop.client()
    assert nobody.get("/api/materials").status_code == 401


def test_an_act_is_booked_to_the_named_person_with_the_lesser_rights(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    number = material(keeper).json()["material"]
    cast = shop.cast
    assert receive(keeper, number, person=cast.finisher.id).status_code == 201
    assert receive(keeper, number, person=cast.student.id).status_code == 403
    finisher = shop.api(Role.FINISHER)
    lent = material(finisher, name="B", facts={"hazards": []}, person=cast.keeper.id)
    assert lent.status_code == 403, "a finisher's token does not become a keeper's by naming one"
    assert receive(keeper, number, person=9999).status_code == 422


def test_a_late_entry_needs_its_sentence(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    number = material(keeper).json()["material"]
    when = {"happened_at": "2026-03-10T08:00:00+01:00"}
    assert receive(keeper, number, **when).status_code == 422
    assert receive(keeper, number, **when, late_reason="The tablet was being mended").status_code == 201
    assert receive(keeper, number, happened_at="2026-03-10T08:00:00").status_code == 422
    assert receive(keeper, number, happened_at="2027-03-10T08:00:00Z").status_code == 422


def test_a_twin_is_told(shop: Shop) -> None:
    keeper = shop.api(Role.KEEPER)
    material(keeper)
    assert "twin-material" in codes(material(keeper, name="LINSEED  oil"))


FIELDS = [
    "name", "kind", "form", "amount", "count", "material_id", "place_id", "version", "hazards", "written",
    "density_g_ml", "packed_on", "code", "done", "step", "back", "regime", "sheet_date", "self_heating",
    "hazards_known", "parent_id", "known", "basis", "ventilation_class",
]  # fmt: skip
HOSTILE: list[Any] = [
    None, True, 0, -1, 2**31, 2**63, 1e308, "", " ", "\x00", "a\x00b", "\u202e", "x" * 5000, "%",
    "'; drop table--", [], {}, ["a"], "NaN", "1e999999", "../../etc/passwd", "<svg onload=alert(1)>", "٧",
    "1_0",
]  # fmt: skip


@pytest.mark.parametrize("field", [
    "material", "count", "amount", "capacity", "place", "origin", "supplier", "lot", "packed_on", "opened",
    "opened_on", "condition", "sheet_came", "note", "code", "once", "happened_at", "person",
    "estimated", "more",
])  # fmt: skip
def test_no_odd_value_of_a_delivery_is_a_mistake_of_ours(shop: Shop, field: str) -> None:
    keeper = shop.api(Role.KEEPER)
    number = material(keeper).json()["material"]
    for value in HOSTILE:
        answer = receive(keeper, number, **{field: value})
        assert answer.status_code in (201, 404, 409, 422), (field, value, answer.text)
        if answer.status_code >= 400:
            assert answer.headers["content-type"].startswith(PROBLEM)


@pytest.mark.parametrize("field", [
    "name", "kind", "form", "maker", "ci_name", "cas", "basis", "note", "known", "facts", "facts.hazards",
    "facts.density_g_ml", "facts.flash_point_c", "facts.flash_point_method", "facts.toxic_metals",
    "facts.ventilation_class", "facts.self_heating", "facts.self_heating_reason", "facts.binder",
])  # fmt: skip
def test_no_odd_value_of_a_material_is_a_mistake_of_ours(shop: Shop, field: str) -> None:
    keeper = shop.api(Role.KEEPER)
    for value in HOSTILE:
        name = field.removeprefix("facts.")
        more: dict[str, Any] = {"facts": {name: value}} if "." in field else {field: value}
        answer = material(keeper, **more)
        assert answer.status_code in (201, 404, 409, 422), (field, value, answer.text)


@pytest.mark.parametrize("query", [
    "limit=0", "limit=201", "limit=-1", "offset=-1", f"offset={2**63}", "kind=other",
    "q=" + "x" * 121, "limit=1_0",
])  # fmt: skip
def test_lists_are_bounded(shop: Shop, query: str) -> None:
    assert shop.api(Role.KEEPER).get(f"/api/materials?{query}").status_code == 422


@pytest.mark.parametrize("number", ["0", "-1", str(2**31), str(2**63), "1_0", "x", "%00"])
def test_odd_numbers_in_addresses(shop: Shop, number: str) -> None:
    assert shop.api(Role.KEEPER).get(f"/api/materials/{number}").status_code in (404, 422)
    pages = shop.signed_in(Role.KEEPER)
    for path in ("materials", "places", "receive", "materials/1/sheets"):
        assert pages.get(f"/{path}/{number}").status_code in (404, 405, 422)


@pytest.mark.parametrize("path", [
    "/materials/new", "/materials/1/facts", "/materials/1/describe", "/materials/1/spoons", "/places/new",
    "/places/1/change", "/receive/1", "/receive/stock-take", "/materials/1/sheets/new",
    "/materials/1/published", "/materials/1/active",
])  # fmt: skip
def test_no_odd_form_is_a_mistake_of_ours(shop: Shop, path: str) -> None:
    material(shop.api(Role.KEEPER))
    shop.api(Role.KEEPER).post("/api/places", json={"once": once(), "name": "X", "kind": "room"})
    keeper = shop.signed_in(Role.KEEPER)
    base = {"name": "A", "kind": "binder", "form": "liquid", "material_id": "1", "version": "1"}
    odd = [value for value in HOSTILE if isinstance(value, str)]
    at_once = [dict.fromkeys(FIELDS, value) for value in odd]
    one_by_one = [base | {name: odd[at % len(odd)]} for at, name in enumerate(FIELDS)]
    for form in [*at_once, *one_by_one]:
        answer = keeper.post(path, data=form | {"once": once()})
        assert answer.status_code in (200, 303, 400, 403, 404, 409, 422), (path, form)


@pytest.mark.parametrize(
    ("packed", "said"),
    [
        ("2026-02-29", "There is no such day in the calendar."), ("2026-13-01", "There is no such day"),
        ("29.2.2026", "Send the day as text, like 2026-11-25."), (20260228, "Send"),
    ],
)  # fmt: skip
def test_a_day_that_there_is_not_is_told_as_one(shop: Shop, packed: object, said: str) -> None:
    client = shop.api(Role.KEEPER)
    answer = receive(client, material(client).json()["material"], packed_on=packed)
    assert answer.status_code == 422 and said in answer.json()["errors"]["packed_on"]
