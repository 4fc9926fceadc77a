"""The form for section 3: what is typed stays, each line says what is wrong with it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

import pytest
from sqlmodel import select

from service.core.access import Role
from service.records.components import MaterialComponent
from service.records.materials import Material
from tests.web.conftest import Shop
from tests.web.demo_shop import demo_on
from tests.web.odd_values import TEXTS

_keys = itertools.count(1)


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on(request.param, request, tmp_path_factory.mktemp("components")) as shop:
        yield shop


def where(shop: Shop, name: str = "Burnt umber in oil") -> tuple[str, int]:
    with shop.database.reading() as session:
        row = session.exec(select(Material).where(Material.name == name)).one()
        return f"/materials/{row.id}/components", row.version


def form(version: int, *lines: dict[str, str], **more: str) -> dict[str, str]:
    said = {"step": "keep", "version": str(version), "once": f"components-{next(_keys)}"}
    said |= {"source": "supplier's sheet of 3 March 2025"} | more
    for at, line in enumerate(lines):
        said |= {f"{part}_{at}": value for part, value in line.items()}
    return said


OIL = {"name": "linseed oil", "cas": "8001-26-1", "low": "30", "high": "40", "known": "none"}
EARTH = {"name": "iron oxide", "cas": "1309-37-1", "low": "60", "high": "70"}


def lines_in(shop: Shop, address: str) -> list[tuple[str, str]]:
    number = int(address.split("/")[2])
    with shop.database.reading() as session:
        query = select(MaterialComponent).where(MaterialComponent.material_id == number)
        return [(row.name, row.cas) for row in session.exec(query.order_by("position")).all()]


def test_a_keeper_writes_lines_and_the_hazard_page_reckons_with_them(demo: Shop) -> None:
    address, version = where(demo)
    keeper = demo.signed_in(Role.KEEPER)
    answer = keeper.post(address, data=form(version, OIL, EARTH))
    assert answer.status_code == 303 and answer.headers["location"].endswith("/hazards")
    page = keeper.get(answer.headers["location"]).text
    assert "linseed oil" in page and "8001-26-1" in page and "supplier&#39;s sheet of 3 March 2025" in page
    again = keeper.get(address).text
    assert 'value="8001-26-1"' in again and 'value="30"' in again
    stale = keeper.post(address, data=form(version, OIL))
    assert stale.status_code == 409
    assert [name for name, _ in lines_in(demo, address)] == ["linseed oil", "iron oxide"]


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_nobody_but_a_keeper(demo: Shop, role: Role) -> None:
    address, version = where(demo, "Gum turpentine")
    client = demo.signed_in(role)
    assert client.get(address).status_code == 403
    assert client.post(address, data=form(version, OIL)).status_code == 403
    assert lines_in(demo, address) == []


@pytest.mark.parametrize(
    ("line", "field"),
    [
        (OIL | {"cas": "8001-26-2"}, "cas_1"),
        (OIL | {"cas": "linseed"}, "cas_1"),
        (OIL | {"name": ""}, "name_1"),
        (OIL | {"low": "1,000"}, "low_1"),
        (OIL | {"high": "130"}, "high_1"),
        (OIL | {"low": "50", "high": "40"}, "low_1"),
        (OIL | {"high": ""}, "high_1"),
        (OIL | {"classes": "Flam. Liq. 3"}, "classes_1"),
        (OIL | {"known": "listed"}, "classes_1"),
        (OIL | {"known": "listed", "classes": "burns"}, "classes_1"),
        (OIL | {"known": "listed", "classes": "Flam. Liq. 7"}, "classes_1"),
        (OIL | {"known": "perhaps"}, "known_1"),
        (EARTH, "cas_1"),
        (OIL | {"known": "listed", "classes": "Aquatic Acute 1 (M=10)"}, "classes_1"),
        (OIL | {"limits": "Skin Sens. 1A: C ≥ 0.0015 %"}, "limits_1"),
        (OIL | {"own": "listed"}, "limits_1"),
        (OIL | {"own": "listed", "limits": "0.0015 %"}, "limits_1"),
        (OIL | {"own": "perhaps"}, "own_1"),
        (OIL | {"m_acute": "10"}, "m_acute_1"),
        (OIL | {"m_chronic": "0.5"}, "m_chronic_1"),
        (OIL | {"ate": "inhalation 3"}, "ate_1"),
    ],
)
def test_a_line_that_cannot_be_says_so_beside_its_field(demo: Shop, line: dict[str, str], field: str) -> None:
    address, version = where(demo, "Gum turpentine")
    answer = demo.signed_in(Role.KEEPER).post(address, data=form(version, EARTH, line, source="sheet"))
    assert answer.status_code == 422, answer.headers
    assert f'id="e-{field}"' in answer.text and "Error: " in answer.text
    assert 'value="iron oxide"' in answer.text, "what was typed stays"
    assert lines_in(demo, address) == []


def test_the_source_is_asked_for(demo: Shop) -> None:
    address, version = where(demo, "Gum turpentine")
    answer = demo.signed_in(Role.KEEPER).post(address, data=form(version, EARTH, source=""))
    assert answer.status_code == 422 and 'id="e-source"' in answer.text


def test_lines_are_added_and_taken_out_without_writing(demo: Shop) -> None:
    address, version = where(demo, "Gum turpentine")
    keeper = demo.signed_in(Role.KEEPER)
    more = keeper.post(address, data=form(version, EARTH, step="line")).text
    assert len(re.findall(r"<legend>Line \d", more)) == 2 and 'value="iron oxide"' in more
    less = keeper.post(address, data=form(version, EARTH, OIL, step="out-0")).text
    assert 'value="linseed oil"' in less and 'value="iron oxide"' not in less
    assert lines_in(demo, address) == []


MCI = {
    "name": "MCI/MI", "cas": "55965-84-9", "high": "<0.05", "known": "listed",
    "classes": "Skin Sens. 1A H317\nAquatic Acute 1 H400\nAcute Tox. 3 oral", "own": "listed",
    "limits": "Skin Sens. 1A; H317: C ≥ 0,0015 %", "m_acute": "100", "ate": "oral 53 mg/kg",
}  # fmt: skip


def test_figures_of_a_component_are_kept_shown_and_reckoned_with(demo: Shop) -> None:
    address, version = where(demo, "Tap water")
    keeper = demo.signed_in(Role.KEEPER)
    water = {"name": "water", "cas": "7732-18-5", "low": ">=99"}
    answer = keeper.post(address, data=form(version, MCI, water))
    assert answer.status_code == 303, answer.text
    page = keeper.get(answer.headers["location"] + "?law=eu-clp").text
    for shown in ("Skin Sens. 1A H317", "M acute 100: its sheet", "ATE oral 53 mg/kg: its sheet"):
        assert shown in page
    assert "own limit of MCI/MI" in page and "Own limits of MCI/MI are not known" not in page
    again = keeper.get(address).text
    assert "C ≥ 0,0015 %</textarea>" in again and "oral 53 mg/kg</textarea>" in again
    for name, value in (("low_0", "0"), ("high_0", "0.05"), ("m_acute_0", "100"), ("low_1", "99")):
        assert re.search(rf'name="{name}"[^>]*value="{value}"', again), name
    assert again.count("<details class=\"more\" open>") == 1, "figures that are there are not folded away"
    version = where(demo, "Tap water")[1]
    less = {key: value for key, value in MCI.items() if key not in ("own", "limits", "m_acute", "ate")}
    assert keeper.post(address, data=form(version, less)).status_code == 303
    page = keeper.get(address.replace("components", "hazards") + "?law=eu-clp").text
    assert "Own limits of MCI/MI are not known" in page
    assert keeper.post(address, data=form(version + 1, source="")).status_code == 303


PARTS = ["name", "cas", "low", "high", "known", "classes", "note"]
PARTS += ["own", "limits", "m_acute", "m_chronic", "ate"]


@pytest.mark.parametrize("part", PARTS)
def test_odd_input_in_a_later_line_does_no_harm(demo: Shop, part: str) -> None:
    """The first line's fields stand in the form's model and are tried by the hostile tests."""
    address, version = where(demo, "Gum turpentine")
    keeper = demo.signed_in(Role.KEEPER)
    for odd in [text for text in TEXTS if "\ud800" not in text and "\udfff" not in text][::8]:
        answer = keeper.post(address, data=form(version, EARTH, OIL | {part: odd}, step="keep", source="x"))
        assert answer.status_code in (303, 409, 413, 422), (part, odd[:40], answer.status_code)
        assert keeper.get(address).status_code == 200
        version = where(demo, "Gum turpentine")[1]
    assert keeper.get(address.replace("components", "hazards")).status_code == 200
    cleared = keeper.post(address, data=form(version, source=""))
    assert cleared.status_code in (303, 422)
