"""What is ordered is counted from the day after it is expected, once; a smaller plan never orders more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.life_facts import LifeFacts
from service.core.order_list import Bought, order_list
from service.core.plan_outlook import ShelfContainer, outlook
from service.core.plan_stock import plan_stock
from service.core.stock_levels import Step, stock_levels
from tests.plan_shop import TERM, TODAY, UNTIL, containers, day_needs, need, pack_sizes, policies, smaller

OIL = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=200, opened_days=45)
COMES = date(2026, 3, 9)


def ordered(
    number: int, amount: int, comes: date, policy: AgeingPolicy | None = OIL, material: int = 1
) -> ShelfContainer:
    facts = LifeFacts(received_on=comes, policy=policy)
    return ShelfContainer(-number, f"order {number}", material, amount, facts, comes=comes)


def test_it_is_there_the_day_after_it_is_expected_and_not_before() -> None:
    days = [COMES + timedelta(days=n) for n in (-1, 0, 1)]
    needs = [need(day, 5, job=n) for n, day in enumerate(days)]
    plan = plan_stock(needs, [ordered(1, 20, COMES)], TODAY)
    assert [one.missing for one in plan.covered] == [5, 5, 0]
    assert plan.covered[2].promises[0].code == "order 1"


def test_each_ordered_ounce_is_promised_once() -> None:
    day = COMES + timedelta(days=2)
    plan = plan_stock([need(day, 12), need(day, 12, job=2)], [ordered(1, 20, COMES)], TODAY)
    assert [one.missing for one in plan.covered] == [0, 4]


def test_it_dies_like_any_other_once_it_is_opened() -> None:
    first = COMES + timedelta(days=1)
    needs = [need(first, 5), need(first + timedelta(days=46), 5, job=2)]
    plan = plan_stock(needs, [ordered(1, 20, COMES)], TODAY)
    assert [one.missing for one in plan.covered] == [0, 5]


def test_where_nobody_knows_how_long_it_keeps_it_counts_for_the_day_it_is_opened() -> None:
    first = COMES + timedelta(days=9)
    needs = [need(first, 5), need(first, 5, job=2), need(first + timedelta(days=1), 5, job=3)]
    plan = plan_stock(needs, [ordered(1, 20, COMES, None)], TODAY)
    assert [one.missing for one in plan.covered] == [0, 0, 5]
    assert outlook(ordered(1, 20, COMES, None), TODAY).why_not == ""


def test_what_is_on_its_way_and_keeps_nobody_knows_how_long_covers_nothing_for_sure() -> None:
    day = COMES + timedelta(days=9)
    plan = plan_stock([need(day, 5), need(day, 5, job=2)], [ordered(1, 20, COMES, None)], TODAY)
    assert [(one.missing, one.sure) for one in plan.covered] == [(0, False), (0, False)]
    assert not plan.verdict.complete and "ordered-life-not-known" in plan.verdict.codes
    known = plan_stock([need(day, 5)], [ordered(1, 20, COMES)], TODAY)
    assert known.covered[0].sure and known.verdict.complete


def test_the_picture_shows_the_delivery_on_its_day() -> None:
    plan = plan_stock([need(COMES + timedelta(days=1), 5)], [ordered(1, 20, COMES)], TODAY)
    steps = stock_levels(plan, None, 1, TODAY, UNTIL)
    assert [(step.on, step.step, step.level) for step in steps[:3]] == [
        (TODAY, Step.START, 0),
        (COMES, Step.DELIVERY, 20),
        (COMES + timedelta(days=1), Step.JOB, 15),
    ]


@st.composite
def deliveries(draw: st.DrawFn) -> list[ShelfContainer]:
    comes = draw(st.lists(st.dates(TODAY, UNTIL), max_size=3))
    return [
        ordered(n, draw(st.integers(1, 40)), day, draw(policies()), draw(st.integers(1, 2)))
        for n, day in enumerate(comes, start=1)
    ]


@settings(max_examples=150)
@given(data=st.data(), shelf=containers(), coming=deliveries(), needs=day_needs(), sizes=pack_sizes())
def test_a_smaller_plan_never_orders_more(
    data: st.DataObject,
    shelf: list[ShelfContainer],
    coming: list[ShelfContainer],
    needs: list[object],
    sizes: list[object],
) -> None:
    policy = data.draw(policies())
    materials = [Bought(n, f"material {n}", None, policy, tuple(sizes)) for n in (1, 2)]  # type: ignore[arg-type]
    fewer = data.draw(smaller(needs))  # type: ignore[arg-type]

    def amounts(wanted: list[object]) -> dict[int, int]:
        plan = plan_stock(wanted, [*shelf, *coming], TODAY)  # type: ignore[arg-type]
        taken: dict[int, int] = {}
        for one in plan.covered:
            for promise in one.promises:
                taken[promise.container_id] = taken.get(promise.container_id, 0) + promise.amount
        free = {c.container_id: c.free for c in [*shelf, *coming]}
        assert all(amount <= free[number] for number, amount in taken.items())
        return {one.material_id: one.amount for one in order_list(plan, materials, TERM, TODAY).orders}

    whole = amounts(needs)
    for number, amount in amounts(fewer).items():
        assert amount <= whole.get(number, 0)


def test_what_comes_never_covers_a_day_before_it() -> None:
    box = ordered(1, 20, COMES)
    assert not outlook(box, TODAY).usable_on(COMES)
    assert outlook(replace(box, comes=TODAY), TODAY).usable_on(TODAY + timedelta(days=1))
