"""The page Air: flash point, one solvent added, the room; what is missing is said and nothing is kept."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from typing import Any
from urllib.parse import unquote

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.places import Place
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on

SPIRIT = "white spirit, regular flash grade (typ. 15-20 % aromatics) (published facts)"


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("air")) as shop:
        yield shop


def main(text: str) -> str:
    return text[text.index("<main") : text.index("</main>")]


def ask(shop: Shop, lines: list[tuple[str, str]], role: Role = Role.KEEPER, **more: Any) -> tuple[int, str]:
    said = {"step": "judge", **more}
    for n, (material, amount) in enumerate(lines):
        said |= {f"material_{n}": material, f"amount_{n}": amount}
    answer = shop.signed_in(role).post("/air", data=said)
    return answer.status_code, unescape(main(answer.text))


def hall(shop: Shop) -> int:
    with shop.database.reading() as session:
        room = session.exec(select(Place).where(Place.name == "Finishing room")).one()
        assert room.id is not None
        return room.id


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER])
def test_everybody_may_ask(demo: Shop, role: Role) -> None:
    assert demo.signed_in(role).get("/air").status_code == 200


def test_a_little_acetone_is_seen(demo: Shop) -> None:
    status, text = ask(
        demo, [("Mineral spirits", "500 ml"), ("Boiled linseed oil", "250 ml"), ("Raw umber, dry", "60 g")],
        minutes="90", room_id=str(hall(demo)), added="acetone",
    )  # fmt: skip
    assert status == 200
    assert "Flash point about 40 °C (104 °F): Flam. Liq. 3" in text
    assert "This room does not give enough air for it." in text
    assert "above an open can it can burn" in text
    assert "none shows that it is" in text
    rows = re.findall(r"card-title\">([0-9]+ %)</p>.*?<dd>(-?[0-9]+) °C", text, re.S)
    flashes = {percent: int(celsius) for percent, celsius in rows}
    assert flashes["0 %"] == 40
    assert flashes["1 %"] < 23 and flashes["5 %"] < 0


def test_charts_are_pictures_without_script(demo: Shop) -> None:
    _, text = ask(
        demo, [(SPIRIT, "500 ml"), ("acetone (published facts)", "25 ml")],
        minutes="90", room_id=str(hall(demo)), added="ethanol",
    )  # fmt: skip
    pictures = re.findall(r'<img src="data:image/svg\+xml,([^"]+)" alt="([^"]+)"', text)
    assert len(pictures) == 2
    for address, words in pictures:
        svg = unquote(address)
        assert "<svg" in svg and "<script" not in svg and "http://www.w3.org/1999/xhtml" not in svg
        assert re.search(r"[0-9]", words)
    assert "a quarter of what can burn" in unquote(pictures[1][0])


def test_more_used_than_written_is_said(demo: Shop) -> None:
    status, text = ask(demo, [("acetone", "40 g")], grams="5000", minutes="20", room_id=str(hall(demo)))
    assert status == 200 and "the lines come to 40 g only" in text
    assert "Worked out on" in text and "360 m³ an hour" in text


def test_without_a_room_it_is_never_enough(demo: Shop) -> None:
    status, text = ask(demo, [("ethanol (published facts)", "1 ml")], minutes="600")
    assert status == 200
    assert "Not known whether the air of the room is enough" in text or "does not give enough air" in text
    assert "By these figures the average air" not in text


def test_a_material_nobody_tells_of_makes_it_not_known(demo: Shop) -> None:
    status, text = ask(demo, [("Japan drier", "20 ml"), ("Mineral spirits", "100 ml")])
    assert status == 200
    assert "Flash point not known: at least Flam. Liq. 3" in text
    assert "is not known, so that of the mix is not either" in text


def test_what_is_wrong_stands_beside_the_field_and_nothing_is_lost(demo: Shop) -> None:
    status, text = ask(demo, [("No such thing", "5 ml"), ("Mineral spirits", "some")], grams="-3")
    assert status == 422
    assert "Choose a material from the list." in text
    assert 'value="No such thing"' in text and 'value="some"' in text and 'value="-3"' in text


@pytest.mark.parametrize(
    "more", [{"room_id": "999999"}, {"added": "dragon blood"}, {"minutes": "1e400"}, {"grams": "0"}]
)
def test_odd_choices_get_a_sentence(demo: Shop, more: dict[str, str]) -> None:
    status, text = ask(demo, [("Mineral spirits", "100 ml")], **more)
    assert status == 422 and "Put this right" in text


def test_a_recipe_is_asked_about_with_its_lines(demo: Shop) -> None:
    client = demo.signed_in(Role.KEEPER)
    page = client.get("/recipes/1/hazards").text
    assert 'href="/air?recipe=1"' in page
    form = main(client.get("/air?recipe=1").text)
    assert re.search(r'name="material_0"[^>]*value="[^"]+"', form)
