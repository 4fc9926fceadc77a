"""What was found is not lost on the way: back into the tin, after the tin is gone, by a rule of the shop."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.set_condition_rule import ConditionRuleAsked, set_condition_rule
from service.actions.tell_keeper import TellAsked, tell_keeper
from service.core.access import Role
from service.core.conditions import Consequence, Found
from service.core.containers import ContainerState, Standing
from service.core.findings import Invalid
from service.core.ledger import Destination, MovementKind
from service.records.engine import Database
from service.records.stock import Movement
from tests.builders import TODAY
from tests.jar_acts import LATE, TRIED, ends, look, oil_shop, pour, stands
from tests.mixing_shop import MixShop
from tests.store_builders import container, holds, once

IN, FIRST, PAST = Standing.IN_DATE, Standing.LOOK_FIRST, Standing.PAST
MINUTE = timedelta(minutes=1)


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def days(number: int) -> timedelta:
    return timedelta(days=number)


def tin(shop: MixShop, **dates: Any) -> str:
    usual = {"packed_on": TODAY - days(100), "received_on": TODAY - days(90), "opened_on": TODAY - days(60)}
    return shop.can("boiled oil", **usual | dates)


def later(shop: MixShop, *codes: str, **minutes: int) -> list[Standing]:
    """A minute later, and how these stand."""
    shop.now += timedelta(**minutes) if minutes else MINUTE
    return [stands(shop, code) for code in codes]


def found(shop: MixShop, code: str, what: Found, note: str = "", **said: Any) -> dict[str, Any]:
    done = look(shop, code, what, note, **said)
    shop.now += MINUTE
    return done


def undo_pouring(shop: MixShop, jar: str) -> None:
    with shop.database.reading() as session:
        into = col(Movement.container_id) == container(session, jar).id
        poured = select(Movement.id).where(into, col(Movement.kind) == MovementKind.DECANT_IN)
        number = session.exec(poured.order_by(col(Movement.id))).all()[-1] or 0
    undo(shop, number)


def undo(shop: MixShop, movement: int) -> None:
    with shop.database.writing() as session:
        reverse(session, shop.actor(Role.KEEPER), shop.now, ReverseAsked(once(), movement, LATE))
    shop.now += MINUTE


def taken(shop: MixShop, code: str, amount: str = "200 ml", **said: Any) -> int:
    with shop.database.writing() as session:
        asked = DrawAsked(once=once(), code=code, amount=amount, job_id=shop.job, **said)
        number = int(draw(session, shop.actor(Role.KEEPER), shop.now, asked).result["movement"])
    shop.now += MINUTE
    return number


def brought_back(shop: MixShop, code: str, amount: str = "100 ml", **said: Any) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = ReturnAsked(once=once(), code=code, amount=amount, **{"job_id": shop.job} | said)
        done = put_back(session, shop.actor(Role.KEEPER), shop.now, asked).result
    shop.now += MINUTE
    return done


def thrown_away(shop: MixShop, code: str) -> None:
    with shop.database.writing() as session:
        asked = DiscardAsked(once=once(), code=code, destination=Destination.WASTE_DRUM)
        discard(session, shop.actor(Role.KEEPER), shop.now, asked)
    shop.now += MINUTE


def rule(shop: MixShop, what: Found, follows: Consequence) -> None:
    with shop.database.writing() as session:
        asked = ConditionRuleAsked(
            once=once(), found=what, consequence=follows, what_to_do="Set it apart.",
            reason="It never came right in this shop",
        )  # fmt: skip
        set_condition_rule(session, shop.actor(Role.KEEPER), shop.now, asked)


# ---- what comes back to a tin that had the same finding, lifted since


def test_a_lifted_finding_of_the_tin_hides_none_that_still_stands_in_the_jar(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    assert later(shop, oil, jar) == [IN, FIRST]
    undo_pouring(shop, jar)
    assert stands(shop, oil) is FIRST
    holds(shop.database)


def test_what_ended_the_jar_is_a_doubt_in_the_tin_that_was_only_told_of_it(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil)
    with shop.database.writing() as session:
        asked = TellAsked(once=once(), code=oil, found=Found.GELLED)
        tell_keeper(session, shop.actor(Role.KEEPER), shop.now, asked)
    shop.now += MINUTE
    found(shop, oil, Found.SOUND, TRIED)
    found(shop, jar, Found.GELLED)
    assert later(shop, oil, jar) == [IN, PAST]
    undo_pouring(shop, jar)
    assert stands(shop, oil) is FIRST


def test_what_was_lifted_in_both_is_not_told_again(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    jar = pour(shop, oil)
    shop.now += MINUTE
    found(shop, jar, Found.THICKENED)
    found(shop, jar, Found.SOUND, TRIED)
    undo_pouring(shop, jar)
    assert stands(shop, oil) is IN


def test_a_look_at_the_tin_while_the_jar_was_out_says_nothing_of_what_was_in_the_jar(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil)
    shop.now += MINUTE
    found(shop, oil, Found.THICKENED)
    for code in (jar, oil):
        found(shop, code, Found.SOUND, TRIED)
    undo_pouring(shop, jar)
    assert stands(shop, oil) is FIRST


def test_a_doubt_comes_again_with_what_is_topped_up_though_a_skin_was_cut_since(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.SOUND)
    jar = pour(shop, oil)
    shop.now += MINUTE
    found(shop, oil, Found.THICKENED)
    found(shop, jar, Found.SOUND, TRIED)
    shop.now += days(1)
    found(shop, oil, Found.SKIN, strained="5 ml")
    pour(shop, oil, into=jar)
    assert later(shop, oil, jar) == [FIRST, FIRST]


# ---- what was out when somebody looked


def test_what_comes_back_was_not_looked_at(shop: MixShop) -> None:
    oil = tin(shop)
    taken(shop, oil)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    assert stands(shop, oil) is IN
    told = brought_back(shop, oil)
    assert stands(shop, oil) is FIRST
    assert "look-again" in {one["code"] for one in told["findings"]}
    holds(shop.database)


def test_a_look_gives_no_time_to_what_was_out_of_the_tin(shop: MixShop) -> None:
    old = tin(shop, packed_on=TODAY - days(400), received_on=TODAY - days(390), opened_on=TODAY - days(360))
    before = ends(shop, old)
    taken(shop, old)
    found(shop, old, Found.SOUND)
    assert ends(shop, old) != before
    brought_back(shop, old)
    assert ends(shop, old) == before


def test_what_left_after_the_look_was_looked_at(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    taken(shop, oil)
    told = brought_back(shop, oil)
    assert stands(shop, oil) is IN
    assert "look-again" not in {one["code"] for one in told["findings"]}


def test_without_a_job_nobody_knows_which_of_it_comes_back(shop: MixShop) -> None:
    oil = tin(shop)
    taken(shop, oil)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    taken(shop, oil)
    brought_back(shop, oil, job_id=None)
    assert stands(shop, oil) is FIRST


def test_a_return_that_is_taken_back_was_in_the_tin_all_the_same(shop: MixShop) -> None:
    oil = tin(shop)
    taken(shop, oil)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    number = brought_back(shop, oil)["movement"]
    undo(shop, number)
    assert stands(shop, oil) is FIRST


def test_a_draw_taken_back_after_a_look_was_perhaps_out(shop: MixShop) -> None:
    oil = tin(shop)
    number = taken(shop, oil)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    undo(shop, number)
    assert stands(shop, oil) is FIRST


def test_the_same_in_a_jar_and_in_the_tin_it_is_poured_back_into(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil, amount="400 ml")
    taken(shop, jar)
    found(shop, jar, Found.THICKENED)
    found(shop, jar, Found.SOUND, TRIED)
    assert stands(shop, jar) is IN
    brought_back(shop, jar)
    assert stands(shop, jar) is FIRST
    pour(shop, jar, into=oil)
    assert stands(shop, oil) is FIRST


# ---- what is found too late to be looked at


@pytest.mark.parametrize("how", ["emptied", "discarded"])
def test_what_is_found_of_a_tin_that_is_gone_reaches_its_jars(shop: MixShop, how: str) -> None:
    oil = tin(shop)
    early = pour(shop, oil, happened_at=shop.now - days(4))
    late = pour(shop, oil, happened_at=shop.now - days(1), amount="50 ml" if how == "discarded" else "")
    shop.now += timedelta(hours=1)
    if how == "discarded":
        thrown_away(shop, oil)
    done = found(shop, oil, Found.GELLED, happened_at=shop.now - days(2))
    assert done["container"]["state"] == ("gone" if how == "discarded" else "empty")
    assert later(shop, early, late) == [FIRST, PAST]
    holds(shop.database)


def test_nobody_looks_into_an_empty_tin_and_the_sentence_says_how(shop: MixShop) -> None:
    oil = tin(shop)
    jar = pour(shop, oil, amount="", happened_at=shop.now - days(1))
    shop.now += timedelta(hours=1)
    for said in ({}, {"happened_at": shop.now - timedelta(hours=5)}):
        with pytest.raises(Invalid, match="Enter the time") as no:
            look(shop, oil, Found.GELLED, **said)
        assert set(no.value.errors) == {"happened_at"}
    with pytest.raises(Invalid, match="only what asks for a look"):
        look(shop, oil, Found.SOUND, happened_at=shop.now - days(2))
    thrown_away(shop, oil)
    with pytest.raises(Invalid, match="It is gone"):
        look(shop, oil, Found.GELLED)
    assert shop.box(oil).state is ContainerState.GONE and stands(shop, jar) is IN


# ---- which tin a mix is made from


def test_a_mix_takes_the_sound_tin_before_the_doubted_one(shop: MixShop) -> None:
    """The term plan leaves the doubted one out altogether (tests/core/test_plan_stock.py)."""
    doubted = tin(shop)
    sound = tin(shop, opened_on=TODAY - days(20))
    recipe = shop.write(("boiled oil", "600 ml"), name="Oil alone")

    def taken_from(amount: str) -> list[str]:
        return [one.code for one in shop.look(amount, recipe=recipe).check.allocations]

    assert taken_from("1 times") == [doubted]
    found(shop, doubted, Found.THICKENED)
    assert taken_from("1 times") == [sound] and taken_from("2 times") == [sound, doubted]


# ---- what follows decides, not what it is called


@pytest.mark.parametrize("what", [Found.SEPARATED, Found.SKIN])
def test_what_ends_a_tin_by_the_shops_rule_reaches_the_jars(shop: MixShop, what: Found) -> None:
    rule(shop, what, Consequence.ENDS)
    oil = tin(shop)
    early = pour(shop, oil, happened_at=shop.now - days(3))
    late = pour(shop, oil)
    strained = {"strained": "5 ml"} if what is Found.SKIN else {}
    found(shop, oil, what, happened_at=shop.now - timedelta(hours=1), **strained)
    assert later(shop, oil, early, late) == [PAST, FIRST, PAST]


def test_what_asks_for_a_look_by_the_shops_rule_does_so_in_the_jar(shop: MixShop) -> None:
    oil = tin(shop)
    before = pour(shop, oil)
    found(shop, oil, Found.SEPARATED)
    assert later(shop, oil, before) == [IN, IN]
    rule(shop, Found.SEPARATED, Consequence.LOOK)
    found(shop, oil, Found.SEPARATED)
    assert later(shop, oil, before) == [FIRST, FIRST]


@pytest.mark.parametrize(("follows", "in_the_jar"), [(None, IN), (Consequence.LOOK, FIRST)])
def test_a_told_skin_reaches_the_jars_where_a_cut_one_would(
    shop: MixShop, follows: Consequence | None, in_the_jar: Standing
) -> None:
    if follows is not None:
        rule(shop, Found.SKIN, follows)
    oil = tin(shop)
    jar = pour(shop, oil)
    with shop.database.writing() as session:
        asked = TellAsked(once=once(), code=oil, found=Found.SKIN)
        tell_keeper(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert later(shop, oil, jar) == [FIRST, in_the_jar]
