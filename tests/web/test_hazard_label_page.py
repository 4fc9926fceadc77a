"""The hazard label of a container, through the client: supply by default, what is not known in words."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from sqlmodel import select

from service.core.access import Role
from service.core.containers import ContainerState
from service.records.materials import Material
from service.records.stock import Container
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("hazard-labels")) as shop:
        yield shop


def box(shop: Shop, material: str) -> Container:
    with shop.database.reading() as session:
        found = session.exec(
            select(Container)
            .join(Material)
            .where(Material.name == material, Container.state != ContainerState.GONE)
        ).first()
        assert found is not None
        session.expunge(found)
        return found


def label(shop: Shop, code: str, more: str = "", role: Role = Role.FINISHER) -> tuple[int, str]:
    answer = shop.signed_in(role).get(f"/containers/{code}/hazard-label{more}")
    return answer.status_code, answer.text


def words(text: str) -> str:
    drawn = text[text.index('class="hazard-label"') : text.rindex("</svg>")]
    return " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", drawn))


def test_a_label_of_a_chosen_size_has_everything_the_law_asks(demo: Shop) -> None:
    code = box(demo, "Gum turpentine").code
    status, page = label(demo, code, "?size=148x210")
    said = words(page)
    assert status == 200 and "Danger" in said and "Gum turpentine" in said
    assert "Flammable liquid and vapour" in said and "Keep out of reach of children" in said
    assert "<title>flame</title>" in page and 'width="148mm"' in page and 'height="210mm"' in page
    assert "size=148x210&amp;lying=false" in page


def test_a_container_with_a_volume_gets_its_size_by_itself(demo: Shop) -> None:
    with demo.database.reading() as session:
        boxes = session.exec(select(Container).where(Container.state == ContainerState.OPEN)).all()
        told = [one.code for one in boxes if one.capacity_ul]
        untold = [one.code for one in boxes if not one.capacity_ul]
    assert told and untold
    assert 'class="hazard-label"' in label(demo, told[0])[1]
    page = label(demo, untold[0])[1]
    assert "Say how much the container holds, or choose the size of the label" in page
    assert 'class="hazard-label"' not in page and "size=25x38" not in page


def test_what_is_not_known_stands_on_the_label_in_words(demo: Shop) -> None:
    code = box(demo, "Walnut brown dye, powder").code
    _, page = label(demo, code, "?size=148x210")
    assert "Not complete: hazards of Walnut brown dye, powder not known. Treat as dangerous." in words(page)
    assert "<title>" not in page[page.index('class="hazard-label"') :], "no pictogram that nobody worked out"
    assert "Not complete." in page


def test_a_jar_made_here_is_judged_by_what_went_in(demo: Shop) -> None:
    with demo.database.reading() as session:
        jar = session.exec(select(Container).where(Container.made_by_batch_id != None)).first()  # noqa: E711
        assert jar is not None
        code = jar.code
    said = words(label(demo, code, "?size=148x210")[1])
    assert "Danger" in said and "May be fatal if swallowed" in said
    assert "Four Ash Teaching Workshop" in said, "who made it answers for it"
    assert "Not complete" in said, "nobody has measured its flash point"


def test_the_short_label_is_a_keepers_to_decide(demo: Shop) -> None:
    code = box(demo, "Gum turpentine").code
    assert "use=workplace" not in label(demo, code, "?size=148x210")[1]
    assert label(demo, code, "?size=148x210&use=workplace")[0] == 403
    assert "use=workplace" in label(demo, code, "?size=148x210", Role.KEEPER)[1]
    status, page = label(demo, code, "?size=148x210&use=workplace", Role.KEEPER)
    said = words(page)
    assert status == 200 and "For use in this workplace only." in said
    assert "used up here only" in page and "Keep out of reach of children" not in said


def test_too_small_a_size_for_the_volume_is_refused_with_the_least(demo: Shop) -> None:
    with demo.database.reading() as session:
        large = next(
            one.code
            for one in session.exec(select(Container).where(Container.state != ContainerState.GONE)).all()
            if one.capacity_ul and one.capacity_ul > 200_000
        )
    page = label(demo, large, "?size=25x38")[1]
    assert "needs a label of at least" in page and 'class="hazard-label"' not in page


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT])
def test_labels_are_for_those_who_print_them(demo: Shop, role: Role) -> None:
    assert label(demo, box(demo, "Gum turpentine").code, "?size=148x210", role)[0] == 403


def test_what_is_gone_or_not_there_has_no_label(demo: Shop) -> None:
    with demo.database.reading() as session:
        gone = session.exec(select(Container.code).where(Container.state == ContainerState.GONE)).first()
    assert label(demo, "BBBBBB")[0] == 404
    if gone is not None:
        assert label(demo, gone, "?size=148x210")[0] == 409
    code = box(demo, "Gum turpentine").code
    assert label(demo, code, "?size=3x3")[0] == 422
    css = demo.signed_in(Role.FINISHER).get("/hazards/label.css?size=52x74&lying=true").text
    assert css.startswith("@page { size: 74mm 52mm")
