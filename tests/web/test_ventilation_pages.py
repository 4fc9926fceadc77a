"""The ventilation class on the pages of the demo shop: none from what is not known, always a caution."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.core.containers import ContainerState
from service.records.materials import Material
from service.records.mixing import Batch, Recipe
from service.records.stock import Container
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on

CAUTION = "The figures show when a bench is not fit; none shows that it is."


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("air")) as shop:
        yield shop


def part(shop: Shop, address: str, role: Role = Role.FINISHER) -> str:
    """The words of the part about ventilation."""
    answer = shop.signed_in(role).get(address)
    assert answer.status_code == 200, answer.text
    found = re.search(r'<section class="ventilation">(.*?)</section>', answer.text, re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", found[1]).split()) if found else ""


def material(shop: Shop, name: str) -> Material:
    with shop.database.reading() as session:
        return session.exec(select(Material).where(Material.name == name)).one()


def test_a_material_has_its_class_for_three_amounts_with_reasons(demo: Shop) -> None:
    words = part(demo, f"/materials/{material(demo, 'Mineral spirits').id}/hazards")
    assert re.search(r"Ventilation class \d: ", words)
    for amount in ("Small, below 1 l", "Medium, from 1 l", "Large, from 1000 l"):
        assert amount in words
    assert "Hazard group" in words and "25 °C was taken" in words and "check first" in words
    assert "Health only" in words and CAUTION in words and "A respirator never lowers the class." in words


def test_what_is_not_known_has_no_class_and_is_never_general(demo: Shop) -> None:
    words = part(demo, f"/materials/{material(demo, 'Walnut brown dye, powder').id}/hazards")
    assert "Ventilation class not known. Treat it as 2 or worse: local exhaust" in words
    assert "What is missing for it" in words
    assert "general" not in words


def test_lead_has_a_law_of_its_own(demo: Shop) -> None:
    assert "a law of their own" in part(
        demo, f"/materials/{material(demo, 'Chrome yellow, dry (old stock)').id}/hazards"
    )


def test_rags_have_none(demo: Shop) -> None:
    assert part(demo, f"/materials/{material(demo, 'Cotton rags').id}/hazards") == ""


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER])
def test_every_container_shows_it_to_everybody(demo: Shop, role: Role) -> None:
    with demo.database.reading() as session:
        rags = select(Material.id).where(Material.kind == "consumable")
        standing = select(Container.code).where(
            Container.state != ContainerState.GONE, col(Container.material_id).not_in(rags)
        )
        codes = session.exec(standing.order_by(Container.code).limit(12 if role is Role.KEEPER else 2)).all()
    assert codes
    for code in codes:
        words = part(demo, f"/containers/{code}", role)
        assert words.startswith("Ventilation Ventilation class"), code
        assert CAUTION in words


def test_recipes_and_batches_have_one_answer_for_their_size(demo: Shop) -> None:
    with demo.database.reading() as session:
        recipes = session.exec(select(Recipe.id)).all()
        batches = session.exec(select(Batch.id)).all()
    pages = [f"/recipes/{n}/hazards" for n in recipes] + [f"/bench/{n}/hazards" for n in batches]
    told = [words for address in pages if (words := part(demo, address, Role.KEEPER))]
    assert len(told) >= len(recipes)
    for words in told:
        assert "For the whole batch" in words or "How much is made is not told" in words
        assert "Matrix" in words and CAUTION in words


def test_a_stricter_class_in_the_book_counts(demo: Shop) -> None:
    name = "Shellac flakes, dewaxed"
    before = part(demo, f"/materials/{material(demo, name).id}/hazards")
    assert "Ventilation class 1: general ventilation" in before
    with demo.database.writing() as session:
        row = session.exec(select(Material).where(Material.name == name)).one()
        row.ventilation_class = 3
        session.add(row)
    after = part(demo, f"/materials/{material(demo, name).id}/hazards")
    assert "Ventilation class 3: containment" in after
    assert "It is the stricter and counts." in after
