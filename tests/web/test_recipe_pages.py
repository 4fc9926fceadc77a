"""Recipe pages and the check page through the client, without script: input is kept, doubt is asked."""

from __future__ import annotations

import re
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.mix_purposes import MixPurpose
from service.records.materials import MaterialReading
from service.records.mixing import KeptCheck, Recipe
from service.records.mixing_queries import the_recipe
from tests.mixing_shop import PAST, UNKNOWN_DATES, MixShop, make_mix_shop
from tests.web.conftest import Shop


@pytest.fixture
def mix(shop: Shop) -> MixShop:
    return make_mix_shop(shop.database, shop.cast)


@pytest.fixture
def client(shop: Shop, mix: MixShop) -> TestClient:
    return shop.signed_in(Role.FINISHER)


def recipe_form(mix: MixShop, *lines: tuple[str, str], **said: Any) -> dict[str, Any]:
    form: dict[str, Any] = {"once": "recipe-page-1", "name": "Page stain", "version": "0", "step": "save"}
    for at, (name, amount) in enumerate(lines):
        form |= {f"material_{at}": str(mix.ids.get(name, name)), f"amount_{at}": amount, f"note_{at}": ""}
    return form | said


def test_a_recipe_is_written_and_shown(client: TestClient, mix: MixShop) -> None:
    lines = (("tap water", "1 l"), ("raw umber", "2 metric tsp"), ("drier", "to suit, at most 2 metric tsp"))
    done = client.post("/recipes/new", data=recipe_form(mix, *lines, makes="1 l", purpose="seats"))
    assert done.status_code == 303
    page = client.get(done.headers["location"])
    assert page.status_code == 200 and "You wrote version 1 of Page stain." in page.text
    assert "What a level spoonful of raw umber weighs is not known." in page.text
    for words in ("tap water (not stocked)", "2 metric tsp", "to suit, at most 2 metric tsp", "1 l", "seats"):
        assert words in page.text
    assert "Page stain" in client.get("/recipes").text


def test_another_line_keeps_what_was_typed_and_order_can_be_changed(client: TestClient, mix: MixShop) -> None:
    lines = (("raw umber", "5 g"), ("spirit", "1 l"))
    page = client.post("/recipes/new", data=recipe_form(mix, *lines, step="line"))
    assert page.status_code == 200 and 'name="amount_2"' in page.text and "Line 3" in page.text
    assert page.text.index('value="5 g"') < page.text.index('value="1 l"')
    page = client.post("/recipes/new", data=recipe_form(mix, *lines, step="up-1"))
    assert page.text.index('value="1 l"') < page.text.index('value="5 g"')
    page = client.post("/recipes/new", data=recipe_form(mix, *lines, step="out-0"))
    assert 'value="5 g"' not in page.text and 'value="1 l"' in page.text


