"""A count that finds more than the book says: what went in unwritten was seen by no look made before."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.actions.count_stock import CountAsked, count
from service.actions.draw_stock import DrawAsked, draw
from service.actions.lose_stock import DiscardAsked, discard
from service.core.access import Role
from service.core.additions import HowAdded
from service.core.conditions import Found
from service.core.containers import Standing
from service.core.ledger import Destination
from service.records.engine import Database
from service.records.stock import Movement
from tests.actions.test_bench_additions import put_in
from tests.actions.test_findings_travel_back import brought_back, days, found, later, taken, tin, undo
from tests.actions.test_findings_travel_on import OLD
from tests.builders import TODAY
from tests.jar_acts import LATE, TRIED, ends, oil_shop, pour, stands
from tests.mixing_shop import MixShop
from tests.store_builders import holds, once

IN, FIRST, PAST = Standing.IN_DATE, Standing.LOOK_FIRST, Standing.PAST


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def counted(shop: MixShop, code: str, amount: str, **said: Any) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = CountAsked(once=once(), code=code, amount=amount, **said)
        done = count(session, shop.actor(Role.KEEPER), shop.now, asked).result
    shop.now += timedelta(minutes=1)
    return done


def reason_of(shop: MixShop, movement: int) -> str:
    with shop.database.reading() as session:
        row = session.get(Movement, movement)
        assert row is not None
        return row.reason


def lifted(shop: MixShop) -> str:
    """A tin whose doubt a trial lifted; a litre by the book."""
    oil = tin(shop)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    shop.now += timedelta(hours=1)
    assert stands(shop, oil) is IN
    return oil


def codes(done: dict[str, Any]) -> set[str]:
    return {one["code"] for one in done["findings"]}


@pytest.mark.parametrize("reason", ["", "Confirmed by a count.", "Somebody poured a rest in"])
def test_more_than_the_book_asks_for_a_new_look_and_so_do_the_jars_filled_since(
    shop: MixShop, reason: str
) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED, happened_at=shop.now - days(1))
    early = pour(shop, oil)
    found(shop, early, Found.SOUND, TRIED)
    found(shop, oil, Found.SOUND, TRIED)
    shop.now += timedelta(hours=1)
    jar = pour(shop, oil)
    assert later(shop, oil, jar, early) == [IN, IN, IN]
    told = counted(shop, oil, "1.4 l", reason=reason)
    assert "look-again" in codes(told)
    assert later(shop, oil, jar, early) == [FIRST, FIRST, IN]
    found(shop, oil, Found.SOUND, TRIED)
    found(shop, jar, Found.SOUND, TRIED)
    assert later(shop, oil, jar) == [IN, IN]
    holds(shop.database)


def test_a_look_gives_no_time_to_what_nobody_wrote_down(shop: MixShop) -> None:
    oil = tin(shop, **OLD)
    before = ends(shop, oil)
    found(shop, oil, Found.SOUND)
    jar = pour(shop, oil)
    longer = ends(shop, oil)
    assert longer is not None and longer != before and ends(shop, jar) == longer
    shop.now += timedelta(hours=1)
    counted(shop, oil, "1.4 l")
    assert [ends(shop, oil), ends(shop, jar)] == [before, before]
    assert stands(shop, oil) is PAST


@pytest.mark.parametrize("amount", ["1.0 l", "1.01 l", "600 ml"])
def test_a_count_that_confirms_or_finds_less_takes_no_look(shop: MixShop, amount: str) -> None:
    oil = lifted(shop)
    told = counted(shop, oil, amount, reason="weekly round")
    assert stands(shop, oil) is IN
    assert "look-again" not in codes(told)


def test_a_count_taken_back_was_a_slip_of_the_count(shop: MixShop) -> None:
    oil = lifted(shop)
    number = counted(shop, oil, "1.4 l")["movement"]
    assert stands(shop, oil) is FIRST
    undo(shop, number)
    assert stands(shop, oil) is IN


def test_more_that_was_counted_before_the_look_was_looked_at(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED)
    counted(shop, oil, "1.4 l")
    found(shop, oil, Found.SOUND, TRIED)
    assert later(shop, oil) == [IN]


def test_a_late_draw_that_a_count_missed_already_finds_nothing_more(shop: MixShop) -> None:
    oil = lifted(shop)
    shop.now += timedelta(hours=2)
    counted(shop, oil, "800 ml")
    taken(shop, oil, happened_at=shop.now - timedelta(hours=1), late_reason=LATE)
    assert stands(shop, oil) is IN


@pytest.mark.parametrize("minutes", [45, 170])
def test_a_late_draw_by_which_a_count_had_found_more_takes_the_look(shop: MixShop, minutes: int) -> None:
    """A count confirmed the book; with a draw of 200 ml of before it, that count had found 200 ml more."""
    oil = tin(shop)
    shop.now += timedelta(hours=1)
    found(shop, oil, Found.THICKENED)
    shop.now += timedelta(hours=1)
    found(shop, oil, Found.SOUND, TRIED)
    shop.now += timedelta(hours=1)
    jar = pour(shop, oil)
    counted(shop, oil, "950 ml")
    shop.now += timedelta(minutes=30)
    assert later(shop, oil) == [IN]
    taken(shop, oil, looked=True, happened_at=shop.now - timedelta(minutes=minutes), late_reason=LATE)
    assert later(shop, oil, jar) == [FIRST, FIRST]
    holds(shop.database)


def test_a_part_thrown_away_that_is_taken_back_after_a_look_was_perhaps_gone(shop: MixShop) -> None:
    oil = tin(shop)
    with shop.database.writing() as session:
        asked = DiscardAsked(once=once(), code=oil, destination=Destination.WASTE_DRUM, amount="200 ml")
        number = int(discard(session, shop.actor(Role.KEEPER), shop.now, asked).result["movement"])
    shop.now += timedelta(minutes=1)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    undo(shop, number)
    assert stands(shop, oil) is FIRST


def test_a_draw_taken_back_after_a_look_takes_it_from_the_jar_too(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED, happened_at=shop.now - days(1))
    number = taken(shop, oil, looked=True)
    found(shop, oil, Found.SOUND, TRIED)
    shop.now += timedelta(hours=1)
    jar = pour(shop, oil)
    assert later(shop, oil, jar) == [IN, IN]
    undo(shop, number)
    assert later(shop, oil, jar) == [FIRST, FIRST]
    holds(shop.database)


def test_more_drawn_than_the_book_says_was_more_in_it(shop: MixShop) -> None:
    oil = lifted(shop)
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=oil, amount="1.3 l", job_id=shop.job, more_than_book=True)
        told = draw(session, shop.actor(Role.KEEPER), shop.now, asked).result
    assert "look-again" in codes(told)


def test_more_poured_than_the_book_says_takes_no_look_along(shop: MixShop) -> None:
    oil = tin(shop, **OLD | {"opened_on": TODAY - days(340)})
    before = ends(shop, oil)
    found(shop, oil, Found.SOUND)
    shop.now += timedelta(hours=1)
    assert ends(shop, oil) != before
    jar = pour(shop, oil, amount="1.3 l", more_than_book=True)
    assert [ends(shop, oil), ends(shop, jar)] == [before, before]
    holds(shop.database)


def test_more_beside_a_taking_nobody_measured_is_more_all_the_same(shop: MixShop) -> None:
    oil = lifted(shop)
    recipe = shop.write(("boiled oil", "100 ml"), name="Rub")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    put_in(shop, batch, code=oil, how=HowAdded.NOT_MEASURED)
    told = counted(shop, oil, "1.4 l", more_than_book=True, reason="A rest was poured in")
    words = "There was more in it than the book said. A rest was poured in"
    assert reason_of(shop, told["movement"]) == words
    assert stands(shop, oil) is FIRST


def test_a_jar_whose_look_did_not_see_all_loses_the_time_it_gave(shop: MixShop) -> None:
    """A return written late: the jar filled since keeps no date that rests on the look at its tin."""
    oil = tin(shop, **OLD | {"opened_on": TODAY - days(340)})
    before = ends(shop, oil)
    taken(shop, oil, looked=True)
    found(shop, oil, Found.SOUND)
    shop.now += timedelta(hours=1)
    jar = pour(shop, oil)
    assert ends(shop, jar) != before
    brought_back(shop, oil, happened_at=shop.now - timedelta(minutes=40), late_reason=LATE)
    assert [ends(shop, oil), ends(shop, jar)] == [before, before]
    assert stands(shop, jar) is FIRST
