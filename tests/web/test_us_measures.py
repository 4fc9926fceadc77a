"""A recipe and a tin in the same US measure: nothing is short by a microlitre, and packs read as printed."""

from __future__ import annotations

import csv
import io

import pytest
from fastapi.testclient import TestClient

from tests.mixing_shop import MixShop
from tests.web.test_jar_pages import plain
from tests.web.test_order_form import shown
from tests.web.test_term_pages import client, mix, new_job, new_pack, new_term, shop

__all__ = ["client", "mix", "shop"]


def one_day(client: TestClient, mix: MixShop, recipe: int, **more: str) -> str:
    term = new_term(client)
    said = {"heads": "1", "each": "1 times", "spare_percent": "0", "first": "16 Mar 2026"}
    new_job(client, mix, term, recipe_id=str(recipe), repeat="once", last="", **said | more)
    return term


@pytest.mark.parametrize(
    ("much", "in_tin"),
    [("1 US pint", 473_176), ("8 US fl oz", 236_588), ("4 US gal", 15_141_647), ("1 US gal", 3_785_412)],
)
def test_one_tin_is_enough_for_a_recipe_of_its_size(
    client: TestClient, mix: MixShop, much: str, in_tin: int
) -> None:
    mix.can("spirit", in_tin)
    recipe = mix.write(("spirit", much), name="Thinned", makes=much)
    for asked in ("1 times", much):
        check = mix.look(asked, recipe=recipe).check
        assert not check.shortages, (asked, check.shortages)
        assert [one.amount for one in check.allocations] == [in_tin]
    term = one_day(client, mix, recipe)
    listed = plain(client.get(f"{term}/orders").text)
    assert "nothing has to be bought" in listed, listed


def test_thirds_of_a_pint_for_three_take_the_pint(client: TestClient, mix: MixShop) -> None:
    mix.can("spirit", 473_176)
    recipe = mix.write(("spirit", "1 US gal"), name="Thinned", makes="1 US gal")
    term = one_day(client, mix, recipe, heads="3", each="1/3 US pint")
    assert "nothing has to be bought" in plain(client.get(f"{term}/orders").text)
    assert "Stock check" in client.post("/term/dates/1/check", data={"once": "a"}, follow_redirects=True).text


def test_a_pack_reads_as_it_is_printed(client: TestClient, mix: MixShop) -> None:
    recipe = mix.write(("spirit", "1 US pint"), name="Thinned")
    term = one_day(client, mix, recipe)
    new_pack(client, mix.ids["spirit"], amount="1 US pint", supplier="Supplier One", lead_days="1")
    assert "1 US pint" in plain(client.get(f"/materials/{mix.ids['spirit']}/packs").text)
    listed = plain(client.get(f"{term}/orders").text)
    assert "1 × 1 US pint" in listed and "473.176 ml" not in listed, listed
    (row,) = csv.DictReader(io.StringIO(client.get(f"{term}/orders.csv").text.lstrip("﻿")))
    assert (row["packs"], row["pack"], row["left over"]) == ("1", "1 US pint", "0 US pints")
    form = client.get(f"{term}/orders/new?supplier=1")
    assert "packs of 1 US pint" in plain(form.text)
    placed = client.post(f"{term}/orders/new", data=shown(form.text))
    assert "1 × 1 US pint" in plain(client.get(placed.headers["location"]).text)
    assert "spirit, 1 US pint" in plain(client.get("/suppliers").text)
    assert "nothing has to be bought" in plain(client.get(f"{term}/orders").text)
