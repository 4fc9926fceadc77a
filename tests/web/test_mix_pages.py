"""The hazards of a mix that somebody thinks of, of a recipe and of a batch."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.mixing import Addition, Batch, Recipe
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on

ROLES = (Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER)


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("mixes")) as shop:
        yield shop


def main(text: str) -> str:
    return text[text.index("<main") : text.index("</main>")]


def mix(shop: Shop, *lines: tuple[str, str], role: Role = Role.FINISHER, **more: str) -> tuple[int, str]:
    said = {"step": "judge", **more}
    for at, (material, amount) in enumerate(lines):
        said |= {f"material_{at}": material, f"amount_{at}": amount}
    answer = shop.signed_in(role).post("/hazards/mix", data=said)
    return answer.status_code, main(answer.text)


@pytest.mark.parametrize("role", ROLES)
def test_everybody_who_may_see_hazards_may_work_a_mix_out(demo: Shop, role: Role) -> None:
    assert demo.signed_in(role).get("/hazards/mix").status_code == 200
    status, page = mix(demo, ("Gum turpentine", "100 g"), ("Boiled linseed oil", "100 g"), role=role)
    assert status == 200 and "Danger" in page and "Skin Sens. 1" in page
    assert "count as oily rags" in page
    assert 'value="Gum turpentine"' in page, "what was typed stays to be changed"


def test_shop_and_published_materials_and_the_names_are_read_in_any_case(demo: Shop) -> None:
    status, page = mix(demo, ("gum  TURPENTINE", "1 part"), ("Toluene (published facts)", "3 parts"))
    assert status == 200 and ">75 %<" in page and ">25 %<" in page
    assert "There is no safety data sheet for Toluene" in page.replace("toluene", "Toluene")


def test_sums_below_their_limits_are_shown_with_the_limit(demo: Shop) -> None:
    _, page = mix(demo, ("Toluene (published facts)", "2 %"), ("Tap water", "98 %"), law="eu-clp")
    below = page[page.index("Sums that stayed below") :]
    assert "2 %" in below and "10 %" in below


def test_a_volume_without_a_density_names_the_fact_and_the_mend(demo: Shop) -> None:
    status, page = mix(demo, ("Titanium white, dry", "10 ml"), ("Tap water", "90 g"))
    assert status == 200 and "Not complete." in page
    assert "level spoons" in page and "weigh" in page.lower()


def test_what_is_not_told_is_never_shown_as_finished(demo: Shop) -> None:
    for lines in ([("Tap water", "10 %")], [("Cotton rags", "1 part"), ("Tap water", "to suit")]):
        status, page = mix(demo, *lines)
        assert status == 200 and "Not complete." in page
        assert "icon-tick" not in page and "found no hazard class" not in page


def test_only_examined_harmless_water_is_complete(demo: Shop) -> None:
    _, page = mix(demo, ("Tap water", "100 %"), no_flash="yes")
    assert "Not complete." not in page and "found no hazard class" in page and "icon-tick" not in page


def test_measured_facts_count(demo: Shop) -> None:
    lines = (("Mineral spirits", "100 g"),)
    _, thick = mix(demo, *lines, viscosity="60", flash_point_c="40", measured="yes")
    _, calculated = mix(demo, *lines, flash_point_c="70")
    assert "Its viscosity at 40 °C is not known" not in thick and "flash point, measured" in thick
    assert "a calculation may not make it milder here" in calculated
    status, page = mix(demo, *lines, flash_point_c="40", no_flash="yes")
    assert status == 422 and "not both" in page


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ((), "Name the first material."),
        ((("Moon dust", "5 g"),), "Choose a material from the list."),
        ((("Tap water", ""),), "Write how much"),
        ((("Tap water", "a handful"),), "field-error"),
        ((("Tap water", "80 %"), ("Gum turpentine", "40 %")), "more than 100"),
        ((("Gum turpentine", "1 oz"),), "Which is meant"),
        ((("Tap water", "-5 g"),), "field-error"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_line(
    demo: Shop, lines: tuple[tuple[str, str], ...], words: str
) -> None:
    status, page = mix(demo, *lines)
    assert status == 422 and words in page and "What to know" not in page


def test_lines_are_added_and_taken_out_and_stay_otherwise(demo: Shop) -> None:
    status, page = mix(demo, ("Tap water", "5 g"), step="line")
    assert status == 200 and page.count("<legend>Material") == 2 and 'value="Tap water"' in page
    _, page = mix(demo, ("Tap water", "5 g"), ("Gum turpentine", "6 g"), step="out-0")
    assert "Gum turpentine" in page and 'value="Tap water"' not in page.split("</datalist>")[1]


def test_a_recipe_leads_to_its_hazards_and_they_to_a_prefilled_mix(demo: Shop) -> None:
    client = demo.signed_in(Role.FINISHER)
    with demo.database.reading() as session:
        recipes = list(session.exec(select(Recipe)).all())
    assert recipes
    for recipe in recipes:
        where = f"/recipes/{recipe.id}"
        assert f'href="{where}/hazards"' in client.get(where).text
        page = main(client.get(f"{where}/hazards").text)
        assert "What to know" in page and "As written" in page and "icon-tick" not in page
        assert f'href="/hazards/mix?recipe={recipe.id}"' in page
        filled = main(client.get(f"/hazards/mix?recipe={recipe.id}").text)
        first = re.search(r'name="material_0"[^>]*value="([^"]+)"', filled)
        assert first and first[1] in page
    assert demo.signed_in(Role.STUDENT).get("/recipes/1/hazards").status_code == 403
    assert client.get("/recipes/9999/hazards").status_code == 404
    assert client.get("/hazards/mix?recipe=9999").status_code == 404


def test_a_batch_shows_what_really_went_in(demo: Shop) -> None:
    with demo.database.reading() as session:
        batch_id = session.exec(select(Addition.batch_id)).first()
    page = main(demo.signed_in(Role.FINISHER).get(f"/bench/{batch_id}/hazards").text)
    assert "What is in the mix" in page and "Danger" in page
    assert demo.signed_in(Role.FINISHER).get("/bench/9999/hazards").status_code == 404


def test_a_batch_into_which_nothing_went_is_not_known(demo: Shop) -> None:
    with demo.database.reading() as session:
        used = set(session.exec(select(Addition.batch_id)).all())
        bare = [b.id for b in session.exec(select(Batch)).all() if b.id not in used]
    assert bare
    for batch_id in bare:
        page = main(demo.signed_in(Role.KEEPER).get(f"/bench/{batch_id}/hazards").text)
        assert "Not known." in page and "Danger" not in page
        assert "Nothing has been put in yet." in page and "could not be worked out" not in page
        assert re.search(r'href="/recipes/[0-9]+/hazards"', page)


def test_a_flash_point_and_a_viscosity_that_make_it_milder_are_asked_about_first(demo: Shop) -> None:
    """The drier of a US shelf says 105 °F; typed as °C it would take the flame off half a mix of spirits."""
    lines = [("Japan drier", "50 %"), ("Mineral spirits", "50 %")]
    typed = {"flash_point_c": "105", "measured": "yes", "viscosity": "25"}
    status, page = mix(demo, *lines, **typed)
    assert status == 200 and "H226" in page and "H304" in page and "Not complete." in page
    assert "Is 105 °C right" in page and "it is 40.6 °C" in page
    assert 'name="flash_confirmed" value="105"' in page and 'name="viscosity_confirmed" value="25"' in page
    _, sure = mix(demo, *lines, **typed, flash_confirmed="105", viscosity_confirmed="25")
    assert "Is 105 °C right" not in sure and "Is a viscosity" not in sure
    assert 'name="flash_confirmed" value="105" checked' in sure, "the answer stays given"
    _, other = mix(demo, *lines, **typed | {"flash_point_c": "95"}, flash_confirmed="105")
    assert "Is 95 °C right" in other and 'value="95" checked' not in other, "another figure, another question"
    _, plain = mix(demo, *lines, flash_point_c="41", measured="yes")
    assert "flash_confirmed" not in plain
