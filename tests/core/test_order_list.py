"""The order list: with what is on the shelf it covers every day, and a smaller plan never orders more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.life_facts import LifeFacts
from service.core.materials import Basis
from service.core.months import say_days
from service.core.order_dates import arrive_by, comes_on, order_by
from service.core.order_list import Bought, MaterialOrder, OrderList, minimum_needs, order_list
from service.core.pack_choice import PackSize
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import StockPlan, plan_stock
from service.core.school_calendar import FreeDays, SchoolCalendar, why_closed
from service.core.stock_levels import Step, first_below, stock_levels, unsure_from
from tests.plan_shop import TERM, TODAY, UNTIL, containers, day_needs, need, pack_sizes, policies, smaller

OIL = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=400, opened_days=60)
SIZES = (PackSize(1, 250, Decimal(4), "A", 3), PackSize(2, 1000, Decimal(9), "A", 3))


def oil(**more: object) -> Bought:
    return replace(Bought(1, "oil", Basis.VOLUME, OIL, SIZES), **more)  # type: ignore[arg-type]


def day(n: int) -> date:
    return TODAY + timedelta(days=n)


def bought(minimums: st.SearchStrategy[int]) -> st.SearchStrategy[list[Bought]]:
    return st.tuples(*(
        st.builds(
            Bought, st.just(n), st.just(f"material {n}"), st.just(Basis.VOLUME), policies(),
            pack_sizes().map(tuple), minimums,
        )
        for n in (1, 2)
    )).map(list)  # fmt: skip


def ordered(plan: StockPlan, materials: list[Bought]) -> OrderList:
    return order_list(plan, materials, TERM, TODAY)


def amounts(made: OrderList) -> dict[int, int]:
    return {one.material_id: one.amount for one in made.orders}


def pack_in_date(policy: AgeingPolicy | None, came: date, opened: date, on: date) -> bool:
    """By the rules of ageing alone; the day it is opened always counts, as it is bought for that day."""
    usable = (Standing.IN_DATE, Standing.LOOK_FIRST)
    facts = LifeFacts(received_on=came, opened=True, opened_on=opened, policy=policy)
    # Not known while it was sealed: then it counts for no day after its opening.
    sealed = judge(LifeFacts(received_on=came, policy=policy), opened).standing
    return on == opened or (sealed in usable and judge(facts, on).standing in usable)


def covered_by(order: MaterialOrder, short: dict[date, int], policy: AgeingPolicy | None) -> None:
    """Uses the packs up day by day; every shortage is met out of packs that came before and are in date."""
    came = {
        line.pack: [other.arrive for other in order.lines if other.pack == line.pack] for line in order.lines
    }
    waiting, in_use, kept = list(order.opened), [], 0
    for when, missing in sorted(short.items()):
        while missing:
            able = [
                one for one in in_use
                if one[0] and any(
                    c <= one[2] and pack_in_date(policy, c, one[2], when) for c in came[one[1].pack]
                )
            ]  # fmt: skip
            if not able:
                group = waiting.pop(0)
                assert group.opens_on == when
                in_use.append([group.pack.amount * group.count, group, when])
                continue
            taken = min(able[0][0], missing)
            able[0][0], missing, kept = able[0][0] - taken, missing - taken, kept + taken
    assert not waiting
    assert kept == order.short == order.amount - sum(line.left for line in order.lines)


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs(), materials=bought(st.sampled_from([0, 0, 15])))
def test_shelf_and_order_cover_every_day(
    shelf: list[ShelfContainer], needs: list[DayNeed], materials: list[Bought]
) -> None:
    plan = plan_stock([*needs, *minimum_needs(materials, UNTIL)], shelf, TODAY)
    made = ordered(plan, materials)
    by_number = {one.material_id: one for one in made.orders}
    for one in materials:
        short = plan.shortages(one.material_id)
        assert bool(short) == (one.material_id in by_number)
        if not short:
            continue
        order = by_number[one.material_id]
        assert order.chosen and order.complete
        covered_by(order, short, one.policy)
        for line in order.lines:
            assert (
                line.count
                == sum(
                    group.count
                    for group in order.opened
                    if group.pack == line.pack and line.first_use <= group.opens_on <= line.last_use
                )
                or len([other for other in order.lines if other.pack == line.pack]) > 1
            )
            assert line.arrive >= TODAY
            assert line.arrive < line.first_use or line.arrive == TODAY
            assert (line.order_by is None) == (line.pack.lead_days is None)
        steps = stock_levels(plan, order, one.material_id, TODAY, UNTIL)
        assert min(step.level for step in steps) >= 0
        assert steps[-1].level >= one.minimum


@settings(max_examples=60)
@given(shelf=containers(), needs=day_needs(), materials=bought(st.sampled_from([0, 15])), data=st.data())
def test_a_smaller_plan_never_orders_more(
    shelf: list[ShelfContainer], needs: list[DayNeed], materials: list[Bought], data: st.DataObject
) -> None:
    least = minimum_needs(materials, UNTIL)
    whole = amounts(ordered(plan_stock([*needs, *least], shelf, TODAY), materials))
    fewer = data.draw(smaller(needs))
    for number, amount in amounts(ordered(plan_stock([*fewer, *least], shelf, TODAY), materials)).items():
        assert amount <= whole.get(number, 0)


def test_needs_of_a_material_are_one_order_with_its_dates_and_its_cost() -> None:
    plan = plan_stock([need(day(21), 600), need(day(28), 500)], [], TODAY)
    (order,) = ordered(plan, [oil()]).orders
    assert [(line.pack.pack_id, line.count) for line in order.lines] == [(1, 1), (2, 1)]
    assert {line.arrive for line in order.lines} == {date(2026, 3, 6)}
    assert {line.order_by for line in order.lines} == {date(2026, 3, 3)}
    made = ordered(plan, [oil()])
    assert made.cost.exact == 13 and not made.cost.at_least and made.verdict.complete


def test_what_does_not_keep_until_its_use_comes_in_a_second_delivery() -> None:
    size = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=30, opened_days=5)
    plan = plan_stock([need(day(7), 200), need(day(70), 200)], [], TODAY)
    (order,) = ordered(plan, [oil(policy=size)]).orders
    assert [(line.first_use, line.count, line.left) for line in order.lines] == [
        (day(7), 1, 50), (day(70), 1, 50),
    ]  # fmt: skip


def test_a_minimum_is_left_on_the_shelf_and_the_day_it_is_missed_is_known() -> None:
    least = [oil(minimum=300, policy=AgeingPolicy(PolicyEnd.INDEFINITE))]
    plan = plan_stock([need(day(7), 200), *minimum_needs(least, UNTIL)], [], TODAY)
    (order,) = ordered(plan, least).orders
    assert order.amount == 500 and order.short == 500
    without = stock_levels(plan, None, 1, TODAY, UNTIL)
    assert first_below(without, 300) == TODAY
    steps = stock_levels(plan, order, 1, TODAY, UNTIL)
    assert [(one.step, one.change) for one in steps if one.change] == [
        (Step.DELIVERY, 500), (Step.JOB, -200),
    ]  # fmt: skip


def test_what_another_plan_lacks_is_not_taken_from_what_this_one_buys() -> None:
    needs = [need(day(7), 200, job=1), need(day(8), 900, job=2)]
    (order,) = ordered(plan_stock(needs[:1], [], TODAY), [oil()]).orders
    steps = stock_levels(plan_stock(needs, [], TODAY), order, 1, TODAY, UNTIL, {1})
    assert [one.level for one in steps][:3] == [0, 250, 50]
    assert min(one.level for one in steps) >= 0


def test_from_when_a_level_is_not_sure() -> None:
    known, open_ended, later = need(day(7), 200), need(day(14), None, job=2), need(day(20), 1, material=2)
    assert unsure_from(plan_stock([known, later], [], TODAY), 1, TODAY) is None
    assert unsure_from(plan_stock([known, open_ended, later], [], TODAY), 1, TODAY) == day(14)
    assert unsure_from(plan_stock([known, open_ended, later], [], TODAY), 2, TODAY) is None
    gone = plan_stock([need(day(-1), 5), known], [], TODAY)
    assert unsure_from(gone, 1, TODAY) == TODAY


def test_what_is_not_known_is_said_and_never_taken_as_enough() -> None:
    needs = [need(day(7), 200), need(day(14), None, job=2)]
    made = ordered(plan_stock(needs, [], TODAY), [oil(policy=None, sizes=(PackSize(1, 250),))])
    (order,) = made.orders
    assert not order.complete and made.cost.at_least and made.cost.exact == 0
    assert made.verdict.codes == {
        "order-not-complete", "pack-life-not-known", "lead-not-known",
    }  # fmt: skip
    nothing = ordered(plan_stock(needs[:1], [], TODAY), [])
    assert not nothing.orders[0].chosen and nothing.orders[0].short == 200
    assert "no-pack-size" in nothing.verdict.codes and nothing.cost.at_least


def test_a_pack_of_which_nobody_knows_how_long_it_keeps_counts_for_one_day() -> None:
    plan = plan_stock([need(day(7), 100), need(day(8), 100)], [], TODAY)
    for policy in (None, AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=400)):
        made = ordered(plan, [oil(policy=policy)])
        assert made.orders[0].amount == 500 and "pack-life-not-known" in made.verdict.codes
    assert ordered(plan, [oil()]).orders[0].amount == 250


def test_what_can_no_longer_come_in_time_is_said() -> None:
    plan = plan_stock([need(day(1), 100)], [], TODAY)
    made = order_list(plan, [oil()], replace(TERM, breaks=False), TODAY)
    late = [f.sentence for f in made.verdict if f.code == "order-late"]
    assert late == ["oil is needed on 17 February 2026; ordered today it comes on 19 February 2026."]
    assert ordered(plan_stock([need(day(10), 100)], [], TODAY), [oil()]).verdict.complete


def test_what_comes_late_names_every_day_it_is_late_for() -> None:
    """Six working days of lead: the lessons before that are missed, those after it are not."""
    lessons = [need(day(n), 30, job=n) for n in (1, 2, 3, 4, 7, 8, 9, 28)]
    slow = oil(sizes=(PackSize(1, 1000, Decimal(9), "A", 6),))
    made = order_list(plan_stock(lessons, [], TODAY), [slow], replace(TERM, country="", part=""), TODAY)
    (late,) = [f.sentence for f in made.verdict if f.code == "order-late"]
    comes = comes_on(replace(TERM, country="", part=""), TODAY, 6)
    missed = [n for n in (1, 2, 3, 4, 7, 8, 9, 28) if day(n) <= comes]
    assert 5 < len(missed) < 8
    assert late.startswith(f"oil is needed on {say_days([day(n) for n in missed])}; ")
    assert f"and {len(missed) - 5} more day" in late


def test_orders_that_have_to_be_made_first_stand_first() -> None:
    slow = replace(oil(), material_id=2, name="resin", sizes=(PackSize(3, 250, Decimal(1), "B", 30),))
    plan = plan_stock([need(day(40), 5), need(day(50), 5, material=2)], [], TODAY)
    assert [one.name for one in ordered(plan, [oil(), slow]).orders] == ["resin", "oil"]


def test_the_school_must_be_open_and_the_supplier_must_work() -> None:
    # 3 April 2026 is Good Friday, 6 April Easter Monday; Saxony's schools close from the 3rd to the 10th.
    assert arrive_by(TERM, date(2026, 4, 13)) == date(2026, 4, 2)
    assert order_by(TERM, date(2026, 4, 13), 1) == date(2026, 4, 2)
    assert order_by(TERM, date(2026, 4, 13), 5) == date(2026, 4, 2)
    assert order_by(TERM, date(2026, 4, 13), 6) == date(2026, 4, 1)
    assert comes_on(TERM, date(2026, 4, 1), 2) == date(2026, 4, 13)
    assert comes_on(replace(TERM, breaks=False), date(2026, 4, 1), 2) == date(2026, 4, 7)


def test_a_calendar_that_is_always_closed_still_gives_a_day() -> None:
    shut = SchoolCalendar(TODAY, UNTIL, free=(FreeDays(date(2000, 1, 1), date(2100, 1, 1), "closed"),))
    assert arrive_by(shut, TODAY) == TODAY - timedelta(days=1)


@given(on=st.dates(TODAY, UNTIL), lead=st.integers(0, 30))
def test_what_is_ordered_on_its_day_comes_in_time(on: date, lead: int) -> None:
    arrives = arrive_by(TERM, on)
    assert arrives < on and not why_closed(TERM, arrives)
    assert comes_on(TERM, order_by(TERM, arrives, lead), lead) <= arrives


def test_a_gift_costs_nothing_and_that_is_known() -> None:
    made = ordered(
        plan_stock([need(day(21), 5)], [], TODAY), [oil(sizes=(PackSize(1, 9, Decimal(0), "", 1),))]
    )
    assert made.cost.exact == Fraction(0) and not made.cost.at_least


def test_what_is_past_before_its_use_still_sealed_is_said() -> None:
    """It keeps three days sealed, and the school is closed for longer before the job."""
    short_lived = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=3)
    weeks = (FreeDays(day(8), day(19), "works weeks"),)
    closed = SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3), free=weeks)
    plan = plan_stock([need(day(20), 10)], [], TODAY)
    stuff = Bought(1, "size", None, short_lived, (PackSize(1, 20, lead_days=1),))
    said = order_list(plan, [stuff], closed, TODAY).verdict
    assert "past-before-use" in said.codes
    assert "past-before-use" not in order_list(
        plan, [stuff], SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3)), TODAY
    ).verdict.codes


def test_what_arrives_on_a_sunday_is_ordered_so_that_it_is_here_before_the_day_of_use() -> None:
    """A school open on all days; the supplier works from Monday to Friday."""
    week = SchoolCalendar(date(2026, 2, 2), UNTIL, weekdays=frozenset(range(7)))
    sunday = date(2026, 3, 8)
    assert arrive_by(week, date(2026, 3, 9)) == date(2026, 3, 6), "nobody delivers on a weekend"
    for lead in range(12):
        ordered = order_by(week, sunday, lead)
        assert comes_on(week, ordered, lead) <= sunday
        assert ordered.weekday() < 5, "nobody takes an order on a weekend"
        later = ordered + timedelta(days=1)
        while later.weekday() > 4:
            later += timedelta(days=1)
        assert lead == 0 or comes_on(week, later, lead) > sunday or later > sunday
    assert comes_on(week, sunday, 5) == date(2026, 3, 16), "taken up on Monday"
