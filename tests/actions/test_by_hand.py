"""Lines that a start leaves to the bench: what is to suit is held back, what is no amount is said."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import Session

from service.actions.add_to_batch import AddAsked, add
from service.actions.check_links import allocation_faults
from service.actions.drop_batch import GiveUpAsked, give_up
from service.actions.finish_batch import FinishAsked, finish
from service.actions.hold_back import lines_by_hand
from service.actions.keep_as_made import look_at_as_made
from service.actions.undo_addition import UndoAsked, undo_addition
from service.core.additions import HowAdded, WasIn
from service.core.as_made import Differs
from service.core.findings import Refused, Severity
from service.core.ledger import Destination
from service.records.engine import Database
from service.records.mixing_queries import additions_of, allocations_of, the_batch
from service.records.stock_queries import promised
from tests.mixing_shop import MixShop, codes, make_mix_shop
from tests.store_builders import holds, once

UNKNOWN = Severity.UNKNOWN


def to_suit(database: Database, drier: int = 1_000_000) -> tuple[MixShop, str, int]:
    """100 ml spirit, and drier to suit, at most 100 ml; the code of the drier and the recipe."""
    shop = make_mix_shop(database)
    shop.can("spirit")
    code = shop.can("drier", drier)
    return shop, code, shop.write(("spirit", "100 ml"), ("drier", "to suit, at most 100 ml"), name="Glaze")


def begun(shop: MixShop, recipe: int, amount: str = "1 times") -> int:
    return int(shop.start(shop.keep(amount, recipe=recipe)).result["batch"])


def put_in(shop: MixShop, batch: int, **said: Any) -> int:
    asked = AddAsked(**({"once": once(), "batch_id": batch} | said))
    with shop.database.writing() as session:
        return int(add(session, shop.actor(), shop.now, asked).result["additions"][0]["id"])


def held_back(shop: MixShop, code: str, but: int | None = None) -> int:
    number = shop.box(code).id or 0
    with shop.database.reading() as session:
        return promised(session, [number], but).get(number, 0)


def sound(session: Session) -> bool:
    return not list(allocation_faults(session))


def test_to_suit_at_most_is_held_back_and_not_drawn(database: Database) -> None:
    shop, code, recipe = to_suit(database)
    mix = shop.look("2 times", recipe=recipe)
    need = next(n for n in mix.check.needs if n.name == "drier")
    assert (need.low, need.high, need.at_start) == (None, 200_000, 0)
    assert [(one.position, one.words) for one in mix.check.by_hand] == [(2, "to suit, at most 200 ml")]
    batch = begun(shop, recipe, "2 times")
    assert shop.left(code) == 1_000_000 and held_back(shop, code) == 200_000
    assert held_back(shop, code, batch) == 0, "its own is no other batch's"
    with database.reading() as session:
        assert [one.material.name for one in additions_of(session, batch)] == ["spirit"]
        assert sound(session)
    holds(database)


def test_the_stock_must_suffice_for_the_most(database: Database) -> None:
    shop, _, recipe = to_suit(database, drier=99_999)
    mix = shop.look(recipe=recipe)
    assert mix.check.verdict.blocking and mix.check.shortages[0].missing == 1
    with pytest.raises(Refused):
        begun(shop, recipe)


def test_what_one_batch_holds_back_is_not_there_for_the_next(database: Database) -> None:
    shop, code, recipe = to_suit(database, drier=150_000)
    batch = begun(shop, recipe)
    assert shop.look(recipe=recipe).check.shortages[0].missing == 50_000
    first = put_in(shop, batch, code=code, amount="70 ml")
    assert (shop.left(code), held_back(shop, code)) == (80_000, 30_000)
    with database.writing() as session:
        asked = UndoAsked(once(), batch, first, "wrong can", WasIn.NEVER)
        undo_addition(session, shop.actor(), shop.now, asked)
    assert (shop.left(code), held_back(shop, code)) == (150_000, 100_000)
    put_in(shop, batch, code=code, amount="120 ml")
    assert (shop.left(code), held_back(shop, code)) == (30_000, 0)
    with database.reading() as session:
        assert sound(session)


def test_a_batch_that_ends_holds_nothing_back(database: Database) -> None:
    shop, code, recipe = to_suit(database)
    one, other = begun(shop, recipe), begun(shop, recipe)
    assert held_back(shop, code) == 200_000
    with database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=one)
        finish(session, shop.actor(), shop.now, asked, lambda: once())
    assert held_back(shop, code) == 100_000
    with database.writing() as session:
        gone = GiveUpAsked(once=once(), batch_id=other, reason="curdled", went_to=Destination.WASTE_DRUM)
        give_up(session, shop.actor(), shop.now, gone)
    assert held_back(shop, code) == 0
    with database.reading() as session:
        assert sound(session)


def test_set_aside_promises_the_most_and_its_start_holds_it_back(database: Database) -> None:
    shop, code, recipe = to_suit(database)
    batch = shop.set_aside(shop.keep(recipe=recipe))
    assert held_back(shop, code) == 100_000
    shop.start(batch_id=batch, check_id=None)
    assert (shop.left(code), held_back(shop, code)) == (1_000_000, 100_000)
    with database.reading() as session:
        assert sorted(row.state for row in allocations_of(session, batch)) == ["drawn", "reserved"]
        assert sound(session)


def test_what_is_not_measured_uses_up_nobody_knows_how_much(database: Database) -> None:
    shop, code, recipe = to_suit(database)
    batch = begun(shop, recipe)
    put_in(shop, batch, code=code, how=HowAdded.NOT_MEASURED)
    assert held_back(shop, code) == 100_000


def test_a_known_line_and_one_to_suit_of_one_material(database: Database) -> None:
    shop, code, _ = to_suit(database)
    recipe = shop.write(
        ("drier", "10 ml"), ("spirit", "100 ml"), ("drier", "to suit, at most 50 ml"), name="Two lines"
    )
    batch = begun(shop, recipe)
    assert (shop.left(code), held_back(shop, code)) == (990_000, 50_000)
    put_in(shop, batch, code=code, amount="5 ml")
    with database.reading() as session:
        rows = [one.row for one in additions_of(session, batch) if one.material.name == "drier"]
        assert [row.position for row in rows] == [1, 3]
    assert held_back(shop, code) == 45_000


def test_as_made_shows_what_went_in_and_not_the_most(database: Database) -> None:
    shop, code, recipe = to_suit(database)
    batch = begun(shop, recipe)

    def drier() -> Any:
        with database.reading() as session:
            seen = look_at_as_made(session, the_batch(session, batch))
            return next(one for one in seen.lines if one.name == "drier")

    assert drier().differs is Differs.TO_SUIT and drier().made is None
    put_in(shop, batch, code=code, amount="7 ml")
    assert drier().differs is Differs.TO_SUIT and drier().made.amount == 7000
    put_in(shop, batch, code=code, amount="100 ml")
    assert drier().differs is Differs.MORE and drier().difference == 7000


def test_tap_water_to_suit_is_not_poured_at_the_start(database: Database) -> None:
    shop, _, _ = to_suit(database)
    recipe = shop.write(("spirit", "10 ml"), ("tap water", "to suit, at most 1 l"), name="Wash")
    batch = begun(shop, recipe)
    with database.reading() as session:
        assert [one.material.name for one in additions_of(session, batch)] == ["spirit"]
        assert [(one.name, one.stocked) for one in lines_by_hand(the_batch(session, batch))] == [
            ("tap water", False)
        ]


def test_oil_that_is_held_back_only_needs_a_job_all_the_same(database: Database) -> None:
    shop, _, _ = to_suit(database)
    shop.can("boiled oil")
    recipe = shop.write(("spirit", "10 ml"), ("boiled oil", "to suit, at most 50 ml"), name="Oily")
    with pytest.raises(Refused) as caught:
        shop.start(shop.keep(recipe=recipe), job_id=None)
    assert "needs-job" in caught.value.verdict.codes


def test_a_line_that_is_no_amount_stands_in_needs_plan_and_start(database: Database) -> None:
    shop, _, _ = to_suit(database)
    umber = shop.can("raw umber")
    recipe = shop.write(("spirit", "100 ml"), ("raw umber", "2 metric tsp"), name="Spoons")
    mix = shop.look("3 times", recipe=recipe)
    need = next(n for n in mix.check.needs if n.name == "raw umber")
    assert (need.high, need.basis, need.at_start) == (None, None, 0) and need.why
    assert not mix.check.verdict.complete
    assert codes(mix.check.verdict, UNKNOWN) == {("bulk-density-not-known", "raw umber")}
    done = shop.start(shop.keep("3 times", recipe=recipe)).result
    told = next(f for f in done["findings"] if f["code"] == "by-hand")
    assert told["severity"] == "unknown" and "raw umber: 6 metric tsp" in told["sentence"]
    with database.reading() as session:
        plan = lines_by_hand(the_batch(session, done["batch"]))
    assert [(one.position, one.words, one.high) for one in plan] == [(2, "6 metric tsp", None)]
    assert shop.left(umber) == 1_000_000
    put_in(shop, done["batch"], code=umber, amount="9 g")
    with database.reading() as session:
        assert additions_of(session, done["batch"])[-1].row.position == 2


def test_the_known_line_beside_it_is_checked_and_drawn(database: Database) -> None:
    shop, _, _ = to_suit(database)
    umber = shop.can("raw umber", 150_000)
    recipe = shop.write(("raw umber", "100 g"), ("raw umber", "2 metric tsp"), name="Both ways")
    need = shop.look(recipe=recipe).check.needs[0]
    assert (need.high, need.at_start, need.counted) == (None, 100_000, 100_000)
    begun(shop, recipe)
    assert shop.left(umber) == 50_000
    short = shop.look(recipe=recipe).check
    assert short.verdict.blocking and short.shortages[0].missing == 50_000
