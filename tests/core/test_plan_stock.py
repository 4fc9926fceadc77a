"""Planned jobs and the shelf: in date on the day of use, each ounce once, a smaller plan short of no more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import AmountKnown, Condition, ContainerState, Standing
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import ShelfContainer, after_opening, outlook
from service.core.plan_stock import StockPlan, plan_stock
from tests.plan_shop import CODES, TODAY, containers, day_needs, need, smaller

USABLE = (Standing.IN_DATE, Standing.LOOK_FIRST)
FOREVER = AgeingPolicy(PolicyEnd.INDEFINITE)


def tin(number: int, amount: int | None, ends: date | None = None, **more: object) -> ShelfContainer:
    facts = LifeFacts(received_on=TODAY, printed_date=ends, policy=FOREVER)
    made = ShelfContainer(number, CODES[number], 1, amount, facts)
    return replace(made, **more)  # type: ignore[arg-type]


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def promised(plan: StockPlan) -> list[list[tuple[int, int]]]:
    return [[(p.container_id, p.amount) for p in one.promises] for one in plan.covered]


def openings(plan: StockPlan) -> dict[int, date]:
    """The day on which the plan first takes from each container."""
    first: dict[int, date] = {}
    for one in plan.covered:
        for promise in one.promises:
            first.setdefault(promise.container_id, one.need.on)
    return first


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs())
def test_every_promise_is_in_date_on_its_day_and_made_once(
    shelf: list[ShelfContainer], needs: list[DayNeed]
) -> None:
    plan = plan_stock(needs, shelf, TODAY)
    by_number = {one.container_id: one for one in shelf}
    opened, given_away = openings(plan), dict.fromkeys(by_number, 0)
    assert sorted(map(repr, needs)) == sorted(repr(one.need) for one in plan.covered)
    for one in plan.covered:
        assert one.missing is not None
        assert sum(p.amount for p in one.promises) + one.missing == one.need.high
        for promise in one.promises:
            held = by_number[promise.container_id]
            assert held.material_id == one.need.material_id and promise.amount > 0
            assert held.condition is not Condition.LEAKING and not held.handed_out
            facts = held.facts
            if not facts.is_open and opened[held.container_id] < one.need.on:
                facts = replace(facts, opened=True, opened_on=opened[held.container_id])
            standing = judge(facts, one.need.on).standing
            assert standing in USABLE
            assert promise.look_first or standing is Standing.IN_DATE
            given_away[held.container_id] += promise.amount
    for number, amount in given_away.items():
        held = by_number[number]
        assert amount == 0 or amount <= (held.amount or 0) - held.promised


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs(), data=st.data())
def test_a_smaller_plan_is_never_short_of_more_on_any_day(
    shelf: list[ShelfContainer], needs: list[DayNeed], data: st.DataObject
) -> None:
    whole = plan_stock(needs, shelf, TODAY)
    less = plan_stock(data.draw(smaller(needs)), shelf, TODAY)
    for material in (1, 2):
        before = whole.shortages(material)
        for when, missing in less.shortages(material).items():
            assert missing <= before.get(when, 0)


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs(), data=st.data())
def test_more_on_the_shelf_never_makes_more_short(
    shelf: list[ShelfContainer], needs: list[DayNeed], data: st.DataObject
) -> None:
    fewer = [one for one in shelf if data.draw(st.booleans())]
    for material in (1, 2):
        short = sum(plan_stock(needs, fewer, TODAY).shortages(material).values())
        assert sum(plan_stock(needs, shelf, TODAY).shortages(material).values()) <= short


def test_what_goes_soonest_is_taken_first_and_an_earlier_job_before_a_later_one() -> None:
    late, soon = tin(0, 300, day(90)), tin(1, 200, day(20))
    plan = plan_stock([need(day(10), 250, job=2), need(day(5), 100, job=9)], [late, soon], TODAY)
    assert [one.need.job for one in plan.covered] == [9, 2]
    assert promised(plan) == [[(1, 100)], [(1, 100), (0, 150)]]


def test_the_date_itself_counts_and_the_day_after_does_not() -> None:
    plan = plan_stock([need(day(20), 50), need(day(21), 50)], [tin(0, 500, day(20))], TODAY)
    assert [one.missing for one in plan.covered] == [0, 50]


def test_a_sealed_tin_lives_its_opened_life_from_the_job_that_opens_it() -> None:
    oil = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=300, opened_days=10)
    can = replace(tin(0, 500), facts=LifeFacts(packed_on=TODAY, policy=oil))
    plan = plan_stock([need(day(n), 50) for n in (30, 40, 41)], [can], TODAY)
    assert [one.missing for one in plan.covered] == [0, 0, 50]
    assert [[p.opens for p in one.promises] for one in plan.covered] == [[True], [False], []]
    assert plan.left[0].opened_on == day(30) and plan.left[0].left == 400


def test_without_a_figure_for_it_once_opened_it_counts_for_that_day_alone() -> None:
    oil = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=300)
    can = replace(tin(0, 500), facts=LifeFacts(packed_on=TODAY, policy=oil))
    plan = plan_stock([need(day(30), 50), need(day(30), 60), need(day(31), 50)], [can], TODAY)
    assert [one.missing for one in plan.covered] == [0, 0, 50]


NEVER = {
    "no policy": {"facts": LifeFacts(packed_on=TODAY)},
    "open, nobody knows since when": {"state": ContainerState.OPEN},
    "amount not known": {"amount_known": AmountKnown.NOT_KNOWN},
    "no amount": {"amount": None},
    "leaks": {"condition": Condition.LEAKING},
    "handed out": {"handed_out": True},
    "gone": {"state": ContainerState.GONE},
    "past": {"facts": LifeFacts(received_on=TODAY, printed_date=day(-1), policy=FOREVER)},
    "all of it promised": {"promised": 900},
    "a check from tomorrow": {
        "facts": LifeFacts(
            received_on=TODAY, policy=FOREVER, checks=(ConditionCheck(day(1), CheckOutcome.FAILED),)
        )
    },
}


@pytest.mark.parametrize("more", NEVER.values(), ids=NEVER)
def test_what_is_never_planned_with(more: dict[str, object]) -> None:
    changed = replace(tin(0, 500), **more)  # type: ignore[arg-type]
    assert promised(plan_stock([need(day(1), 5)], [changed], TODAY)) == [[]]
    assert promised(plan_stock([need(day(1), 5)], [tin(0, 500)], TODAY)) == [[(0, 5)]]


def test_what_is_left_out_is_named_and_what_is_to_be_read_first_is_said() -> None:
    shelf = [
        tin(0, 10, keeper_only=True, amount_known=AmountKnown.ESTIMATED, condition=Condition.DAMAGED),
        tin(1, 10, day(2)),
        tin(2, 10, facts=LifeFacts()),
    ]
    plan = plan_stock([need(day(2), 25)], shelf, TODAY)
    codes = [(f.code, f.about) for f in plan.verdict]
    assert ("not-planned-with", CODES[2]) in codes and ("look-first", CODES[1]) in codes
    assert {("keeper-only", CODES[0]), ("amount-estimated", CODES[0]), ("damaged", CODES[0])} <= set(codes)
    assert ("short", "material 1") in codes and plan.verdict.blocking


def test_after_a_need_nobody_knows_nothing_is_sure() -> None:
    plan = plan_stock([need(day(1), 5), need(day(2), None, job=2), need(day(3), 5)], [tin(0, 500)], TODAY)
    assert [(one.missing, one.sure) for one in plan.covered] == [(0, True), (None, False), (0, False)]
    assert not plan.verdict.complete


def test_a_day_that_is_gone_takes_nothing_and_is_named() -> None:
    plan = plan_stock([need(day(-1), 5, job=3), need(day(0), 5)], [tin(0, 5)], TODAY)
    assert [one.job for one in plan.gone] == [3] and promised(plan) == [[(0, 5)]]
    assert "plan-day-gone" in plan.verdict.codes


@given(shelf=containers(most=3), ahead=st.integers(0, 150), later=st.integers(0, 60))
def test_the_outlook_says_what_the_dates_say(shelf: list[ShelfContainer], ahead: int, later: int) -> None:
    for one in shelf:
        seen = outlook(one, TODAY)
        if seen.why_not:
            continue
        assert seen.usable_on(day(ahead)) == (judge(one.facts, day(ahead)).standing in USABLE)
        if seen.usable_on(day(ahead)) and not one.facts.is_open:
            facts = replace(one.facts, opened=True, opened_on=day(ahead))
            then = after_opening(one, day(ahead)).usable_on(day(ahead + later))
            assert then == (judge(facts, day(ahead + later)).standing in USABLE) or (later == 0 and then)


def test_what_a_check_doubts_is_not_planned_with() -> None:
    """A tin found thickened may turn out unfit when it is tried: nothing rests on it."""
    doubt = ConditionCheck(TODAY, CheckOutcome.DOUBTED, "thickened")
    facts = LifeFacts(received_on=TODAY, policy=FOREVER, checks=(doubt,))
    plan = plan_stock([need(day(3), 100)], [tin(1, 500, facts=facts)], TODAY)
    assert promised(plan) == [[]] and plan.covered[0].missing == 100
    told = [f.sentence for f in plan.verdict if f.code == "not-planned-with"]
    assert len(told) == 1 and "was found: thickened, and must be tried first" in told[0]
    passed = ConditionCheck(TODAY, CheckOutcome.PASSED, "sound")
    sound = replace(facts, checks=(doubt, passed))
    assert plan_stock([need(day(3), 100)], [tin(1, 500, facts=sound)], TODAY).covered[0].missing == 0
