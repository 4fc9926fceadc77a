"""What nobody can identify, trade names and real sentences, through the pages and the calls."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from service.core.materials import Basis, Form, MaterialKind
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import material
from tests.web.conftest import Shop

WORDS = "It is borax by the tub's label, and spirit may meet it."
GIBBERISH = ["aaaaaaaaaaaaaaa", "asdf asdf asdf", "..............."]
BOTH = [
    ("spirits of salt", "pool chlorine", "never-hypochlorite-acid", "chlorine gas"),
    ("Chlorine-free bleach", "vinegar", "never-peroxide-acid", "peracid"),
    ("quicklime", "tap water", "never-quicklime-water", "violent heat"),
    ("isocyanate hardener", "tap water", "never-isocyanate-water", "pressure"),
]


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    facts: Any = {"basis": Basis.VOLUME, "form": Form.LIQUID, "kind": MaterialKind.OTHER_CHEMICAL}
    with shop.database.writing() as session:
        dark = material(session, "grey liquid", **facts)
        dark.hazards = None
        session.flush()
        made.ids["grey liquid"] = dark.id or 0
    for name in ("spirit", "grey liquid"):
        made.can(name)
    made.recipe = made.write(("spirit", "50 ml"), ("grey liquid", "20 ml"), name="Grey wash")
    return made


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


@pytest.fixture
def api(shop: Shop, mix: MixShop) -> TestClient:
    return shop.api(Role.FINISHER)


def test_the_check_and_the_start_ask_what_it_is(client: TestClient, mix: MixShop) -> None:
    check = mix.keep()
    page = client.get(f"/checks/{check}").text
    assert "Nobody has said what grey liquid is" in page and "Confirm and start" in page
    page = client.get(f"/checks/{check}/start").text
    assert "whether it may meet spirit" in page and "how you know it" in page
    form = {"once": "start-grey-1", "job": str(mix.job), "when": "about"}
    for said in ("", *GIBBERISH):
        done = client.post(f"/checks/{check}/start", data=form | {"confirmation": said})
        assert done.status_code == 422 and 'id="e-confirmation"' in done.text
        assert f">{said}</textarea>" in done.text and (not said or "3 different words" in done.text)
    done = client.post(f"/checks/{check}/start", data=form | {"confirmation": WORDS})
    assert done.status_code == 303 and mix.batch(1).state.value == "running"


def test_the_bench_asks_at_the_addition_and_keeps_what_was_typed(client: TestClient, mix: MixShop) -> None:
    batch = int(mix.start(mix.keep(recipe=mix.write(("spirit", "50 ml"), name="Spirit"))).result["batch"])
    form = {
        "once": "grey-add-1", "way": "material", "material": str(mix.ids["grey liquid"]), "amount": "7 ml",
        "when": "about", "step": "add",
    }  # fmt: skip
    asked = client.post(f"/bench/{batch}/add", data=form)
    assert asked.status_code == 409 and "Nobody has said what grey liquid is" in asked.text
    assert 'name="confirmation"' in asked.text and 'value="7 ml"' in asked.text
    for said in GIBBERISH:
        done = client.post(f"/bench/{batch}/add", data=form | {"confirmation": said})
        assert done.status_code == 422 and 'id="e-confirmation"' in done.text
        assert f'value="{said}"' in done.text and 'value="7 ml"' in done.text
    assert client.post(f"/bench/{batch}/add", data=form | {"confirmation": WORDS}).status_code == 303


def test_the_call_asks_too(api: TestClient, mix: MixShop) -> None:
    answer = api.post(f"/api/recipes/{mix.recipe}/check", json={"amount": "1 time"}).json()
    assert answer["blocking"] and not answer["complete"]
    body = {"once": "grey-api-1", "fingerprint": answer["fingerprint"], "job": mix.job}
    refused = api.post("/api/batches", json=body)
    assert refused.status_code == 409
    assert "never-unidentified" in {f["code"] for f in refused.json()["findings"]}
    for said in GIBBERISH:
        wrong = api.post("/api/batches", json=body | {"confirmation": said})
        assert wrong.status_code == 422 and set(wrong.json()["errors"]) == {"confirmation"}
    done = api.post("/api/batches", json=body | {"confirmation": WORDS})
    assert done.status_code == 201
    more = {"once": "grey-api-2", "material": mix.ids["tap water"], "amount": "5 ml"}
    address = f"/api/batches/{done.json()['batch']}/additions"
    assert api.post(address, json=more).status_code == 409
    assert api.post(address, json=more | {"confirmation": WORDS}).status_code == 201


@pytest.mark.parametrize(("one", "other", "code", "words"), BOTH, ids=lambda part: part)
def test_a_name_of_the_trade_stops_the_recipe_by_the_call(
    api: TestClient, mix: MixShop, one: str, other: str, code: str, words: str
) -> None:
    lines = []
    for at, name in enumerate((one, other)):
        number = mix.ids.get(name)
        if number is None:
            body = {"once": f"named-{at}", "name": name, "kind": "other-chemical", "form": "liquid"}
            made = api.post("/api/materials", json=body)
            assert made.status_code == 201, made.text
            number = made.json()["material"]
        lines.append({"material": number, "amount": "5 ml"})
    recipe = api.post("/api/recipes", json={"once": "named-9", "name": "Never", "lines": lines})
    assert recipe.status_code == 201, recipe.text
    answer = api.post(f"/api/recipes/{recipe.json()['recipe']}/check", json={"amount": "1 time"}).json()
    never = [f for f in answer["findings"] if f["code"].startswith("never-") and f["severity"] == "stop"]
    assert never[0]["code"] == code and words in never[0]["sentence"]
    assert "hypochlorite" not in code or all(f["code"] != "never-peroxide-acid" for f in never)
    refused = api.post("/api/batches", json={"once": "named-10", "fingerprint": answer["fingerprint"]})
    assert refused.status_code == 409


def test_a_name_of_the_trade_stops_the_mix_on_its_page(client: TestClient, mix: MixShop, shop: Shop) -> None:
    facts: Any = {"basis": Basis.VOLUME, "form": Form.LIQUID, "kind": MaterialKind.OTHER_CHEMICAL}
    with shop.database.writing() as session:
        for name in ("Muriatic acid", "eau de Javel"):
            material(session, name, **facts)
    form = {
        "material_0": "Muriatic acid", "amount_0": "50 ml", "material_1": "eau de Javel", "amount_1": "20 ml",
        "lines": "2", "step": "judge",
    }  # fmt: skip
    done = client.post("/hazards/mix", data=form)
    assert done.status_code == 200 and "gives off chlorine gas" in done.text


def test_what_was_poured_in_unasked_is_asked_about_before_it_goes_into_a_jar(
    client: TestClient, api: TestClient, mix: MixShop
) -> None:
    late = "Somebody poured it in already."
    batch = int(mix.start(mix.keep(), already_done=True, late_reason=late).result["batch"])
    assert {f["code"] for f in api.get(f"/api/batches/{batch}").json()["met"]} == {"never-unidentified"}
    assert 'name="confirmation"' in client.get(f"/bench/{batch}/finish").text
    form = {
        "once": "grey-jar-1", "jar_0": "60 ml", "jars": "1", "form": "liquid", "when": "about",
        "step": "save",
    }  # fmt: skip
    assert client.post(f"/bench/{batch}/finish", data=form).status_code == 409
    for said in GIBBERISH:
        done = client.post(f"/bench/{batch}/finish", data=form | {"confirmation": said})
        assert done.status_code == 422 and f">{said}</textarea>" in done.text and 'value="60 ml"' in done.text
    body = {"once": "grey-jar-2", "jars": [{"amount": "60 ml"}], "form": "liquid"}
    assert api.post(f"/api/batches/{batch}/finish", json=body).status_code == 409
    done = api.post(f"/api/batches/{batch}/finish", json=body | {"confirmation": WORDS})
    assert done.status_code == 201, done.text
    assert api.get(f"/api/batches/{batch}").json()["met"] == []
