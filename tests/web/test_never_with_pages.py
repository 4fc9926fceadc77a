"""What is never mixed on the pages: the recipe, the check, the start with its condition, the mix in mind."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.core.access import Role
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import material
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    made = make_mix_shop(shop.database, shop.cast)
    with shop.database.writing() as session:
        blue = material(session, "iron blue")
        blue.ci_name = "PB27"
        session.add(blue)
        session.flush()
        made.ids["iron blue"] = blue.id or 0
    for name in ("iron blue", "boiled oil"):
        made.can(name)
    made.recipe = made.write(("boiled oil", "200 ml"), ("iron blue", "50 g"), name="Blue stain")
    return made


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


def start_form(mix: MixShop, **said: Any) -> dict[str, Any]:
    return {"once": "start-page-1", "job": str(mix.job), "when": "about"} | said


def test_writing_it_says_so_at_once_and_so_does_its_page(client: TestClient, mix: MixShop) -> None:
    form = {"once": "recipe-page-1", "name": "Another blue", "version": "0", "step": "save"}
    for at, (name, amount) in enumerate((("boiled oil", "1 l"), ("iron blue", "5 g"))):
        form |= {f"material_{at}": str(mix.ids[name]), f"amount_{at}": amount}
    done = client.post("/recipes/new", data=form)
    assert done.status_code == 303
    assert "half wetted" in client.get(done.headers["location"]).text
    assert "half wetted" in client.get(f"/recipes/{mix.recipe}/hazards").text


def test_the_check_offers_to_confirm_and_the_start_asks_for_a_sentence(
    client: TestClient, mix: MixShop
) -> None:
    check = mix.keep()
    page = client.get(f"/checks/{check}").text
    assert "Confirm and start" in page and "half wetted" in page
    page = client.get(f"/checks/{check}/start").text
    assert 'name="confirmation"' in page and "none is left lying half wetted" in page
    bare = client.post(f"/checks/{check}/start", data=start_form(mix))
    assert bare.status_code == 422 and 'id="e-confirmation"' in bare.text
    short = client.post(f"/checks/{check}/start", data=start_form(mix, confirmation="yes"))
    assert short.status_code == 422 and 'id="e-confirmation"' in short.text and ">yes<" in short.text
    words = "It is all ground into the oil now."
    done = client.post(f"/checks/{check}/start", data=start_form(mix, confirmation=words))
    assert done.status_code == 303 and mix.batch(1).state.value == "running"


def test_a_mix_without_such_a_row_asks_for_nothing(client: TestClient, mix: MixShop) -> None:
    plain = mix.write(("boiled oil", "50 ml"), name="Oil")
    check = mix.keep(recipe=plain)
    assert "Start now" in client.get(f"/checks/{check}").text
    assert 'name="confirmation"' not in client.get(f"/checks/{check}/start").text


def test_the_mix_in_mind_says_it_too(client: TestClient) -> None:
    form = {
        "material_0": "iron blue", "amount_0": "50 g", "material_1": "boiled oil", "amount_1": "200 ml",
        "lines": "2", "step": "judge",
    }  # fmt: skip
    done = client.post("/hazards/mix", data=form)
    assert done.status_code == 200 and "half wetted" in done.text


def test_purpose_coverage_and_base_are_written_shown_and_edited(client: TestClient, mix: MixShop) -> None:
    form = {
        "once": "recipe-page-2", "name": "Size", "version": "0", "step": "save", "mix_purpose": "glue-size",
        "coverage": "8 to 10 m2/l", "base": "1", "makes": "1 l", "material_0": str(mix.ids["tap water"]),
        "amount_0": "1 l",
    }  # fmt: skip
    done = client.post("/recipes/new", data=form)
    assert done.status_code == 303
    page = client.get(done.headers["location"]).text
    for words in ("glue size", "2 parts water to 1 part", "8 to 10 m²/l", "12 m2, 2 coats", "base"):
        assert words in page
    assert "glue size" in client.get("/recipes").text
    edit = client.get(f"{done.headers['location']}/edit").text
    assert 'value="8 to 10 m²/l"' in edit and 'name="base"' in edit and "checked" in edit
    number = done.headers["location"].split("/")[-1]
    checked = client.post(f"/recipes/{number}/check", data={"amount": "12 m2, 2 coats"})
    assert checked.status_code == 303
    assert "12 m² x 2 coats at 8 m² per litre takes 3 l" in client.get(checked.headers["location"]).text
    odd = client.post("/recipes/new", data=form | {"coverage": "far", "once": "recipe-page-3"})
    assert odd.status_code == 422 and 'id="e-coverage"' in odd.text and 'value="far"' in odd.text
    odd = client.post("/recipes/new", data=form | {"base": "9", "once": "recipe-page-4"})
    assert odd.status_code == 422 and 'id="e-base"' in odd.text
