"""`/api/terms` and `/api/orders`: the same acts as the pages, with the figures as data."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.records.plans import PlannedJobRow
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import once
from tests.web.conftest import Shop

TERM = {"name": "Spring", "first_day": "2026-02-02", "last_day": "2026-07-03", "country": "DE", "part": "SN"}


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    return make_mix_shop(shop.database, shop.cast)


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.api(Role.FINISHER)


def post(client: TestClient, path: str, status: int = 201, **body: Any) -> Any:
    answer = client.post(path, json={"once": once()} | body)
    assert answer.status_code == status, answer.text
    return answer.json()


def planned(client: TestClient, mix: MixShop, **more: Any) -> tuple[int, Any]:
    term = post(client, "/api/terms", **TERM)["id"]
    job = {"name": "class", "recipe": mix.recipe, "heads": 20, "each": "0.1 times", "spare_percent": 10,
           "first": "2026-04-20"} | more  # fmt: skip
    return term, post(client, f"/api/terms/{term}/jobs", **job)


def test_a_plan_as_data(client: TestClient, mix: MixShop) -> None:
    code = mix.can("spirit", 500_000)
    term, done = planned(client, mix)
    assert done["dates"] == ["2026-04-20"]
    spirit = mix.ids["spirit"]
    post(client, f"/api/materials/{spirit}/packs", amount="250 ml", price="3.00", lead_days=5)
    post(client, f"/api/materials/{mix.ids['boiled oil']}/packs", amount="1 l")
    plan = client.get(f"/api/terms/{term}/plan").json()
    needs = {one["name"]: one for one in plan["needs"]}
    assert (needs["spirit"]["high"], needs["spirit"]["missing"]) == (660_000, 160_000)
    assert needs["spirit"]["taken"] == [
        {"code": code, "order": "", "amount": 500_000, "opens": False, "look_first": False}
    ]
    orders = {one["name"]: one for one in plan["orders"]}
    (line,) = orders["spirit"]["lines"]
    assert (line["count"], line["pack_amount"], line["order_by"]) == (1, 250_000, "2026-04-02")
    assert orders["boiled oil"]["lines"][0]["order_by"] is None
    assert orders["raw umber"]["chosen"] is False
    assert plan["complete"] is False and plan["cost_at_least"] is True and float(plan["cost"]) == 3
    assert {"no-pack-size", "lead-not-known", "cost-not-known"} <= {f["code"] for f in plan["findings"]}


def test_order_and_receive_by_calls(client: TestClient, mix: MixShop) -> None:
    term, _ = planned(client, mix)
    spirit = mix.ids["spirit"]
    pack = post(client, f"/api/materials/{spirit}/packs", amount="1 l", supplier="Kilnwood Supplies")
    lines = [{"pack": pack["items"][0]["id"], "count": 2, "expected_on": "2026-04-10"}]
    order = post(client, "/api/orders", lines=lines, term=term)
    assert (order["supplier"], order["lines"][0]["state"]) == ("Kilnwood Supplies", "open")
    plan = client.get(f"/api/terms/{term}/plan").json()
    assert [one["order"] for one in plan["needs"][-1]["taken"]] == [f"order {order['id']}"]
    line = order["lines"][0]["id"]
    came = {"material": spirit, "amount": "1 l", "count": 2, "order_line": line, "once": "came"}
    assert client.post("/api/containers", json=came).status_code == 201
    again = client.get(f"/api/orders/{order['id']}").json()["lines"][0]
    assert (again["state"], again["received_count"], again["received_amount"]) == ("received", 2, 2_000_000)
    wrong = client.post("/api/containers", json=came | {"once": "more"})
    assert wrong.status_code == 422 and "count" in wrong.json()["errors"]
    other = came | {"once": "other", "material": mix.ids["boiled oil"]}
    assert client.post("/api/containers", json=other).status_code == 422
    state = {"version": again["version"], "state": "open"}
    assert "state" in post(client, f"/api/orders/lines/{line}", 422, **state)["errors"]
    assert client.get("/api/orders").json()["items"][0]["id"] == order["id"]


def test_what_came_beside_an_order_is_settled_as_the_sentence_says(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    """Each word in quotes stands on the page of the order, and pressing there as told ends the question."""
    term, _ = planned(client, mix)
    pack = post(client, f"/api/materials/{mix.ids['spirit']}/packs", amount="1 l")["items"][0]["id"]
    lines = [{"pack": pack, "count": 1, "expected_on": "2026-04-10"}]
    order = post(client, "/api/orders", lines=lines, term=term)
    shop.clock.pass_by(minutes=5)
    post(client, "/api/containers", material=mix.ids["spirit"], amount="1 l", count=1)
    shop.clock.pass_by(minutes=5)
    code = "may-be-here-already"

    def asked() -> list[str]:
        found = client.get(f"/api/terms/{term}/plan").json()["findings"]
        return [one["sentence"] for one in found if one["code"] == code]

    (sentence,) = asked()
    browser = shop.signed_in(Role.FINISHER)
    page = browser.get(f"/orders/{order['id']}").text
    words = re.findall("“([^”]+)”", sentence)
    assert words == [
        "Another day, or it does not come", "Nothing more of it comes", "It is on its way", "Write it down",
    ]
    for one in words:
        assert f">{one}<" in page, one
    line = order["lines"][0]
    as_it_stands = {"once": once(), "version": line["version"], "state": "open", "expected_on": "10 Apr 2026"}
    assert browser.post(f"/orders/lines/{line['id']}", data=as_it_stands).status_code == 303
    assert asked() == []


def test_days_and_their_batch(client: TestClient, mix: MixShop) -> None:
    for name in ("raw umber", "boiled oil", "spirit"):
        mix.can(name, 2_000_000)
    days = {"first": "2026-03-16", "repeat": "weekly", "last": "2026-03-30"}
    term, done = planned(client, mix, each="0.05 times", **days)
    whole = client.get(f"/api/terms/{term}").json()
    first, second, third = whole["jobs"][0]["dates"]
    assert whole["jobs"][0]["amount"] == "1.1 times"
    dropped = post(client, f"/api/planned-dates/{first['id']}/drop", version=first["version"])
    assert dropped["state"] == "dropped"
    post(client, f"/api/planned-dates/{first['id']}/drop", 409, version=first["version"])
    post(client, f"/api/planned-dates/{first['id']}/take-up", version=first["version"] + 1)
    check = client.post(f"/api/planned-dates/{second['id']}/check", json={})
    assert check.status_code == 200, check.text
    named = {"fingerprint": check.json()["fingerprint"], "planned_date": second["id"]}
    post(client, "/api/batches", 409, set_aside=True, **(named | {"planned_date": third["id"]}))
    batch = post(client, "/api/batches", set_aside=True, **named)
    dates = client.get(f"/api/terms/{term}").json()["jobs"][0]["dates"]
    assert (dates[1]["state"], dates[1]["batch"]) == ("started", batch["id"])
    assert [one["batch_state"] for one in dates] == [None, "set-aside", None]
    move = {"version": dates[1]["version"], "day": "2026-03-24"}
    held = post(client, f"/api/planned-dates/{second['id']}/move", 409, **move)
    assert (held["type"], held["title"]) == ("/problems/refused", "A rule of the shop refused this")
    words = f"Batch {batch['id']} is set aside for this day: release it first, then move the day."
    assert held["detail"] == words
    post(client, f"/api/planned-dates/{third['id']}/batch", 422, version=1, batch=batch["id"])
    post(client, f"/api/planned-jobs/{done['planned']}/dates", day="2026-03-17")
    post(client, f"/api/planned-jobs/{done['planned']}/dates", 422, day="2026-03-17")
    post(client, f"/api/materials/{mix.ids['spirit']}/least", amount="500 ml")
    post(client, f"/api/materials/{mix.ids['spirit']}/least", 409, amount="1 l")


def test_the_check_of_a_day_says_what_the_check_of_its_recipe_says(client: TestClient, mix: MixShop) -> None:
    mix.can("spirit", 100_000)
    term, _ = planned(client, mix)
    job = client.get(f"/api/terms/{term}").json()["jobs"][0]
    asked = {"amount": job["amount"]}
    plain = client.post(f"/api/recipes/{mix.recipe}/check", json=asked).json()
    path = f"/api/planned-dates/{job['dates'][0]['id']}/check"
    whole = client.post(path, json={})
    assert whole.status_code == 200, whole.text
    of_day = whole.json()
    assert set(of_day) == set(plain) and of_day["amount"] == job["amount"]
    assert {one["name"] for one in of_day["shortages"]} == {"raw umber", "boiled oil", "spirit"}
    assert of_day["shortages"] == plain["shortages"] and of_day["needs"] == plain["needs"]
    assert of_day["blocking"] is True and {"short"} <= {one["code"] for one in of_day["findings"]}
    described = client.get("/api/openapi.json").json()["components"]["schemas"]
    assert {"shortages", "findings", "blocking", "complete"} <= set(described["PlannedCheckOut"]["required"])


def test_a_job_beyond_the_book_is_refused_at_once_and_read_all_the_same(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    """One that was planned so before is shown as not known, and its day can be dropped."""
    term, done = planned(client, mix, each="1 kg", heads=1, spare_percent=0)
    path = f"/api/terms/{term}/jobs"
    big = {"recipe": mix.recipe, "heads": 10_000, "each": "999999 kg", "first": "2026-04-20", "name": "big"}
    refused = post(client, path, 422, **big)
    words = "999999 kg for 10000 people is more than the book can keep. Write less for each."
    assert refused["errors"] == {"each": words} and refused["detail"] == words
    with shop.database.writing() as session:
        row = session.get_one(PlannedJobRow, done["planned"])
        row.heads, row.each_written, row.each_amount = 10_000, "999999 kg", 999_999_000_000
        session.add(row)
    whole = client.get(f"/api/terms/{term}")
    assert whole.status_code == 200, whole.text
    job = whole.json()["jobs"][0]
    assert (job["amount"], job["why"]) == (None, "That amount is too large to be kept in the book.")
    page = shop.signed_in(Role.FINISHER).get(f"/term/jobs/{done['planned']}")
    assert page.status_code == 200 and "not known: That amount is too large" in page.text
    assert shop.signed_in(Role.FINISHER).get(f"/term/{term}").status_code == 200
    change = {"version": 1, "name": "class", "recipe": mix.recipe, "heads": 10_000, "each": "999999 kg"}
    again = post(client, f"/api/planned-jobs/{done['planned']}", 422, **change)
    assert set(again["errors"]) == {"each"}
    post(client, f"/api/planned-dates/{job['dates'][0]['id']}/drop", version=1)


def test_a_third_of_a_recipe_is_a_third(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term, done = planned(client, mix, each="1/3 times", heads=3, spare_percent=0)
    job = client.get(f"/api/terms/{term}").json()["jobs"][0]
    assert (job["each"], job["amount"]) == ("1/3 times", "1 time")
    for page in (f"/term/{term}", f"/term/jobs/{done['planned']}", f"/term/jobs/{done['planned']}/edit"):
        text = shop.signed_in(Role.FINISHER).get(page).text
        assert "1/3 times" in text and "0.333" not in text
    term, _ = planned(client, mix, each="0.375 times", heads=3, spare_percent=0)
    date = client.get(f"/api/terms/{term}").json()["jobs"][0]["dates"][0]
    check = client.post(f"/api/planned-dates/{date['id']}/check", json={})
    assert check.status_code == 200 and check.json()["amount"] == "1.1250 times", check.text


def test_students_read_the_plan_and_change_nothing(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term, _ = planned(client, mix)
    student = shop.api(Role.STUDENT)
    assert student.get(f"/api/terms/{term}/plan").status_code == 200
    assert student.post("/api/terms", json=TERM | {"once": once()}).status_code == 403


def test_a_day_outside_the_years_of_the_book_is_refused(client: TestClient, mix: MixShop) -> None:
    pack = post(client, f"/api/materials/{mix.ids['spirit']}/packs", amount="1 l")["items"][0]["id"]
    for day in ("2201-01-01", "9999-12-31", "1899-12-31"):
        for body in (
            {"lines": [{"pack": pack, "count": 1, "expected_on": day}]},
            {"lines": [{"pack": pack, "count": 1}], "placed_on": day},
        ):
            said = post(client, "/api/orders", 422, **body)
            assert "1900 to 2200" in str(said), said
    assert client.get("/api/orders").json()["items"] == []


def test_what_a_call_lacks_is_said_in_english(client: TestClient, mix: MixShop) -> None:
    term, _ = planned(client, mix)
    odd = {"name": "", "recipe": mix.recipe, "heads": 20, "each": "0.1 times", "first": "x", "every": 0}
    told = post(client, f"/api/terms/{term}/jobs", 422, **odd)
    assert told["errors"] == {
        "name": "“name” is empty: write it.",
        "first": "Send the day as text, like 2026-11-25.",
        "every": "Enter a number of 1 or more for “every”.",
    }
    assert told["detail"] == " ".join(told["errors"].values())
    wrong = post(client, "/api/terms", 422, **(TERM | {"weekdays": [7, 0, 8]}))
    assert set(wrong["errors"]) == {"weekdays.0", "weekdays.2"}
    assert wrong["detail"] == "Enter a number of 6 or less for “weekdays”."
    lacks = post(client, "/api/planned-dates/1/move", 422)["errors"]
    assert lacks == {one: f"“{one}” is missing: write it." for one in ("version", "day")}


def test_an_item_that_is_no_object_is_not_told_as_a_body_that_is_none(client: TestClient) -> None:
    said = str(post(client, "/api/terms", 422, **TERM, free=[1]))
    assert "as an object" in said and "Content-Type" not in said
