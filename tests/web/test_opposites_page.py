"""The page of opposite colours: which kills which, and what of it stands in the shop."""

from __future__ import annotations

from service.core.access import Role
from service.records.engine import Database
from tests.store_builders import material, received
from tests.web.conftest import Shop


def test_what_kills_a_red_stands_with_how_it_stands(shop: Shop) -> None:
    database: Database = shop.database
    keeper = shop.cast.actor(Role.KEEPER)
    with database.writing() as session:
        green = material(session, "chromium oxide")
        green.ci_name = "PG17"
        material(session, "red earth").ci_name = "PR102"
        received(session, keeper, green, 1000)
    page = shop.signed_in(Role.FINISHER).get("/opposites?too=red")
    assert page.status_code == 200
    assert "kill each other to brown" in page.text and "common practice, no source" in page.text
    assert "chromium oxide" in page.text and "red earth" not in page.text


def test_a_shop_without_the_opposite_is_told_so_and_odd_hues_get_a_sentence(shop: Shop) -> None:
    client = shop.signed_in(Role.FINISHER)
    none = "No material in use has a Colour Index name of a pure violet"
    assert none in client.get("/opposites?too=yellow").text
    assert client.get("/opposites").status_code == 200
    assert client.get("/opposites?too=brown").status_code == 422
