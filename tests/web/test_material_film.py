"""The film figures of a material: a keeper's, with a source, each change kept, never a second posting."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.records.materials import Material
from service.records.shop import Change
from tests.web.conftest import Shop
from tests.web.test_material_pages import material, once, row


def figures(**more: Any) -> dict[str, Any]:
    return {"version": "1", "once": once()} | more


def test_a_keeper_writes_them_and_each_change_is_kept(shop: Shop) -> None:
    where, keeper = material(shop), shop.signed_in(Role.KEEPER)
    assert "Film figures" in keeper.get(where).text
    said = figures(
        oil_absorption_low="30", oil_absorption_high="50,5", non_volatile_percent="45", pigment_percent="0",
        pigment_key="raw_umber", film_source="sheet of 3 March", reason="New sheet",
    )  # fmt: skip
    assert keeper.post(f"{where}/film", data=said).headers["location"] == where
    assert keeper.post(f"{where}/film", data=said).status_code == 303, "the same posting twice is one"
    kept = row(shop)
    assert str(kept.oil_absorption_high) == "50.5" and kept.pigment_key == "raw_umber" and kept.version == 2
    assert kept.pigment_percent == 0, "none is not the same as not known"
    with shop.database.reading() as session:
        changes = session.exec(select(Change).where(col(Change.reason) == "New sheet")).all()
    assert {one.field for one in changes} == {
        "oil absorption low", "oil absorption high", "non volatile percent", "pigment percent",
        "pigment key", "film source",
    }  # fmt: skip
    page = keeper.get(f"{where}/film").text
    assert 'value="50.5"' in page and "Used where you write nothing" in page and "30 to 50 g/100 g" in page
    assert keeper.post(f"{where}/film", data=figures()).status_code == 409, "changed since it was opened"


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"oil_absorption_low": "30"}, "Write both ends of the oil absorption"),
        ({"oil_absorption_low": "50", "oil_absorption_high": "30"}, "Write the lower oil absorption first."),
        ({"non_volatile_percent": "40", "pigment_percent": "41"}, "The pigment is a part of what stays"),
        ({"pigment_key": "tung"}, "Choose the pigment from the list."),
        ({"pigment_key": "nothing known"}, "Choose the pigment from the list."),
        ({"non_volatile_percent": "40", "film_source": ""}, "Write where the figures are from"),
        ({"non_volatile_percent": "101"}, "100"),
        ({"non_volatile_percent": "much"}, "Error: "),
    ],
)
def test_what_cannot_be_comes_back_as_typed(shop: Shop, more: dict[str, str], words: str) -> None:
    where = material(shop)
    body = figures(film_source="the sheet in hand", reason="typed twice") | more
    answer = shop.signed_in(Role.KEEPER).post(f"{where}/film", data=body)
    assert answer.status_code == 422 and words in answer.text and "typed twice" in answer.text
    assert row(shop).version == 1


def test_only_a_keeper(shop: Shop) -> None:
    where = material(shop)
    for role in (Role.FINISHER, Role.STUDENT, Role.READER):
        client = shop.signed_in(role)
        assert client.get(f"{where}/film").status_code == 403
        assert client.post(f"{where}/film", data=figures(pigment_percent="0")).status_code == 403
    with shop.database.reading() as session:
        assert session.exec(select(Material.pigment_percent)).all() == [None]
