"""A draw whose content came back into the container is taken back no more: it would be there twice."""

from __future__ import annotations

import pytest

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.draw_stock import ReturnAsked, put_back
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.access import Role
from service.core.additions import WasIn
from service.core.findings import Refused
from service.records.engine import Database
from service.records.mixing_queries import additions_of
from tests.actions.test_findings_travel_back import brought_back, taken, tin, undo
from tests.jar_acts import LATE, oil_shop
from tests.mixing_shop import MixShop
from tests.store_builders import holds, once


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def refused(shop: MixShop, movement: int) -> None:
    with pytest.raises(Refused) as caught, shop.database.writing() as session:
        reverse(session, shop.actor(Role.KEEPER), shop.now, ReverseAsked(once(), movement, LATE))
    assert "came-back" in caught.value.verdict.codes


def test_a_draw_that_came_back_whole_is_not_taken_back_too(shop: MixShop) -> None:
    oil = tin(shop)
    number = taken(shop, oil)
    back = brought_back(shop, oil, "200 ml")["movement"]
    refused(shop, number)
    assert shop.left(oil) == 1_000_000
    undo(shop, back)
    undo(shop, number)
    assert shop.left(oil) == 1_000_000
    holds(shop.database)


def test_a_part_that_came_back_stops_it_unless_another_draw_covers_it(shop: MixShop) -> None:
    oil = tin(shop)
    first, second = taken(shop, oil), taken(shop, oil)
    brought_back(shop, oil, "100 ml")
    undo(shop, first)
    refused(shop, second)


def test_what_came_back_from_a_pot_was_not_never_in_it(shop: MixShop) -> None:
    oil = tin(shop)
    recipe = shop.write(("boiled oil", "100 ml"), name="Rub")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with shop.database.reading() as session:
        (addition,) = additions_of(session, batch)
    with shop.database.writing() as session:
        asked = ReturnAsked(once=once(), code=oil, amount="100 ml", batch_id=batch)
        put_back(session, shop.actor(Role.KEEPER), shop.now, asked)
    undone = UndoAsked(once(), batch, addition.row.id or 0, "wrong can", WasIn.NEVER)
    with pytest.raises(Refused) as caught, shop.database.writing() as session:
        undo_addition(session, shop.actor(Role.KEEPER), shop.now, undone)
    assert "came-back" in caught.value.verdict.codes and shop.left(oil) == 1_000_000
