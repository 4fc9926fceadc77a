"""The hazard label of a container, through the client: supply by default, what is not known in words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from html import escape

import pytest
from sqlmodel import select

from service.actions.write_components import ComponentsAsked, write_components
from service.core.access import Role
from service.core.component_lines import Component
from service.core.containers import ContainerState
from service.core.material_facts import facts_self_heating
from service.core.materials import SelfHeating
from service.records.material_queries import own_facts
from service.records.materials import Material
from service.records.stock import Container
from tests.builders import NOW
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
    return " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", drawn)).replace("\u00a0", " ")


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


def untold(shop: Shop) -> str:
    """A can of something oily, after what it holds was struck out of the book."""
    with shop.database.writing() as session:
        query = select(Container, Material).join(Material).where(Container.state != ContainerState.GONE)
        can = next(
            one
            for one, material in session.exec(query).all()
            if material.form.value == "liquid" and facts_self_heating(own_facts(material))
        )
        can.capacity_ul, can.capacity_written = None, ""
        session.add(can)
        return can.code


def test_a_container_whose_volume_nobody_wrote_down_is_asked_for_it(demo: Shop) -> None:
    code = untold(demo)
    page = label(demo, code)[1]
    assert 'name="holds"' in page and "is not kept" in page
    printed = page[page.index('class="only-print no-label"') :]
    assert "This is no label of" in printed and "Say how much the container holds" in printed
    status, page = label(demo, code, "?holds=1+l")
    assert status == 200 and 'class="hazard-label"' in page and "1 l" in words(page)
    assert "holds=1+l&amp;size=74x105" in page and "25 × 38" not in page
    assert "25 × 38 mm, front only" in label(demo, code, "?holds=100+ml")[1]


@pytest.mark.parametrize(
    "odd",
    ["a cup of it", "-5 ml", "0 ml", "1e400 l", "999999999999999999 l", "half", "<b>", "5 %", "1,000 ml"],
)
def test_an_odd_volume_gets_a_sentence_and_stays(demo: Shop, odd: str) -> None:
    address = f"/containers/{untold(demo)}/hazard-label"
    answer = demo.signed_in(Role.FINISHER).get(address, params={"holds": odd})
    assert answer.status_code == 200, answer.text
    assert 'id="e-holds"' in answer.text and 'class="hazard-label"' not in answer.text
    assert f'value="{escape(odd)}"' in answer.text


def test_oily_rags_are_said_on_the_label_of_what_heats_by_itself(demo: Shop) -> None:
    oily = "Oily rags: rags with it can ignite by themselves."
    assert oily in words(label(demo, untold(demo), "?size=148x210")[1])
    assert oily not in words(label(demo, box(demo, "Mineral spirits").code, "?size=148x210")[1])


def test_what_an_ingredient_brings_and_nobody_tested_stands_on_the_label(demo: Shop) -> None:
    code = box(demo, "Walnut brown dye, powder").code
    with demo.database.writing() as session:
        found = session.exec(select(Material).where(Material.name == "Walnut brown dye, powder")).one()
        keeper = demo.cast.actor(Role.KEEPER)
        lines = (
            Component("zinc powder", "", Decimal(20), Decimal(20), ("Water-react. 2 H261",)),
            Component("filler", "", Decimal(80), Decimal(80), ()),
        )
        asked = ComponentsAsked("label-not-tested", found.version, lines, "an invented sheet")
        write_components(session, keeper, NOW, found.id or 0, asked)
    said = words(label(demo, code, "?size=148x210")[1])
    assert "Not tested on the whole: zinc powder (In contact with water releases flammable gas" in said
    assert "Treat it as that." in said and "Not complete" in said


@pytest.mark.parametrize("mark", [SelfHeating.YES, SelfHeating.NOT_KNOWN])
def test_a_can_that_took_over_oil_says_so_on_its_label_and_in_the_list(demo: Shop, mark: SelfHeating) -> None:
    code = box(demo, "Mineral spirits").code
    with demo.database.writing() as session:
        can = session.exec(select(Container).where(Container.code == code)).one()
        before, can.inherited_self_heating = can.inherited_self_heating, mark
        session.add(can)
    said = words(label(demo, code, "?size=148x210")[1])
    page = demo.signed_in(Role.KEEPER).get("/hazards/store").text
    with demo.database.writing() as session:
        can = session.exec(select(Container).where(Container.code == code)).one()
        can.inherited_self_heating = before
        session.add(can)
    assert "Oily rags: rags with it can ignite by themselves." in said
    (line,) = [one for one in page.split("<tr") if ">Mineral spirits</a>" in one and "<td" in one][:1]
    assert "Oily rags: they can ignite by themselves" in line
