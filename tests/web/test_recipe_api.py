"""`/api/recipes` and `/api/batches`: the same acts as the pages, problem documents, hostile bodies."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from tests.mixing_shop import UNKNOWN_DATES, MixShop, make_mix_shop
from tests.store_builders import material
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    for name in ("raw umber", "boiled oil", "spirit"):
        made.can(name)
    return made


@pytest.fixture
def api(shop: Shop, mix: MixShop) -> TestClient:
    return shop.api(Role.FINISHER)


def checked(api: TestClient, mix: MixShop, **said: Any) -> dict[str, Any]:
    done = api.post(f"/api/recipes/{mix.recipe}/check", json=said)
    assert done.status_code == 200, done.text
    return dict(done.json())


def batch_body(mix: MixShop, fingerprint: str, **said: Any) -> dict[str, Any]:
    return {"once": "api-batch-1", "fingerprint": fingerprint, "job": mix.job} | said


def test_write_read_and_revise(api: TestClient, mix: MixShop) -> None:
    body = {"once": "api-recipe-1", "name": "Glaze", "makes": "500 ml", "lines": [
        {"material": mix.ids["spirit"], "amount": "400 ml"},
        {"material": mix.ids["drier"], "amount": "to suit, at most 5 ml", "note": "last"},
    ]}  # fmt: skip
    done = api.post("/api/recipes", json=body)
    assert done.status_code == 201 and done.json()["version_number"] == 1
    assert api.post("/api/recipes", json=body).json()["repeated"] is True
    number = done.json()["recipe"]
    one = api.get(f"/api/recipes/{number}").json()
    assert [(line["name"], line["low"], line["high"]) for line in one["lines"]] == [
        ("spirit", 400_000, 400_000), ("drier", None, 5000),
    ]  # fmt: skip
    assert (one["makes_amount"], one["makes_basis"], one["version"]) == (500_000, "volume", 1)
    edit = body | {"once": "api-recipe-2", "version": 1, "lines": body["lines"][:1]}
    assert api.post(f"/api/recipes/{number}/versions", json=edit).json()["version_number"] == 2
    assert len(api.get(f"/api/recipes/{number}?version_number=1").json()["lines"]) == 2
    stale = api.post(f"/api/recipes/{number}/versions", json=edit | {"once": "api-recipe-3"})
    assert stale.status_code == 409 and stale.json()["type"] == "/problems/stale"
    assert {r["name"] for r in api.get("/api/recipes").json()["items"]} == {"Glaze", "Walnut stain"}


def test_doubt_is_answered_with_readings(api: TestClient, mix: MixShop) -> None:
    body = {"once": "api-recipe-1", "name": "Doubt", "lines": [
        {"material": mix.ids["spirit"], "amount": "1 l"}, {"material": mix.ids["spirit"], "amount": "1 pint"},
    ]}  # fmt: skip
    done = api.post("/api/recipes", json=body)
    assert done.status_code == 422 and set(done.json()["errors"]) == {"amount_1"}
    assert [r["text"] for r in done.json()["readings"]] == ["1 US pint", "1 imperial pint"]


def test_the_check_allocates_and_starts_nothing(api: TestClient, mix: MixShop) -> None:
    answer = checked(api, mix, times="2.5")
    assert [(a["amount"], a["basis"], a["words"]) for a in answer["allocations"]] == [
        (250_000, "mass", "250 g"), (500_000, "volume", "500 ml"), (750_000, "volume", "750 ml"),
    ]  # fmt: skip
    assert answer["needs_job"] and answer["complete"] and not answer["blocking"]
    assert answer["shortages"] == [] and len(answer["fingerprint"]) == 64
    assert checked(api, mix, amount="2.5 times")["fingerprint"] == answer["fingerprint"]
    assert mix.left(answer["allocations"][0]["code"]) == 1_000_000
    short = checked(api, mix, times=9)
    assert short["shortages"][0]["words"].endswith("of boiled oil") and short["blocking"]


def test_start_add_finish(api: TestClient, mix: MixShop) -> None:
    answer = checked(api, mix, amount="1 time")
    done = api.post("/api/batches", json=batch_body(mix, answer["fingerprint"]))
    assert done.status_code == 201 and done.json()["state"] == "running"
    assert [a["written"] for a in done.json()["additions"]] == ["100 g", "200 ml", "300 ml"]
    number = done.json()["batch"]
    more = {"once": "api-add-1", "material": mix.ids["spirit"], "amount": "15 ml"}
    assert api.post(f"/api/batches/{number}/additions", json=more).status_code == 201
    end = {"once": "api-finish-1", "jars": [{"amount": "500 ml"}], "loss_note": "pot"}
    ended = api.post(f"/api/batches/{number}/finish", json=end).json()
    assert ended["jars"][0]["self_heating"] == "yes" and ended["balance"]["difference"] is None
    one = api.get(f"/api/batches/{number}").json()
    assert (one["state"], len(one["additions"]), len(one["jars"])) == ("finished", 4, 1)
    assert api.get("/api/batches?state=finished").json()["items"][0]["id"] == number


def test_set_aside_start_and_release(api: TestClient, mix: MixShop) -> None:
    print_of = checked(api, mix, amount="3 times")["fingerprint"]
    aside = api.post("/api/batches", json=batch_body(mix, print_of, set_aside=True)).json()
    assert aside["state"] == "set-aside"
    number = aside["batch"]
    assert {a["state"] for a in api.get(f"/api/batches/{number}").json()["allocations"]} == {"promised"}
    begin = {"once": "api-start-1", "job": mix.job}
    assert api.post(f"/api/batches/{number}/start", json=begin).json()["state"] == "running"
    late = api.post(f"/api/batches/{number}/release", json={"once": "api-release-1"})
    assert late.status_code == 409 and late.json()["type"] == "/problems/stale"
    reason = {"once": "api-give-1", "reason": "Curdled.", "went_to": "hauler"}
    assert api.post(f"/api/batches/{number}/give-up", json=reason).json()["state"] == "given-up"


def test_a_stale_start_tells_which_kind_and_what_changed(api: TestClient, mix: MixShop) -> None:
    print_of = checked(api, mix, amount="3 times")["fingerprint"]
    mix.start(mix.keep("1 time"))
    done = api.post("/api/batches", json=batch_body(mix, print_of))
    assert done.status_code == 409 and done.json()["type"] == "/problems/stale"
    assert "allocation-gone" in {f["code"] for f in done.json()["findings"]}
    unknown = api.post("/api/batches", json=batch_body(mix, "0" * 64))
    assert unknown.status_code == 404


def test_refused_with_findings(api: TestClient, mix: MixShop) -> None:
    recipe = mix.write(("drier", "5 ml"), name="Drier only")
    code = mix.can("drier", **UNKNOWN_DATES)
    answer = api.post(f"/api/recipes/{recipe}/check", json={}).json()
    assert not answer["complete"]
    body = batch_body(mix, answer["fingerprint"])
    refused = api.post("/api/batches", json=body)
    assert refused.status_code == 409 and refused.json()["type"] == "/problems/refused"
    assert "look-before-use" in {f["code"] for f in refused.json()["findings"]}
    assert api.post("/api/batches", json=body | {"looked": [code]}).status_code == 201
    again = api.post("/api/batches", json=body | {"looked": [code], "job": None})
    assert again.status_code == 409 and again.json()["type"] == "/problems/once-reused"


def test_self_heating_without_a_job(api: TestClient, mix: MixShop) -> None:
    print_of = checked(api, mix)["fingerprint"]
    body = batch_body(mix, print_of, job=None)
    refused = api.post("/api/batches", json=body | {"open_job": False})
    assert "needs-job" in {f["code"] for f in refused.json()["findings"]}
    opened = api.post("/api/batches", json=body | {"open_job": True, "once": "api-batch-2"})
    assert opened.status_code == 201 and opened.json()["job"] != mix.job


def test_booked_to_a_named_person(api: TestClient, mix: MixShop, shop: Shop) -> None:
    print_of = checked(api, mix)["fingerprint"]
    body = batch_body(mix, print_of, person=shop.cast.student.id)
    assert api.post("/api/batches", json=body).status_code == 403
    body["person"] = shop.cast.keeper.id
    assert api.post("/api/batches", json=body).status_code == 201


def test_roles(shop: Shop, mix: MixShop, api: TestClient) -> None:
    print_of = checked(api, mix)["fingerprint"]
    number = api.post("/api/batches", json=batch_body(mix, print_of)).json()["batch"]
    student, reader = shop.api(Role.STUDENT), shop.api(Role.READER)
    assert reader.get(f"/api/batches/{number}").status_code == 403
    assert reader.get("/api/recipes").status_code == 403
    assert student.get(f"/api/batches/{number}").status_code == 404
    assert student.get("/api/batches").json()["items"] == []
    for client in (student, reader):
        assert client.post(f"/api/recipes/{mix.recipe}/check", json={}).status_code == 403
        assert client.post("/api/batches", json=batch_body(mix, print_of)).status_code == 403


BAD: list[tuple[str, Any]] = [
    ("recipes", {}), ("recipes", []), ("recipes", {"once": "short", "name": 5, "lines": "x"}),
    ("recipes", {"once": "hostile-1", "name": "x", "lines": [{"material": 2**40, "amount": "5 g"}]}),
    ("recipes", {"once": "hostile-1", "name": "x", "lines": [{"material": 1, "amount": "5 g", "x": 1}]}),
    ("recipes", {"once": "hostile-1", "name": "\u0000", "lines": [{"material": 1, "amount": "5 g"}]}),
    ("recipes", {"once": "hostile-1", "name": "x", "lines": [{"material": 1, "amount": "9" * 199 + " g"}]}),
    ("recipes", {"once": "hostile-1", "name": "x", "lines": []}),
    ("recipes/1/check", {"amount": "1e999 l"}), ("recipes/1/check", {"times": -1}),
    ("recipes/1/check", {"times": "NaN"}), ("recipes/1/check", {"amount": "1 l", "times": 2}),
    ("recipes/1/check", {"amount": ["x"]}), ("recipes/1/check", {"times": 10**30}),
    ("batches", {"once": "hostile-1", "fingerprint": "x"}), ("batches", {"once": "hostile-1"}),
    ("batches/1/additions", {"once": "hostile-1", "amount": None}),
    ("batches/1/finish", {"once": "hostile-1", "jars": [{"amount": 5}]}),
    ("batches/1/give-up", {"once": "hostile-1", "reason": "x", "went_to": "the drain"}),
    ("batches/0/start", {"once": "hostile-1"}), ("batches/x/start", {"once": "hostile-1"}),
]  # fmt: skip


@pytest.mark.parametrize(("address", "body"), BAD)
def test_hostile_bodies_are_422_problem_documents(api: TestClient, address: str, body: Any) -> None:
    done = api.post(f"/api/{address}", json=body)
    assert done.status_code == 422, done.text
    assert done.headers["content-type"].startswith("application/problem+json") and done.json()["errors"]


def test_purpose_coverage_and_base_come_back(api: TestClient, mix: MixShop) -> None:
    body = {"once": "api-recipe-p", "name": "Oak stain", "makes": "500 ml", "mix_purpose": "oil-stain",
            "coverage": "200 to 400 ft2/US gal", "base": 2, "lines": [
        {"material": mix.ids["raw umber"], "amount": "10 metric tsp"},
        {"material": mix.ids["boiled oil"], "amount": "500 ml"},
    ]}  # fmt: skip
    done = api.post("/api/recipes", json=body)
    assert done.status_code == 201, done.text
    number = done.json()["recipe"]
    one = api.get(f"/api/recipes/{number}").json()
    assert (one["mix_purpose"], one["coverage"], one["base"]) == ("oil-stain", "200 to 400 ft²/US gal", 2)
    assert (one["coverage_low_m2_l"], one["coverage_high_m2_l"]) == ("4.908477", "9.816954")
    assert {r["mix_purpose"] for r in api.get("/api/recipes").json()["items"]} == {"oil-stain", None}
    for amount, times in (("1 l of the base", 2), ("40 ft2, 2 coats", None)):
        answer = api.post(f"/api/recipes/{number}/check", json={"amount": amount})
        assert answer.status_code == 200 and answer.json()["amount"] == amount
        assert times is None or float(answer.json()["times"]) == times
    many = api.post(f"/api/recipes/{number}/check", json={"times": 5}).json()
    assert [(w["instead_of"], w["low_mg"]) for w in many["weigh"]] == [("50 metric tsp", None)]
    assert not many["complete"]


@pytest.mark.parametrize(
    "amount",
    ["0 m2", "-3 m2", "1e9 m2", "12 m2, 99 coats", "12 m2", "1 l of the base", "0 l of the base",
     "of the base", "9999999999999 m2", "500 g", "12 m2, 2 coats, 3 coats", "∞ ft2", "m2 of the base"],
)  # fmt: skip
def test_hostile_amounts_name_their_field(api: TestClient, mix: MixShop, amount: str) -> None:
    done = api.post(f"/api/recipes/{mix.recipe}/check", json={"amount": amount})
    assert done.status_code == 422 and "amount" in done.json()["errors"], done.text


@pytest.mark.parametrize(
    "said",
    [{"coverage": "5"}, {"coverage": "400 ft2/gal"}, {"base": 7}, {"base": 0}, {"mix_purpose": "soup"},
     {"coverage": "1e9 m2/l"}, {"base": "two"}],
)  # fmt: skip
def test_odd_purpose_coverage_and_base_name_their_field(
    api: TestClient, mix: MixShop, said: dict[str, Any]
) -> None:
    body = {"once": "api-recipe-o", "name": "Odd", "lines": [
        {"material": mix.ids["spirit"], "amount": "1 l"}
    ]}  # fmt: skip
    done = api.post("/api/recipes", json=body | said)
    assert done.status_code == 422 and set(said) <= set(done.json()["errors"]), done.text


def bleach_recipe(mix: MixShop, *lines: str) -> int:
    """Iron blue, chlorine bleach and vinegar, brought in; a recipe of some of them, 50 ml or g of each."""
    with mix.database.writing() as session:
        for name, facts in (
            ("iron blue", {"ci_name": "PB27"}), ("chlorine bleach", {"cas": "7681-52-9"}),
            ("vinegar", {"cas": "64-19-7"}),
        ):  # fmt: skip
            row = material(session, name)
            for key, value in facts.items():
                setattr(row, key, value)
            session.add(row)
            session.flush()
            mix.ids[name] = row.id or 0
    for name in ("iron blue", "chlorine bleach", "vinegar"):
        mix.can(name)
    return mix.write(*((name, "50 ml" if "oil" in name else "50 g") for name in lines), name="Odd mix")


def test_what_is_never_mixed_is_refused_with_its_findings_until_it_is_confirmed(
    api: TestClient, mix: MixShop
) -> None:
    recipe = bleach_recipe(mix, "iron blue", "boiled oil")
    answer = api.post(f"/api/recipes/{recipe}/check", json={}).json()
    stops = [f for f in answer["findings"] if f["severity"] == "stop"]
    assert [f["code"] for f in stops] == ["never-iron-blue-oil"] and answer["blocking"]
    assert stops[0]["source"] and "half wetted" in stops[0]["sentence"]
    body = batch_body(mix, answer["fingerprint"], recipe=recipe)
    refused = api.post("/api/batches", json=body)
    assert refused.status_code == 409 and refused.json()["type"] == "/problems/refused", refused.text
    assert "never-iron-blue-oil" in {f["code"] for f in refused.json()["findings"]}
    short = api.post("/api/batches", json=body | {"confirmation": "yes"})
    assert short.status_code == 422 and set(short.json()["errors"]) == {"confirmation"}
    done = api.post("/api/batches", json=body | {"confirmation": "All of it is ground out now."})
    assert done.status_code == 201, done.text
    assert "never-confirmed" in {f["code"] for f in done.json()["findings"]}


def test_an_addition_that_is_never_mixed_is_refused_with_its_findings(api: TestClient, mix: MixShop) -> None:
    recipe = bleach_recipe(mix, "chlorine bleach")
    answer = api.post(f"/api/recipes/{recipe}/check", json={}).json()
    started = api.post("/api/batches", json=batch_body(mix, answer["fingerprint"], recipe=recipe))
    batch = started.json()["batch"]
    body = {"once": "api-add-never", "amount": "5 g", "material": mix.ids["vinegar"]}
    for more in ({}, {"confirmation": "The window is open and we are careful."}):
        refused = api.post(f"/api/batches/{batch}/additions", json=body | more)
        assert refused.status_code == 409, refused.text
        assert "never-hypochlorite-acid" in {f["code"] for f in refused.json()["findings"]}
    assert len(api.get(f"/api/batches/{batch}").json()["additions"]) == 1
