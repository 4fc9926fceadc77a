"""The whole plan in one call: a smaller term never orders more; what is missing anywhere is said."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.life_facts import LifeFacts
from service.core.materials import Basis
from service.core.order_list import Bought
from service.core.pack_choice import PackSize
from service.core.plan_needs import PlannedJob, on_dates, times_of
from service.core.plan_outlook import ShelfContainer
from service.core.recipe import Recipe, RecipeLine
from service.core.term_dates import Repeat, dates_of
from service.core.term_plan import TermPlan, plan_term
from tests.plan_shop import CODES, TERM, TODAY

OIL = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=200, opened_days=45)
STAIN = Recipe(
    "stain",
    (RecipeLine(1, "oil", 300, 400, Basis.VOLUME), RecipeLine(2, "umber", 20, 40, Basis.MASS)),
    makes=500,
)
MATERIALS = [
    Bought(
        1,
        "oil",
        Basis.VOLUME,
        OIL,
        (PackSize(1, 1000, Decimal(4), "", 4), PackSize(2, 5000, Decimal(9), "", 4)),
    ),
    Bought(
        2,
        "umber",
        Basis.MASS,
        AgeingPolicy(PolicyEnd.INDEFINITE),
        (PackSize(3, 250, Decimal(7), "", 4),),
        100,
    ),
]


def can(number: int, amount: int, days: int) -> ShelfContainer:
    facts = LifeFacts(packed_on=TODAY - timedelta(days=days), policy=OIL)
    return ShelfContainer(number, CODES[number], 1, amount, facts)


def weekly(number: int, first: date, heads: int) -> list[PlannedJob]:
    job = PlannedJob(
        number, f"class {number}", first, STAIN, times_of(STAIN, heads, each=30, spare=Fraction(1, 10))
    )
    return on_dates(job, dates_of(TERM, first, Repeat.WEEKLY).dates)


def bought(plan: TermPlan) -> dict[int, int]:
    return {one.material_id: one.amount for one in plan.orders.orders}


def test_a_term_of_two_classes() -> None:
    jobs = [*weekly(1, date(2026, 3, 2), 20), *weekly(2, date(2026, 3, 5), 12)]
    plan = plan_term(jobs, [can(0, 3000, 170), can(1, 2000, 10)], MATERIALS, TERM, TODAY)
    # 18 Mondays less two holidays, 18 Thursdays less one and one of the spring break.
    days = [one.on for one in plan.needs.needs if one.material_id == 1]
    assert (len([day for day in days if day.weekday() == 0]), len(days)) == (16, 32)
    # The old can lasts until 18 March: five lessons of 528 and 317 take of it, the rest dies.
    (dying,) = plan.dying
    assert (dying.code, dying.last_day, dying.amount) == (
        CODES[0],
        date(2026, 3, 18),
        3000 - 3 * 528 - 2 * 317,
    )
    assert dying.takers[0].on == date(2026, 3, 19)
    assert plan.orders.orders[0].lines and not plan.orders.cost.at_least


@settings(max_examples=40)
@given(data=st.data(), heads=st.integers(1, 25))
def test_a_smaller_term_never_orders_more(data: st.DataObject, heads: int) -> None:
    jobs = [*weekly(1, date(2026, 2, 23), heads), *weekly(2, date(2026, 3, 5), 9)]
    fewer = [one for one in jobs if data.draw(st.integers(0, 3))]
    shelf = [can(n, data.draw(st.integers(0, 4000)), data.draw(st.integers(0, 199))) for n in range(3)]
    whole = bought(plan_term(jobs, shelf, MATERIALS, TERM, TODAY))
    for number, amount in bought(plan_term(fewer, shelf, MATERIALS, TERM, TODAY)).items():
        assert amount <= whole[number]


def test_what_is_not_known_at_any_step_makes_the_plan_not_complete() -> None:
    job = PlannedJob(1, "class", date(2026, 3, 2), STAIN, None)
    plan = plan_term([job], [], [], TERM, TODAY)
    assert {"times-not-known", "left-not-known", "order-not-complete"} <= plan.verdict.codes
    assert not plan.verdict.complete


def test_another_term_takes_what_it_needs_first_and_orders_for_itself() -> None:
    mine, theirs = weekly(1, date(2026, 3, 9), 20)[:1], weekly(2, date(2026, 3, 2), 20)[:1]
    shelf = [can(0, 528, 10)]
    alone = plan_term(mine, shelf, MATERIALS[:1], TERM, TODAY)
    both = plan_term(mine, shelf, MATERIALS[:1], TERM, TODAY, others=theirs)
    assert alone.stock.shortages(1) == {}
    assert both.stock.shortages(1) == {date(2026, 3, 9): 528}
    assert {one.material_id: one.short for one in both.orders.orders}[1] == 528
    assert [need.job for need in both.needs.needs if need.material_id == 1] == [1]


def test_what_another_term_does_not_know_makes_the_order_the_least() -> None:
    mine = weekly(1, date(2026, 3, 9), 20)[:1]
    unknown = PlannedJob(2, "theirs", date(2026, 3, 2), STAIN, None)
    plan = plan_term(mine, [], MATERIALS, TERM, TODAY, others=[unknown])
    assert [one.complete for one in plan.orders.orders] == [False, False]
    assert not plan.verdict.complete
