"""What is on its way is what was ordered less what came, by amount; what came beside it is counted once."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import col, select

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.count_stock import CountAsked, count
from service.actions.place_order import LineAsked, LineChange, OrderAsked, change_line, place_order
from service.actions.receive_stock import receive
from service.actions.what_is_coming import about_beside
from service.records.engine import Database
from service.records.order_queries import the_line
from service.records.orders import LineState
from service.records.stock import Container
from service.web.finding_links import links_of
from service.web.term_view import on_its_way
from tests.actions.test_order_arrivals import stands, take_back, take_in
from tests.actions.test_plan_tells import said
from tests.actions.test_plan_unsettled import missing, wash
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY
from tests.store_builders import once

DAY = TODAY + timedelta(days=12)
COMES = TODAY + timedelta(days=6)
EARLIER = TODAY - timedelta(days=2)


@pytest.fixture
def planned(database: Database) -> Planned:
    return make_planned(database)


def coming(planned: Planned) -> int:
    return on_its_way(planned.look(), planned.mix.ids["spirit"])


def ordered(planned: Planned, count: int, amount: str = "1 l") -> int:
    return planned.order(planned.pack("spirit", amount), count, COMES)


def plainly(planned: Planned, amount: str = "1 l", **more: Any) -> list[dict[str, str]]:
    """Taken in by the plain form; what was said of it."""
    asked = ReceiveAsked(
        **{"once": once(), "material_id": planned.mix.ids["spirit"], "amount": amount, "packed_on": TODAY}
        | more
    )
    with planned.mix.database.writing() as session:
        done = receive(session, planned.mix.actor(), planned.mix.now, asked, once)
        found: list[dict[str, str]] = done.result["findings"]
        return found


def test_a_can_of_two_litres_is_both_packs_of_one_litre(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "2.9 l")))
    line = ordered(planned, 2)
    (entry,) = take_in(planned, line, "two", 1, "2 l")
    assert coming(planned) == 0 and missing(planned, DAY) == 900_000
    assert stands(planned, line)[2] is LineState.RECEIVED
    take_back(planned, entry)
    assert stands(planned, line)[2] is LineState.OPEN and coming(planned) == 2_000_000


def test_a_can_and_a_half_leaves_half_a_pack(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "3 l")))
    line = ordered(planned, 2)
    take_in(planned, line, "one and a half", 1, "1.5 l")
    assert coming(planned) == 500_000 and missing(planned, DAY) == 1_000_000
    assert stands(planned, line)[2] is LineState.OPEN


def test_what_a_pack_lacked_does_not_come_by_itself(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "3 l")))
    line = ordered(planned, 3)
    take_in(planned, line, "half", 1, "500 ml")
    assert coming(planned) == 2_000_000 and missing(planned, DAY) == 500_000


def test_what_came_beside_an_order_is_said_and_only_one_of_both_counts(planned: Planned) -> None:
    job_takes = wash(planned, ("spirit", "1.9 l"))
    planned.job(DAY, recipe_id=job_takes)
    ordered(planned, 1)
    assert missing(planned, DAY) == 900_000
    told = [one for one in plainly(planned) if one["code"] == "order-on-its-way"]
    assert told and "1 × 1 l of order" in told[0]["sentence"] and "Nothing more" in told[0]["sentence"]
    assert missing(planned, DAY) == 900_000, "the litre is here, and not once more on its way"
    (sentence,) = said(planned, "may-be-here-already")
    look = planned.look()
    assert "only one of both is counted" in sentence and not look.verdict.complete
    (found,) = [one for one in look.verdict if one.code == "may-be-here-already"]
    assert links_of(look)(found) == ("/orders/1", "To order 1")


def settle_line(planned: Planned, line: int, state: LineState) -> None:
    planned.mix.now += timedelta(minutes=5)
    with planned.mix.database.reading() as session:
        row = the_line(session, line)
        version, expected = row.version, row.expected_on
    asked = LineChange(once=once(), line_id=line, version=version, state=state, expected_on=expected)
    planned.act(change_line, asked)


@pytest.mark.parametrize(("state", "left"), [(LineState.NO_MORE, 900_000), (LineState.OPEN, 0)])
def test_it_is_settled_by_a_word_about_the_line(planned: Planned, state: LineState, left: int) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    line = ordered(planned, 1)
    planned.mix.now += timedelta(minutes=5)
    plainly(planned)
    settle_line(planned, line, state)
    assert missing(planned, DAY) == left and said(planned, "may-be-here-already") == []


def test_a_can_of_the_day_may_be_of_the_order_written_after_it(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    plainly(planned)
    planned.mix.now += timedelta(minutes=5)
    line = ordered(planned, 1)
    assert missing(planned, DAY) == 900_000 and not planned.look().verdict.complete
    (sentence,) = said(planned, "may-be-here-already")
    assert "was taken in without an order, and may be of what is on its way" in sentence
    settle_line(planned, line, LineState.OPEN)
    assert missing(planned, DAY) == 0 and said(planned, "may-be-here-already") == []


def test_a_can_of_the_day_that_is_the_order_of_that_day_counts_once(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    plainly(planned)
    planned.mix.now += timedelta(minutes=5)
    settle_line(planned, ordered(planned, 1), LineState.NO_MORE)
    assert missing(planned, DAY) == 900_000 and said(planned, "may-be-here-already") == []


def test_what_came_before_the_order_or_stood_there_is_not_of_it(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    plainly(planned)
    planned.mix.now += timedelta(days=1)
    ordered(planned, 1)
    assert missing(planned, DAY) == 0
    planned.mix.now += timedelta(minutes=5)
    found = plainly(planned, "200 ml", packed_on=EARLIER, received_on=EARLIER)
    assert any(one["code"] == "order-on-its-way" for one in found)
    assert said(planned, "may-be-here-already") == []


def test_an_amount_nobody_knows_takes_off_a_pack(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    ordered(planned, 2)
    plainly(planned, "")
    assert missing(planned, DAY) == 900_000 and coming(planned) == 1_000_000


def test_an_order_written_down_after_its_can_came_counts_once(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    plainly(planned)
    planned.mix.now += timedelta(minutes=5)
    pack = planned.pack("spirit", "1 l")
    placed = OrderAsked(once=once(), lines=(LineAsked(pack, 1, COMES),), placed_on=EARLIER, again=True)
    line = int(planned.act(place_order, placed)["lines"][0])
    assert missing(planned, DAY) == 900_000 and not planned.look().verdict.complete
    assert len(said(planned, "may-be-here-already")) == 1
    settle_line(planned, line, LineState.OPEN)
    assert missing(planned, DAY) == 0 and said(planned, "may-be-here-already") == []


def test_a_can_found_standing_there_while_an_order_is_open_counts_once(planned: Planned) -> None:
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1.9 l")))
    plainly(planned, origin=Origin.STOCK_TAKE, packed_on=EARLIER)
    planned.mix.now += timedelta(minutes=5)
    line = ordered(planned, 1)
    assert missing(planned, DAY) == 0 and said(planned, "may-be-here-already") == [], "it stood there before"
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "1 l"), name="Rinse"))
    planned.mix.now += timedelta(minutes=5)
    found = plainly(planned, origin=Origin.STOCK_TAKE, packed_on=EARLIER)
    assert any(one["code"] == "order-on-its-way" for one in found)
    assert missing(planned, DAY) == 900_000 and len(said(planned, "may-be-here-already")) == 1
    settle_line(planned, line, LineState.OPEN)
    assert missing(planned, DAY) == 0 and said(planned, "may-be-here-already") == []


def test_what_is_expected_while_the_school_is_closed_counts_from_the_next_open_day(planned: Planned) -> None:
    monday = TODAY + timedelta(days=14 - TODAY.weekday())
    pack = planned.pack("spirit", "1 l", lead_days=2)
    planned.job(monday, recipe_id=wash(planned))
    planned.job(monday + timedelta(days=1), recipe_id=wash(planned))
    planned.order(pack, 1, monday - timedelta(days=1))
    assert planned.short("spirit") == {monday: 300_000}, "nobody takes in a can on a Sunday"
    (sentence,) = said(planned, "order-on-closed-day")
    assert "is expected on" in sentence and "the school is closed (Sunday)" in sentence


def test_an_order_written_after_its_can_came_is_asked_about_when_it_is_written(planned: Planned) -> None:
    """The day it was placed is left at today: the plan counts both, so the question comes with the order."""
    pack = planned.pack("spirit", "1 l", lead_days=2)
    plainly(planned, received_on=TODAY)
    planned.mix.now += timedelta(days=1)
    lines = (LineAsked(pack, 1, TODAY + timedelta(days=5)),)
    asked = OrderAsked(once=once(), lines=lines, term_id=planned.term)
    told = planned.act(place_order, asked)["findings"]
    (found,) = [one for one in told if one["code"] == "came-lately"]
    assert "came without an order not long ago" in found["sentence"]
    planned.mix.now += timedelta(days=30)
    again = OrderAsked(
        once=once(), lines=(LineAsked(pack, 1, TODAY + timedelta(days=40)),), term_id=planned.term, again=True
    )
    assert "came-lately" not in {one["code"] for one in planned.act(place_order, again)["findings"]}


def test_another_day_for_an_order_says_that_the_can_beside_it_is_not_of_it(planned: Planned) -> None:
    line = ordered(planned, 1)
    planned.mix.now += timedelta(minutes=1)
    plainly(planned)
    planned.mix.now += timedelta(minutes=1)
    with planned.mix.database.reading() as session:
        (before,) = about_beside(session, the_line(session, line))
        version = the_line(session, line).version
    assert "may be of this line" in before.sentence and "both count" in before.sentence
    other = COMES + timedelta(days=1)
    change = LineChange(
        once=once(), line_id=line, version=version, state=LineState.OPEN, expected_on=other
    )
    told = planned.act(change_line, change)["findings"]
    assert "counted-beside" in {one["code"] for one in told}
    with planned.mix.database.reading() as session:
        assert about_beside(session, the_line(session, line)) == []


@pytest.mark.parametrize(("amount", "counts"), [("", "3 l"), ("1 l", "3 l")])
def test_a_count_of_what_came_is_credited_to_its_order(planned: Planned, amount: str, counts: str) -> None:
    """Three packs of a litre were ordered, one can came and holds all of it: nothing is on its way."""
    planned.job(DAY, recipe_id=wash(planned, ("spirit", "5 l")))
    line = ordered(planned, 3)
    take_in(planned, line, "three", 1, amount)
    with planned.mix.database.writing() as session:
        [box] = session.exec(select(Container).where(col(Container.order_line_id) == line)).all()
        asked = CountAsked(once=once(), code=box.code, amount=counts, more_than_book=True)
        count(session, planned.mix.actor(), planned.mix.now, asked)
    assert coming(planned) == 0 and missing(planned, DAY) == 2_000_000
