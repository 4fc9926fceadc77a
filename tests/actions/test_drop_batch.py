"""Letting a batch go: releasing what was set aside, giving up what runs; what was drawn stays drawn."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from service.actions.drop_batch import GiveUpAsked, give_up, release
from service.core.findings import Invalid, Stale
from service.core.ledger import Destination
from service.records.engine import Database
from service.records.mixing import BatchState
from service.records.rags import RagLoad
from tests.mixing_shop import MixShop, make_mix_shop
from tests.store_builders import holds, once


def filled(database: Database) -> tuple[MixShop, dict[str, str]]:
    shop = make_mix_shop(database)
    return shop, {name: shop.can(name) for name in ("raw umber", "boiled oil", "spirit")}


def test_a_set_aside_promises_draws_later_and_is_released(database: Database) -> None:
    shop, cans = filled(database)
    batch = shop.set_aside(shop.keep("3 times"))
    assert shop.left(cans["spirit"]) == 1_000_000 and shop.look("1 times").check.shortages
    with database.writing() as session:
        assert release(session, shop.actor(), shop.now, batch, once()).result["released"] == 3
    assert not shop.look("3 times").check.shortages and shop.batch(batch).state is BatchState.GIVEN_UP
    with pytest.raises(Stale), database.writing() as session:
        release(session, shop.actor(), shop.now, batch, once())
    with pytest.raises(Stale):
        shop.start(batch_id=batch, check_id=None)
    again = shop.set_aside(shop.keep("3 times"))
    shop.start(batch_id=again, check_id=None)
    assert shop.left(cans["spirit"]) == 100_000 and shop.batch(again).state is BatchState.RUNNING
    holds(database)


def test_giving_up_asks_why_and_where_it_went(database: Database) -> None:
    shop, cans = filled(database)
    batch = int(shop.start(shop.keep()).result["batch"])

    def drop(**said: Any) -> None:
        with database.writing() as session:
            asked = GiveUpAsked(**({"once": once(), "batch_id": batch} | said))
            give_up(session, shop.actor(), shop.now, asked)

    for said, field in (({"reason": " "}, "reason"), ({"reason": "It curdled."}, "went_to")):
        with pytest.raises(Invalid) as caught:
            drop(**said)
        assert set(caught.value.errors) == {field}
    drop(reason="It curdled.", went_to=Destination.WASTE_DRUM)
    gone = shop.batch(batch)
    assert gone.state is BatchState.GIVEN_UP and "into the waste drum" in gone.loss_note
    assert shop.left(cans["spirit"]) == 700_000
    with database.reading() as session:
        assert session.exec(select(RagLoad)).one().ended_at is None
    with pytest.raises(Stale):
        drop(reason="Again.", went_to=Destination.WASTE_DRUM)
