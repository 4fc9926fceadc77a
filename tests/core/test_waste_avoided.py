"""What dies before the term ends, who could take it, and the line of what is on the shelf."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.life_facts import LifeFacts
from service.core.plan_needs import MINIMUM, DayNeed
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import plan_stock
from service.core.stock_levels import Step, stock_levels
from service.core.waste_avoided import Rescue, dies_unused
from tests.plan_shop import CODES, TODAY, UNTIL, containers, day_needs, need

FOREVER = AgeingPolicy(PolicyEnd.INDEFINITE)


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def tin(number: int, amount: int, ends: date | None = None) -> ShelfContainer:
    facts = LifeFacts(received_on=TODAY, printed_date=ends, policy=FOREVER)
    return ShelfContainer(number, CODES[number], 1, amount, facts)


def test_a_later_job_could_be_brought_forward_and_take_it() -> None:
    plan = plan_stock(
        [need(day(5), 100, job=1), need(day(40), 250, job=2), need(day(60), 400, job=3)],
        [tin(0, 600, day(20)), tin(1, 100, day(30)), tin(2, 900)],
        TODAY,
    )
    first, second = dies_unused(plan, UNTIL)
    assert (first.code, first.amount, first.last_day, first.rescue) == (
        CODES[0], 500, day(20), Rescue.BRING_FORWARD,
    )  # fmt: skip
    assert [(one.job, one.amount) for one in first.takers] == [(2, 250), (3, 250)]
    assert [(one.job, one.amount) for one in second.takers] == [(3, 100)]


def test_nothing_dies_that_is_used_up_or_lasts_the_term() -> None:
    plan = plan_stock([need(day(5), 100)], [tin(0, 100, day(20)), tin(1, 50, UNTIL), tin(2, 50)], TODAY)
    assert dies_unused(plan, UNTIL) == ()


def test_what_nobody_knows_the_age_of_could_cover_a_shortage_after_a_look() -> None:
    doubtful = replace(tin(0, 300), facts=LifeFacts())
    plan = plan_stock([need(day(5), 100), need(day(9), 500, job=2)], [doubtful, tin(1, 150)], TODAY)
    (one,) = dies_unused(plan, UNTIL)
    assert one.rescue is Rescue.LOOK and one.last_day is None
    assert [(taker.job, taker.amount) for taker in one.takers] == [(2, 300)]


def test_what_is_past_is_no_waste_to_avoid_any_more_and_the_shelf_takes_nothing() -> None:
    least = replace(need(UNTIL, 100), job=MINIMUM)
    plan = plan_stock([least], [tin(0, 300, day(-1)), tin(1, 70, day(9))], TODAY)
    assert [(one.code, one.takers, one.rescue) for one in dies_unused(plan, UNTIL)] == [
        (CODES[1], (), Rescue.NO_JOB)
    ]


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs(), until=st.dates(TODAY, UNTIL))
def test_no_job_is_offered_more_than_it_needs_and_nothing_is_offered_twice(
    shelf: list[ShelfContainer], needs: list[DayNeed], until: date
) -> None:
    plan = plan_stock(needs, shelf, TODAY)
    offered: dict[tuple[int, Rescue], int] = {}
    for one in dies_unused(plan, until):
        assert sum(taker.amount for taker in one.takers) <= one.amount
        for taker in one.takers:
            assert one.last_day is None or one.last_day < taker.on
            key = (taker.job, one.rescue)
            offered[key] = offered.get(key, 0) + taker.amount
    by_job = {one.need.job: one for one in plan.covered}
    for (job, rescue), amount in offered.items():
        most = by_job[job].missing if rescue is Rescue.LOOK else by_job[job].need.high
        assert most is not None and amount <= most


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs())
def test_the_line_begins_with_all_that_may_be_planned_and_never_falls_below_nothing(
    shelf: list[ShelfContainer], needs: list[DayNeed]
) -> None:
    plan = plan_stock(needs, shelf, TODAY)
    for material in (1, 2):
        steps = stock_levels(plan, None, material, TODAY, UNTIL)
        assert steps[0].step is Step.START and min(step.level for step in steps) >= 0
        kept = [one for one in plan.left if one.container.material_id == material and not one.outlook.why_not]
        assert steps[0].level == sum(one.container.free for one in kept)
        alive = [one for one in kept if one.outlook.usable_on(UNTIL)]
        assert steps[-1].level == sum(one.left or 0 for one in alive)


def test_on_one_day_what_died_is_gone_before_a_job_takes() -> None:
    plan = plan_stock([need(day(21), 40)], [tin(0, 30, day(20)), tin(1, 60)], TODAY)
    steps = stock_levels(plan, None, 1, TODAY, UNTIL)
    assert [(one.step, one.on, one.level) for one in steps] == [
        (Step.START, TODAY, 90), (Step.DIES, day(21), 60), (Step.JOB, day(21), 20),
    ]  # fmt: skip
