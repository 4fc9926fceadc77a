"""Hazard pages in the demo shop: what is missing is said first, and nothing incomplete ever looks done."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlmodel import select

from service.core.access import Role
from service.records.materials import Material
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on

ALL_ROLES = (Role.READER, Role.STUDENT, Role.FINISHER, Role.KEEPER)


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("hazards")) as shop:
        yield shop


def number(shop: Shop, name: str) -> int:
    with shop.database.reading() as session:
        found = session.exec(select(Material.id).where(Material.name == name)).one()
    assert found is not None
    return found


def main(text: str) -> str:
    return text[text.index("<main") : text.index("</main>")]


def hazards(shop: Shop, name: str, more: str = "", role: Role = Role.FINISHER) -> str:
    answer = shop.signed_in(role).get(f"/materials/{number(shop, name)}/hazards{more}")
    assert answer.status_code == 200, answer.text
    return main(answer.text)


@pytest.mark.parametrize("role", ALL_ROLES)
def test_everybody_sees_the_hazards_of_a_material(demo: Shop, role: Role) -> None:
    page = hazards(demo, "Mineral spirits", role=role)
    assert "Danger" in page and "H304" in page and "safety data sheet and local law decide" in page
    assert ("/facts" in page) == (role is Role.KEEPER)


def test_each_class_has_its_reason_with_rule_paragraph_sum_and_limit(demo: Shop) -> None:
    page = hazards(demo, "Chrome yellow, dry (old stock)")
    assert "one ingredient alone, from 0.1 %" in page
    assert "29 CFR 1910.1200 A.6" in page and "lead sulfochromate yellow" in page
    assert "only our calculation says it" in page and "ours is the more severe" in page
    assert "supplier&#39;s and calculated" in page
    assert "EU, CLP Annex VI" in page and "Japan, NITE" in page, "which list says what of a substance"


def test_another_law_is_a_link_away_and_is_named(demo: Shop) -> None:
    page = hazards(demo, "Mineral spirits", "?law=eu-clp")
    assert "EU CLP Regulation" in page and 'law=un-ghs"' in page
    assert "follows us-hcs" in page, "its sheet is of another law, and that is a finding"
    assert "Not complete." in page
    assert demo.signed_in(Role.READER).get("/materials/1/hazards?law=moon").status_code == 422
    assert demo.signed_in(Role.READER).get("/materials/9999/hazards").status_code == 404


def test_what_is_not_known_is_never_shown_as_finished(demo: Shop) -> None:
    """On every material of the demo under every law: no tick, no "none" for what nobody examined."""
    with demo.database.reading() as session:
        names = list(session.exec(select(Material.name)).all())
    seen = 0
    for name in names:
        for law in ("us-hcs", "eu-clp", "un-ghs"):
            page = hazards(demo, name, f"?law={law}")
            assert "icon-tick" not in page and "icon-in-date" not in page
            if "What is missing, and how to mend it" not in page:
                assert "Not complete." not in page
                continue
            seen += 1
            assert "Not complete." in page
            assert "names no hazard class" not in page and "found none" not in page
    assert seen >= 2 * len(names) - 2, "sheets of the demo are of one law"


def test_of_a_powder_without_a_sheet_the_page_says_what_to_do(demo: Shop) -> None:
    page = hazards(demo, "Walnut brown dye, powder")
    assert "That is not the same as none" in page
    assert "Ask the supplier for it before the can is opened." in page
    assert 'class="signal"' not in page and "pictogram" not in page


def test_the_page_of_a_material_leads_to_its_hazards(demo: Shop) -> None:
    where = f"/materials/{number(demo, 'Mineral spirits')}"
    assert f'href="{where}/hazards"' in demo.signed_in(Role.STUDENT).get(where).text


@pytest.mark.parametrize("role", ALL_ROLES)
def test_the_list_of_chemicals_is_for_those_who_see_the_store(demo: Shop, role: Role) -> None:
    client = demo.signed_in(role)
    wanted = 403 if role is Role.STUDENT else 200
    assert client.get("/hazards/store").status_code == wanted
    assert client.get("/hazards/store.csv").status_code == wanted


def test_the_list_holds_every_material_that_is_present(demo: Shop) -> None:
    answer = demo.signed_in(Role.READER).get("/hazards/store.csv")
    assert answer.headers["content-disposition"].startswith("attachment")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    by_name = {row["material"]: row for row in rows}
    assert len(rows) == len(by_name) >= 15 and "Tap water" not in by_name
    spirits = by_name["Mineral spirits"]
    assert spirits["signal word"] == "Danger" and "Asp. Tox. 1 H304" in spirits["hazard classes"]
    assert spirits["sheet date"] == "2025-02-05" and "Flammables cabinet" in spirits["where"]
    dye = by_name["Walnut brown dye, powder"]
    assert dye["signal word"] == dye["hazard classes"] == "not known" and dye["sheet"] == "none"
    assert dye["complete"].startswith("no, ")
    assert by_name["Cotton rags"]["hazard classes"] == "examined, none"
    page = main(demo.signed_in(Role.READER).get("/hazards/store").text)
    assert all(name.replace("'", "&#39;") in page for name in by_name)


@pytest.mark.parametrize("sort", ["name", "worst", "place", "sheet"])
def test_the_list_is_sorted_by_a_link_and_says_how(demo: Shop, sort: str) -> None:
    page = main(demo.signed_in(Role.KEEPER).get(f"/hazards/store?sort={sort}&law=eu-clp").text)
    assert page.count('aria-sort="ascending"') == 1
    assert f"sort={sort}&amp;law=eu-clp" in page, "the law stays while sorting"
    assert demo.signed_in(Role.KEEPER).get("/hazards/store?sort=colour").status_code == 422


def test_an_incomplete_line_of_the_list_is_never_called_complete(demo: Shop) -> None:
    page = main(demo.signed_in(Role.KEEPER).get("/hazards/store").text)
    table = page[page.index("<tbody>") : page.index("</tbody>")]
    lines = [line for line in table.split("<tr") if "Walnut" in line]
    assert len(lines) == 2 and all("Not known" in one and "<td>complete</td>" not in one for one in lines)
    assert "icon-tick" not in page


def test_the_list_costs_the_same_queries_however_many_containers_there_are(demo: Shop) -> None:
    counted: list[str] = []

    def count(connection: object, cursor: object, statement: str, *rest: object) -> None:
        counted.append(statement)

    client = demo.signed_in(Role.KEEPER)
    event.listen(demo.database.engine, "before_cursor_execute", count)
    try:
        assert client.get("/hazards/store").status_code == 200
    finally:
        event.remove(demo.database.engine, "before_cursor_execute", count)
    about = [one for one in counted if "container" in one or "material" in one or "sheet" in one]
    assert len(about) <= 12, about


def test_a_line_that_is_complete_by_its_sheet_alone_says_so(demo: Shop) -> None:
    page = main(demo.signed_in(Role.KEEPER).get("/hazards/store").text)
    lines = page[page.index("<tbody>") : page.index("</tbody>")].split("<tr")
    (umber,) = [line for line in lines if "Burnt umber in oil" in line]
    why = "by the supplier&#39;s sheet of the whole, though what it is made of is not known"
    assert f"complete {why}" in umber
    rows = csv_rows(demo)
    assert rows["Burnt umber in oil"]["complete because"].endswith("what it is made of is not known")
    assert rows["Walnut brown dye, powder"]["complete because"] == "it is not"


def test_oily_rags_stand_in_the_list(demo: Shop) -> None:
    page = main(demo.signed_in(Role.READER).get("/hazards/store").text)
    lines = page[page.index("<tbody>") : page.index("</tbody>")].split("<tr")
    oily = {"Burnt umber in oil": True, "Mineral spirits": False}
    for name, wanted in oily.items():
        (line,) = [one for one in lines if f">{name}</a>" in one]
        assert ("Oily rags: they can ignite by themselves" in line) is wanted
        assert csv_rows(demo)[name]["oily rags"].startswith("yes" if wanted else "no")


def csv_rows(shop: Shop) -> dict[str, dict[str, str]]:
    answer = shop.signed_in(Role.READER).get("/hazards/store.csv")
    return {row["material"]: row for row in csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")))}


def test_a_card_of_reasons_names_everything_on_it(demo: Shop) -> None:
    page = hazards(demo, "Chrome yellow, dry (old stock)")
    why = page[page.index("Why, class by class") :]
    cards = why[why.index('class="cards named"') :]
    first = cards[: cards.index("</li>")]
    assert '<span class="card-kind">Rule</span>' in first
    for name in ("Paragraph", "From", "Sum or figure", "Limit"):
        assert f"<dt>{name}</dt>" in first
    assert 'class="listing tight"' not in page


def test_an_empty_store_says_what_belongs_there(shop: Shop, tmp_path: Path) -> None:
    page = main(shop.signed_in(Role.KEEPER).get("/hazards/store").text)
    assert "Nothing stands in the store." in page and "Take in a delivery" in page
    lines = shop.signed_in(Role.KEEPER).get("/hazards/store.csv").text.splitlines()
    assert len(lines) == 1
