"""What a start leaves to the bench, on the pages of check, start and bench, and in the calls."""

from __future__ import annotations

import re

import pytest

from service.core.access import Role
from tests.mixing_shop import MixShop, make_mix_shop
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    for name in ("spirit", "raw umber", "drier"):
        made.can(name)
    made.recipe = made.write(
        ("spirit", "100 ml"), ("raw umber", "2 metric tsp"), ("drier", "to suit, at most 50 ml"), name="Glaze"
    )
    return made


def flat(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_check_start_and_bench_say_what_is_put_in_by_hand(mix: MixShop, shop: Shop) -> None:
    client = shop.signed_in(Role.FINISHER)
    check = mix.keep("2 times", recipe=mix.recipe)
    page = flat(client.get(f"/checks/{check}").text)
    assert "Check result: something is not known" in page and "up to 100 ml held back, not drawn" in page
    start = flat(client.get(f"/checks/{check}/start").text)
    for words in (page, start):
        assert "Put in by hand at the bench" in words and "drier : to suit, at most 100 ml." in words
        assert "raw umber : 4 metric tsp." in words and "How much that is is not known." in words
    drawn = start[start.index("This is drawn") :]
    assert "200 ml spirit" in drawn and "drier" not in drawn
    form = {"once": "by-hand-1", "job": str(mix.job), "when": "about"}
    here = client.post(f"/checks/{check}/start", data=form).headers["location"]
    bench = flat(client.get(here).text)
    assert "2 lines are still to be put in by hand" in bench and "Next, step 2 raw umber" in bench
    assert "to suit, at most 100 ml: put in by hand" in bench and "4 metric tsp: put in by hand" in bench


def test_the_calls_say_it_too(mix: MixShop, shop: Shop) -> None:
    api = shop.api(Role.FINISHER)
    told = api.post(f"/api/recipes/{mix.recipe}/check", json={"amount": "2 times"}).json()
    needs = {one["name"]: one for one in told["needs"]}
    assert told["complete"] is False and needs["raw umber"]["high"] is None
    assert needs["raw umber"]["words"] == "not known" and "level spoonful" in needs["raw umber"]["why"]
    assert (needs["drier"]["high"], needs["drier"]["drawn_at_start"]) == (100_000, 0)
    assert [(one["position"], one["words"]) for one in told["by_hand"]] == [
        (2, "4 metric tsp"), (3, "to suit, at most 100 ml"),
    ]  # fmt: skip
    begin = {"once": "by-hand-api-1", "fingerprint": told["fingerprint"], "job": mix.job}
    done = api.post("/api/batches", json=begin)
    assert done.status_code == 201, done.text
    assert {f["about"] for f in done.json()["findings"] if f["code"] == "by-hand"} == {"raw umber", "drier"}
    here = f"/api/batches/{done.json()['batch']}"
    seen = api.get(here).json()
    assert seen["still_by_hand"] == [2, 3] and [a["material"] for a in seen["additions"]] == ["spirit"]
    assert {one["state"]: one["amount"] for one in seen["allocations"]} == {
        "drawn": 200_000, "reserved": 100_000,
    }  # fmt: skip
    more = {"once": "by-hand-api-2", "material": mix.ids["drier"], "amount": "3 ml"}
    assert api.post(f"{here}/additions", json=more).status_code == 201
    assert api.get(here).json()["still_by_hand"] == [2]


def test_what_nobody_measured_is_null_in_as_made(mix: MixShop, shop: Shop) -> None:
    mix.start(mix.keep(recipe=mix.recipe))
    api, code = shop.api(Role.FINISHER), mix.can("drier")
    blind = {"once": "as-made-null", "code": code, "how": "not-measured"}
    assert api.post("/api/batches/1/additions", json=blind).status_code == 201
    lines = {one["name"]: one for one in api.get("/api/batches/1/as-made").json()["lines"]}
    assert lines["drier"]["made"] is None and lines["drier"]["unmeasured"] is True
    assert lines["raw umber"]["made"] is None and lines["spirit"]["made"] == 100_000
