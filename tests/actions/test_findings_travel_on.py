"""More ways on: a pouring taken back before anybody looked, and what is written late between."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from service.core.conditions import Found
from service.core.containers import Standing
from service.records.engine import Database
from tests.actions.test_findings_travel_back import (
    brought_back,
    days,
    found,
    later,
    taken,
    tin,
    undo_pouring,
)
from tests.builders import TODAY
from tests.jar_acts import LATE, TRIED, ends, oil_shop, pour, stands
from tests.mixing_shop import MixShop
from tests.store_builders import holds

IN, FIRST, PAST = Standing.IN_DATE, Standing.LOOK_FIRST, Standing.PAST
OLD: dict[str, Any] = {
    "packed_on": TODAY - days(400), "received_on": TODAY - days(390), "opened_on": TODAY - days(380),
}  # fmt: skip


@pytest.fixture
def shop(database: Database) -> MixShop:
    return oil_shop(database)


def test_what_is_found_late_of_a_jar_whose_pouring_was_taken_back_stands_with_the_tin(shop: MixShop) -> None:
    oil = tin(shop)
    before = pour(shop, oil)
    jar = pour(shop, oil, happened_at=shop.now - days(2))
    shop.now += days(1)
    undo_pouring(shop, jar)
    after = pour(shop, oil)
    found(shop, jar, Found.GELLED, happened_at=shop.now - days(2))
    assert later(shop, oil, before, after) == [FIRST, IN, FIRST]
    holds(shop.database)


def test_what_is_found_in_a_jar_after_a_top_up_was_taken_back_stands_with_where_it_came_from(
    shop: MixShop,
) -> None:
    oil = tin(shop)
    other = pour(shop, tin(shop), amount="300 ml")
    pour(shop, oil, into=other)
    shop.now += timedelta(hours=1)
    undo_pouring(shop, other)
    found(shop, other, Found.THICKENED)
    assert later(shop, oil, other) == [FIRST, FIRST]


def test_a_return_written_late_takes_the_look_from_the_jars_filled_since(shop: MixShop) -> None:
    oil = tin(shop)
    found(shop, oil, Found.THICKENED, happened_at=shop.now - days(1))
    taken(shop, oil, looked=True)
    found(shop, oil, Found.SOUND, TRIED)
    shop.now += timedelta(hours=1)
    jar = pour(shop, oil)
    again = pour(shop, jar, amount="20 ml")
    assert later(shop, oil, jar, again) == [IN, IN, IN]
    brought_back(shop, oil, happened_at=shop.now - timedelta(minutes=40), late_reason=LATE)
    assert later(shop, oil, jar, again) == [FIRST, FIRST, FIRST]
    found(shop, jar, Found.SOUND, TRIED)
    assert stands(shop, jar) is IN
    holds(shop.database)


def test_a_pouring_written_late_takes_the_look_from_the_jars_filled_since(shop: MixShop) -> None:
    oil = tin(shop, opened_on=TODAY - days(30))
    other = tin(shop, opened_on=TODAY - days(30))
    found(shop, oil, Found.THICKENED, happened_at=shop.now - days(9))
    found(shop, oil, Found.SOUND, TRIED, happened_at=shop.now - days(8))
    jar = pour(shop, oil)
    assert stands(shop, jar) is IN
    shop.now += days(1)
    pour(shop, other, into=oil, happened_at=shop.now - days(4))
    assert later(shop, oil, jar) == [FIRST, FIRST]


def test_a_jar_of_a_jar_keeps_a_look_that_was_made_of_all_of_it(shop: MixShop) -> None:
    oil = tin(shop, **OLD)
    before = ends(shop, oil)
    found(shop, oil, Found.SOUND)
    jar = pour(shop, oil)
    again = pour(shop, jar, amount="20 ml")
    pour(shop, again, into=jar, amount="10 ml")
    assert before is not None
    assert [ends(shop, code) for code in (jar, again)] == [ends(shop, oil)] * 2 != [before] * 2


def test_what_was_back_before_the_look_was_looked_at_though_it_is_written_later(shop: MixShop) -> None:
    oil = tin(shop)
    taken(shop, oil)
    shop.now += timedelta(hours=2)
    found(shop, oil, Found.THICKENED)
    found(shop, oil, Found.SOUND, TRIED)
    brought_back(shop, oil, happened_at=shop.now - timedelta(hours=1), late_reason=LATE)
    assert stands(shop, oil) is IN
    holds(shop.database)
