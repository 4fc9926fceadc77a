"""Writing an order down from the order list: days for each line, 200 lines, and not twice by mistake."""

from __future__ import annotations

import re

from fastapi.testclient import TestClient
from sqlmodel import func, select

from service.actions.place_order import MOST_LINES
from service.records.orders import OrderLineRow
from tests.mixing_shop import MixShop
from tests.store_builders import once
from tests.web.conftest import Shop
from tests.web.test_jar_pages import plain
from tests.web.test_term_pages import client, mix, new_job, new_pack, new_term, shop

__all__ = ["client", "mix", "shop"]


def shown(text: str) -> dict[str, str]:
    fields = dict(re.findall(r'name="([a-z_0-9]+)"[^>]*?value="([^"]*)"', text))
    return {name: plain(value) for name, value in fields.items()}


def test_a_line_is_expected_on_the_day_it_is_to_be_here(client: TestClient, mix: MixShop) -> None:
    """27 March is the last school day before; two working days from today, 12 March, would be too early."""
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="30 Mar 2026", last="")
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="Supplier One", lead_days="2")
    form = client.get(f"{term}/orders/new?supplier=1")
    fields = shown(form.text)
    assert (fields["expected_0"], fields["count_0"]) == ("27 Mar 2026", "1")
    assert "here by 27 Mar 2026" in plain(form.text)


def test_what_is_late_is_expected_when_it_can_come(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="16 Mar 2026", last="")
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="Supplier One", lead_days="5")
    fields = shown(client.get(f"{term}/orders/new?supplier=1").text)
    assert fields["expected_0"] == "19 Mar 2026" and fields["count_0"] == "1"


def test_only_far_lines_can_be_ordered_but_none_is_taken_by_itself(client: TestClient, mix: MixShop) -> None:
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="22 Jun 2026", last="")
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="Supplier One", lead_days="5")
    form = client.get(f"{term}/orders/new?supplier=1")
    fields = shown(form.text)
    assert fields["count_0"] == "0" and "Can be ordered until" in plain(form.text)
    again = client.post(f"{term}/orders/new", data=fields)
    assert again.status_code == 422 and "Needed: 1, here by" in plain(again.text)
    assert "Can be ordered until" in plain(again.text)
    assert client.post(f"{term}/orders/new", data=fields | {"count_0": "1"}).status_code == 303


def test_the_second_of_two_open_forms_is_asked_about(client: TestClient, mix: MixShop, shop: Shop) -> None:
    term = new_term(client)
    new_job(client, mix, term, repeat="once", first="30 Mar 2026", last="")
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="Supplier One", lead_days="2")
    first, second = (shown(client.get(f"{term}/orders/new?supplier=1").text) for _ in range(2))
    assert client.post(f"{term}/orders/new", data=first).status_code == 303
    asked = client.post(f"{term}/orders/new", data=second)
    assert asked.status_code == 422 and 'name="again"' in asked.text
    assert "Order 1 of 12 March 2026 holds 1 × 1 l of spirit already" in plain(asked.text)
    assert client.post(f"{term}/orders/new", data=second | {"again": "yes"}).status_code == 303
    with shop.database.reading() as session:
        assert session.exec(select(func.count()).select_from(OrderLineRow)).one() == 2


def test_two_hundred_lines_go_through_and_the_next_is_said(
    client: TestClient, mix: MixShop, shop: Shop
) -> None:
    term = new_term(client)
    new_pack(client, mix.ids["spirit"], amount="1 l", supplier="Supplier One", lead_days="2")
    lines = {}
    for at in range(MOST_LINES):
        lines |= {f"pack_{at}": "1", f"count_{at}": "1", f"expected_{at}": "30 Mar 2026"}
    sent = {"once": once(), "lines": str(MOST_LINES), "supplier": "1", "placed_on": "12 Mar 2026"} | lines
    assert client.post(f"{term}/orders/new", data=sent).status_code == 303
    with shop.database.reading() as session:
        assert session.exec(select(func.count()).select_from(OrderLineRow)).one() == MOST_LINES
    more = client.post(f"{term}/orders/new", data=sent | {f"more_{n}": "x" for n in range(30)})
    assert more.status_code == 413
