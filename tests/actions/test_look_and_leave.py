"""A look speaks for what was in the tin when it was made: what had left it before takes no time from it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.conditions import Found
from service.core.ledger import Destination
from service.core.materials import Form
from service.records.duties import Duty
from service.records.engine import Database
from service.records.policy_queries import Subject
from tests.builders import TODAY
from tests.jar_acts import chance, ends, look, oil_shop, pour
from tests.mixing_shop import MixShop
from tests.store_builders import container, once

MINUTE = timedelta(minutes=1)


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def tin(shop: MixShop) -> str:
    """Two weeks before its end."""
    opened = TODAY - timedelta(days=350)
    return shop.can("boiled oil", packed_on=opened, received_on=opened, opened_on=opened)


def started(shop: MixShop) -> int:
    recipe = shop.write(("boiled oil", "60 ml"), name="Oil alone")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    shop.now += MINUTE
    return batch


def finished(shop: MixShop, batch: int) -> str:
    shop.now += MINUTE
    with shop.database.writing() as session:
        asked = FinishAsked(
            once=once(), batch_id=batch, jars=(JarAsked("50 ml"),), loss_note="pot", form=Form.LIQUID
        )
        return str(finish(session, shop.actor(), shop.now, asked, chance).result["jars"][0]["code"])


def end(shop: MixShop, code: str) -> date:
    found = ends(shop, code)
    assert found is not None
    return found


def test_a_look_between_draw_and_jar_says_nothing_of_what_is_in_the_pot(shop: MixShop) -> None:
    oil = tin(shop)
    before, batch = end(shop, oil), started(shop)
    look(shop, oil, Found.SOUND)
    assert end(shop, oil) > before
    jar = finished(shop, batch)
    assert end(shop, jar) == before
    assert end(shop, pour(shop, jar)) == before


def test_what_was_drawn_after_the_look_takes_its_time_along_on_the_same_day(shop: MixShop) -> None:
    oil = tin(shop)
    before = end(shop, oil)
    look(shop, oil, Found.SOUND)
    shop.now += MINUTE
    jar = finished(shop, started(shop))
    assert end(shop, jar) == end(shop, oil) > before
    # A policy set anew with the same figures settles it by the same rule.
    with shop.database.writing() as session:
        asked = PolicyAsked(
            once=once(), subject=Subject(material_id=shop.ids["boiled oil"]), end=PolicyEnd.RETEST,
            reason="Another word for the same figures", sealed_months=24, opened_months=12, extends_months=6,
            grade="memory",
        )
        set_policy(session, shop.actor(Role.KEEPER), shop.now, asked)
    assert end(shop, jar) == end(shop, oil)


def test_a_pouring_of_this_morning_takes_nothing_from_a_look_of_noon(shop: MixShop) -> None:
    oil = tin(shop)
    before = end(shop, oil)
    look(shop, oil, Found.SOUND)
    assert end(shop, pour(shop, oil, happened_at=shop.now - timedelta(hours=2))) == before
    shop.now += MINUTE
    assert end(shop, pour(shop, oil)) > before


def test_a_tin_brought_back_from_the_waste_is_looked_at_where_its_jar_was_found_bad_meanwhile(
    shop: MixShop,
) -> None:
    oil, other = tin(shop), tin(shop)
    jar = pour(shop, oil)
    shop.now += MINUTE
    thrown = [throw(shop, code) for code in (oil, other)]
    shop.now += MINUTE
    look(shop, jar, Found.GELLED)
    shop.now += MINUTE
    codes = [
        [one["code"] for one in taken_back(shop, movement)["findings"] if one["code"] == "same-stuff"]
        for movement in thrown
    ]
    assert codes == [["same-stuff"], []], "the other tin has nothing to do with that jar"
    with shop.database.reading() as session:
        owed = session.exec(select(Duty).where(col(Duty.done_at).is_(None))).all()
        assert [one.about_id for one in owed if "was found while" in one.sentence] == [
            container(session, oil).id
        ]


def throw(shop: MixShop, code: str) -> int:
    with shop.database.writing() as session:
        asked = DiscardAsked(once=once(), code=code, destination=Destination.WASTE_DRUM)
        return int(discard(session, shop.actor(Role.KEEPER), shop.now, asked).result["movement"])


def taken_back(shop: MixShop, movement: int) -> dict[str, Any]:
    with shop.database.writing() as session:
        asked = ReverseAsked(once=once(), movement_id=movement, reason="It was the wrong tin")
        return reverse(session, shop.actor(Role.KEEPER), shop.now, asked).result