def test_a_doubtful_amount_is_asked_and_the_answer_remembered(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    form = recipe_form(mix, ("raw umber", "5 g"), ("spirit", "2 pints"))
    page = client.post("/recipes/new", data=form)
    assert page.status_code == 422 and "<title>Error:" in page.text
    assert 'name="amount_1" value="2 US pints"' in page.text and 'value="Page stain"' in page.text
    assert 'name="doubt_1" value="2 pints"' in page.text
    chosen = form | {"amount_1": "2 imperial pints", "doubt_1": "2 pints", "step": "read"}
    assert client.post("/recipes/new", data=chosen).status_code == 200
    with shop.database.reading() as session:
        assert [r.reading for r in session.exec(select(MaterialReading)).all()] == ["imp-pint"]
    done = client.post("/recipes/new", data=recipe_form(mix, ("spirit", "1 pint")))
    assert done.status_code == 303


def test_errors_stand_beside_their_line(client: TestClient, mix: MixShop) -> None:
    form = recipe_form(mix, ("raw umber", "a handful"), ("", "5 ml"), ("spirit", ""), name="")
    page = client.post("/recipes/new", data=form)
    assert page.status_code == 422
    for field in ("name", "amount_0", "material_1", "amount_2"):
        assert f'id="e-{field}"' in page.text
    assert client.post("/recipes/new", data={"once": "recipe-page-9", "step": "save"}).status_code == 422


def test_an_edit_is_the_next_version_and_a_stale_one_is_refused(client: TestClient, mix: MixShop) -> None:
    page = client.get(f"/recipes/{mix.recipe}/edit")
    assert 'value="100 g"' in page.text and 'name="version" value="1"' in page.text
    form = recipe_form(mix, ("spirit", "1 l"), version="1", note="thinner")
    assert client.post(f"/recipes/{mix.recipe}/edit", data=form).status_code == 303
    text = client.get(f"/recipes/{mix.recipe}").text
    assert "All versions (2)" in text and "thinner" in text
    old = client.get(f"/recipes/{mix.recipe}?number=1").text
    assert "This is version 1" in old and "100 g" in old
    assert (
        client.post(f"/recipes/{mix.recipe}/edit", data=form | {"once": "recipe-page-2"}).status_code == 409
    )


def test_put_away_and_back(client: TestClient, mix: MixShop) -> None:
    address = f"/recipes/{mix.recipe}/active"
    assert client.post(address, data={"version": "1"}).headers["location"] == "/recipes"
    assert "You put away the recipe Walnut stain." in client.get("/recipes").text
    assert f'href="/recipes/{mix.recipe}"' not in client.get("/recipes").text
    assert "Walnut stain" in client.get("/recipes?away=true").text
    assert client.post(address, data={"version": "2", "active": "yes"}).status_code == 303


def check(client: TestClient, mix: MixShop, amount: str) -> str:
    done = client.post(f"/recipes/{mix.recipe}/check", data={"amount": amount})
    assert done.status_code == 303, done.text
    return str(done.headers["location"])


def test_the_verdict_comes_first_then_what_to_take_and_the_buttons(client: TestClient, mix: MixShop) -> None:
    mix.can("raw umber"), mix.can("boiled oil")
    doubtful, old = mix.can("spirit", **UNKNOWN_DATES), mix.can("spirit", **PAST)
    text = client.get(check(client, mix, "2 times")).text
    main = text[text.index("<main") :]
    places = [main.index(words) for words in ("Check result", "Start now", "Take from the shelf", "200 g")]
    assert places == sorted(places)
    assert f"/C/{doubtful}" in main and f"/C/{old}" not in main and "is past its date" in main
    for words in ("Set it aside", "Another amount", "Check again", "look before use"):
        assert words in main


def test_the_most_of_a_range_is_said_to_be_the_most_and_tap_water_is_not_lost(
    client: TestClient, mix: MixShop
) -> None:
    recipe = mix.write(
        ("spirit", "2 US fl oz"), ("drier", "to suit, at most 10 ml"), ("tap water", "1 l"), name="Glaze"
    )
    mix.can("spirit"), mix.can("drier")
    done = client.post(f"/recipes/{recipe}/check", data={"amount": "1 time"})
    text = client.get(done.headers["location"]).text.replace("\u00a0", " ")
    assert "up to 10 ml" in text and "up to 2 US" not in text and "tap water (1 l)" in text


def test_what_is_short_offers_less_and_no_start(client: TestClient, mix: MixShop) -> None:
    mix.can("raw umber"), mix.can("boiled oil"), mix.can("spirit", 200_000)
    text = client.get(check(client, mix, "1 time")).text
    assert "100 ml of spirit is missing; 300 ml is needed." in text
    assert "Start now" not in text and "Set it aside" not in text and "Make a smaller amount" in text


@pytest.mark.parametrize(
    "amount", ["", "   ", "nothing", "12", "\x00", "9" * 300, "1,000 times", "٣ times", "-1 times"]
)
def test_an_amount_that_cannot_be_used_comes_back_as_typed(
    client: TestClient, mix: MixShop, amount: str
) -> None:
    page = client.post(f"/recipes/{mix.recipe}/check", data={"amount": amount})
    assert page.status_code == 422 and "<title>Error:" in page.text and 'id="e-amount"' in page.text


def test_a_bare_number_offers_a_button(client: TestClient, mix: MixShop) -> None:
    page = client.post(f"/recipes/{mix.recipe}/check", data={"amount": "12"})
    assert 'name="amount" value="12 times"' in page.text


HOSTILE = [
    "<script>alert(1)</script>",
    "' OR 1=1 --",
    "\u202e5 g",
    "1e9999 g",
    "{{7*7}}",
    "😀" * 40,
    "0x10 g",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_input_is_refused_or_shown_as_text(client: TestClient, mix: MixShop, text: str) -> None:
    form = recipe_form(mix, ("raw umber", text), name=text[:100], note=text, makes=text)
    for form_now in (form, form | {"material_0": text}, form | {"step": text[:20], "version": text[:9]}):
        page = client.post("/recipes/new", data=form_now)
        assert page.status_code in (200, 303, 422), page.text
        assert "<script>alert" not in page.text
    assert client.get("/recipes").text.count("<script>alert") == 0


@pytest.mark.parametrize(
    "address",
    ["/recipes/0", "/recipes/x", f"/recipes/{2**40}", "/recipes/1?number=0", "/checks/0", f"/checks/{2**31}",
     "/bench/abc", "/recipes?away=perhaps", "/bench?page=0"],
)  # fmt: skip
def test_addresses_that_are_none(client: TestClient, address: str) -> None:
    assert client.get(address).status_code in (404, 422)


def test_many_lines_end_at_sixty(client: TestClient, mix: MixShop) -> None:
    form = recipe_form(mix, *[("spirit", "1 ml")] * 70, step="line")
    page = client.post("/recipes/new", data=form)
    assert page.status_code == 200 and len(re.findall(r'name="amount_\d+"', page.text)) == 60
    assert "Another line" not in page.text


def test_roles(shop: Shop, mix: MixShop) -> None:
    reader, student = shop.signed_in(Role.READER), shop.signed_in(Role.STUDENT)
    for path in ("/recipes", f"/recipes/{mix.recipe}"):
        assert reader.get(path).status_code == 403
    for client in (reader, student):
        assert client.get("/recipes/new").status_code == 403
        assert client.post(f"/recipes/{mix.recipe}/check", data={"amount": "1 time"}).status_code == 403
    with shop.database.reading() as session:
        assert not session.exec(select(KeptCheck)).all() and len(session.exec(select(Recipe)).all()) == 1


def test_a_purpose_can_be_taken_back(client: TestClient, mix: MixShop) -> None:
    recipe = mix.write(("spirit", "10 ml"), name="Purpose", mix_purpose=MixPurpose.GLAZE)
    page = client.get(f"/recipes/{recipe}/edit").text
    assert "No purpose said" in page and re.search(r'value="glaze"[^>]* checked', page)
    form = {
        "once": "no-purpose-1", "name": "Purpose", "version": "1", "mix_purpose": "", "step": "save",
        "material_0": str(mix.ids["spirit"]), "amount_0": "10 ml",
    }  # fmt: skip
    assert client.post(f"/recipes/{recipe}/edit", data=form).status_code == 303
    page = client.get(f"/recipes/{recipe}/edit").text
    assert not re.search(r'value="glaze"[^>]* checked', page)
    with mix.database.reading() as session:
        assert the_recipe(session, recipe).mix_purpose is None
