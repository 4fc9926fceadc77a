"""Whatever brings oil about after the rags were put away opens the load again, or begins a new one: no clock
and no close may count as met what was never put away. On both databases.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from service.actions.check_ledger import check
from service.actions.close_day import close_day
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import ReturnAsked, put_back
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.empty_can import EmptyAsked, empty_can
from service.actions.finish_batch import FinishAsked, finish
from service.actions.hand_rags import HandAsked, hand_rags
from service.actions.look_at_cans import look_again
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.run_job import close_job
from service.actions.settle import Sent, settle
from service.core.access import Role
from service.core.findings import Refused
from service.core.ledger import Destination
from service.core.materials import Unknown
from service.core.oily_things import OilyThing, Way
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.records.engine import Database
from service.records.places import Place
from tests.rag_shop import ENDS, RagShop, a_batch, a_recipe, codes_of, make_shop, once

HAULED = Removal(RemovalHow.HAULER, "North Quay Waste")


@pytest.fixture
def shop(database: Database) -> RagShop:
    """Oil was drawn and stands about in a running batch."""
    made = make_shop(database)
    made.draw()
    made.pass_by(minutes=1)
    a_batch(made, a_recipe(made))
    made.pass_by(minutes=5)
    return made


def _can(shop: RagShop) -> None:
    shop.into_can()


def _drum(shop: RagShop) -> None:
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL)


def _hauled(shop: RagShop) -> None:
    shop.step(RagStep.REMOVED, removal=HAULED)


def do(shop: RagShop, act: Callable[..., Any], asked: object, *more: object) -> Any:
    with shop.database.writing() as session:
        return act(session, shop.actor(Role.FINISHER), shop.now, asked, *more).result


def _hand_in(shop: RagShop) -> None:
    asked = HandAsked(once(), shop.job, Way.IN, OilyThing.RAGS, 4)
    assert do(shop, hand_rags, asked)["load"]["contained"] is False


def _found(shop: RagShop) -> None:
    do(shop, hand_rags, HandAsked(once(), shop.job, Way.LOOSE, OilyThing.DUST, 1))


def _give_up(shop: RagShop) -> None:
    asked = GiveUpAsked(once=once(), batch_id=1, reason="Curdled", went_to=Destination.RAG_CAN)
    assert do(shop, give_up, asked)["rag_load"] == shop.load_id()


def _give_up_to_waste(shop: RagShop) -> None:
    asked = GiveUpAsked(once=once(), batch_id=1, reason="Curdled", went_to=Destination.WASTE_DRUM)
    do(shop, give_up, asked)


def _finish(shop: RagShop) -> None:
    asked = FinishAsked(once=once(), batch_id=1, loss_note="the rest is in the pot")
    assert do(shop, finish, asked, lambda: "secret")["rag_load"] == shop.load_id()


def _return(shop: RagShop) -> None:
    asked = ReturnAsked(code=shop.oil, once=once(), amount="1 ml", job_id=shop.job)
    assert do(shop, put_back, asked)["rag_load"] == shop.load_id()


def _return_without_job(shop: RagShop) -> None:
    do(shop, put_back, ReturnAsked(code=shop.oil, once=once(), amount="1 ml"))


def _spill(shop: RagShop) -> None:
    asked = LossAsked(code=shop.oil, once=once(), loss=LossKind.SPILLED, amount="5 ml", job_id=shop.job)
    do(shop, lose, asked)


def _poured_beside(shop: RagShop) -> None:
    asked = DecantAsked(
        code=shop.oil, once=once(), amount="50 ml", lost="2 ml", lost_note="ran down", job_id=shop.job,
        looked=True,
    )  # fmt: skip
    do(shop, decant, asked, lambda: "secret")


def _into_the_can(shop: RagShop) -> None:
    asked = DiscardAsked(
        code=shop.oil, once=once(), destination=Destination.RAG_CAN, amount="5 ml", job_id=shop.job
    )
    do(shop, discard, asked)


def _draw(shop: RagShop) -> None:
    shop.draw()


WAYS = [
    _hand_in, _found, _give_up, _give_up_to_waste, _finish, _return, _return_without_job, _spill,
    _poured_beside, _into_the_can, _draw,
]  # fmt: skip


def closes(shop: RagShop) -> set[str]:
    """What stops the close of the job and of the day."""
    found: set[str] = set()
    for act in (
        lambda s: close_job(s, shop.actor(Role.FINISHER), shop.now, shop.job, once(), "all of it is said"),
        lambda s: close_day(s, shop.actor(Role.KEEPER), shop.now, ENDS.date(), once()),
    ):
        with pytest.raises(Refused) as refused, shop.database.writing() as session:
            act(session)
        found |= codes_of(refused.value)
    return found


@pytest.mark.parametrize("end", [_can, _drum, _hauled])
@pytest.mark.parametrize("way", WAYS)
def test_more_oil_after_the_rags_were_put_away_is_owed(
    shop: RagShop, end: Callable[[RagShop], None], way: Callable[[RagShop], None]
) -> None:
    end(shop)
    first = shop.load_id()
    assert shop.load().state.contained
    shop.pass_by(minutes=5)
    way(shop)
    shop.pass_by(minutes=1)
    seen = shop.load()
    assert not seen.state.contained and not seen.state.remove_met and not seen.state.ended
    assert (seen.load_id == first) == (end is not _hauled)
    assert seen.row.contain_by <= ENDS and seen.row.remove_by <= ENDS
    assert {"rags-not-contained", "rags-loose"} <= closes(shop)
    with shop.database.reading() as session:
        # The containers of this shop are set up past the book; its rag log and loads are not.
        assert not [fault for fault in check(session).faults if "ag lo" in fault]
    # Put away once more, it is owed no longer.
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL)
    assert shop.load().state.remove_met


def test_pieces_handed_in_were_seen_and_the_hour_they_claim_helps_nobody(shop: RagShop) -> None:
    _drum(shop)
    shop.pass_by(minutes=10)
    earlier = HandAsked(once(), shop.job, Way.IN, OilyThing.RAGS, 4, happened_at=shop.now)
    shop.pass_by(minutes=1)
    do(shop, hand_rags, earlier)
    assert not shop.load().state.contained
    with pytest.raises(Refused) as refused:
        shop.step(RagStep.NONE_MADE, covers=tuple(shop.load().state.open_draws) or ("draw 1",))
    assert "rags-were-seen" in codes_of(refused.value)


def test_without_oil_in_the_job_pieces_are_counted_and_asked_about(database: Database) -> None:
    shop = make_shop(database)
    told = do(shop, hand_rags, HandAsked(once(), shop.job, Way.IN, OilyThing.RAGS, 4))
    assert told.get("load") is None and told["findings"][0]["code"] == "rags-oil-not-known"


def test_a_can_is_not_emptied_over_rags_that_are_loose(shop: RagShop) -> None:
    _can(shop)
    shop.pass_by(minutes=1)
    shop.draw()
    shop.pass_by(minutes=1)
    asked = EmptyAsked(once(), shop.can, shop.drum, Water.FULL)
    with pytest.raises(Refused) as refused:
        do(shop, empty_can, asked)
    assert codes_of(refused.value) == {"rags-partly-loose"} and not shop.load().state.contained
    _can(shop)
    do(shop, empty_can, EmptyAsked(once(), shop.can, shop.drum, Water.FULL))
    assert shop.load().state.remove_met


def test_describing_a_drum_anew_puts_no_loose_rags_away(shop: RagShop) -> None:
    _drum(shop)
    shop.pass_by(minutes=1)
    shop.draw()
    shop.pass_by(minutes=1)
    with shop.database.writing() as session:
        place = session.get_one(Place, shop.drum)
        place.detached = Unknown.NO
        session.add(place)
        sent = Sent(once(), "test-look", {})

        def look(act: Any) -> dict[str, Any]:
            look_again(act, place)
            return {}

        settle(session, shop.actor(Role.KEEPER), sent, shop.now, look)
    assert not shop.load().state.contained
