"""What is ordered exactly as listed covers the plan: packs are begun so that no job is left without."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.core.ageing import WARN_SHARE
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import ContainerState
from service.core.life_facts import LifeFacts
from service.core.opening_order import covering_order
from service.core.order_list import Bought, OrderList, order_list
from service.core.pack_choice import PackSize
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import ShelfContainer, outlook
from service.core.plan_stock import StockPlan, plan_stock
from tests.plan_shop import TERM, TODAY, UNTIL, containers, day_needs, need, pack_sizes, policies

LONG_SEALED = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=700, opened_days=30)
FIRST = TODAY + timedelta(days=14)


def tin(number: int, amount: int, state: ContainerState = ContainerState.SEALED) -> ShelfContainer:
    opened = TODAY if state is ContainerState.OPEN else None
    facts = LifeFacts(packed_on=TODAY, policy=LONG_SEALED, opened_on=opened, opened=opened is not None)
    return ShelfContainer(number, f"T{number}", 1, amount, facts, state)


def short(plan: StockPlan) -> list[int | None]:
    return [one.missing for one in plan.covered]


def taken(plan: StockPlan) -> list[list[tuple[int, int]]]:
    return [[(p.container_id, p.amount) for p in one.promises] for one in plan.covered]


def placed(made: OrderList, policy: AgeingPolicy | None, comes: date | None = None) -> list[ShelfContainer]:
    """The list as it stands, written down as orders; each comes on its day, or all on one."""
    packs: list[ShelfContainer] = []
    for order in made.orders:
        for line in order.lines:
            day = comes or line.arrive
            for _ in range(line.count):
                facts = LifeFacts(received_on=day, policy=policy)
                packs.append(
                    ShelfContainer(
                        -1 - len(packs), f"order {len(packs)}", order.material_id, line.pack.amount, facts,
                        comes=day,
                    )
                )  # fmt: skip
    return packs


def test_a_large_job_begins_the_large_tin_and_leaves_the_small_one() -> None:
    needs = [need(FIRST, 1000), need(FIRST + timedelta(days=91), 250, job=2)]
    plan = plan_stock(needs, [tin(1, 250), tin(2, 1000)], TODAY)
    assert taken(plan) == [[(2, 1000)], [(1, 250)]]
    other_way = [need(FIRST, 250), need(FIRST + timedelta(days=91), 1000, job=2)]
    assert taken(plan_stock(other_way, [tin(1, 1000), tin(2, 250)], TODAY)) == [[(2, 250)], [(1, 1000)]]


def test_what_goes_soonest_stays_first_where_it_covers_all_or_nothing_would() -> None:
    tins = [tin(1, 250), tin(2, 1000)]
    near = [need(FIRST, 1000), need(FIRST + timedelta(days=7), 250, job=2)]
    assert taken(plan_stock(near, tins, TODAY)) == [[(1, 250), (2, 750)], [(2, 250)]]
    too_much = [need(FIRST, 1000), need(FIRST + timedelta(days=91), 900, job=2)]
    assert taken(plan_stock(too_much, tins, TODAY))[0] == [(1, 250), (2, 750)]


def test_what_is_open_already_is_left_only_if_that_covers_all() -> None:
    tins = [tin(1, 100, ContainerState.OPEN), tin(2, 300)]
    needs = [need(FIRST, 300), need(FIRST + timedelta(days=10), 100, job=2)]
    assert taken(plan_stock(needs, tins, TODAY)) == [[(1, 100), (2, 200)], [(2, 100)]]


@settings(max_examples=300, deadline=None)
@given(needs=day_needs(), shelf=containers(3), sizes=pack_sizes(), policy=policies(), at_once=st.booleans())
def test_shelf_and_the_placed_list_cover_every_job(
    needs: list[DayNeed],
    shelf: list[ShelfContainer],
    sizes: list[PackSize],
    policy: AgeingPolicy | None,
    at_once: bool,
) -> None:
    """Each delivery on the day that the list names; or all on the first of them, if sealed they keep."""
    policy = LONG_SEALED if at_once else policy
    # What does not outlive a holiday on the shelf cannot come in time; the list says so (test_order_list.py).
    assume(policy is None or policy.sealed_days is None or policy.sealed_days >= 21)
    needs = [one for one in needs if one.on >= FIRST]
    materials = [Bought(n, f"material {n}", None, policy, tuple(sizes)) for n in (1, 2)]
    made = order_list(plan_stock(needs, shelf, TODAY), materials, TERM, TODAY)
    assume(made.orders and all(order.chosen for order in made.orders))
    first = min(line.arrive for order in made.orders for line in order.lines)
    again = plan_stock(needs, [*shelf, *placed(made, policy, first if at_once else None)], TODAY)
    assert not any(short(again)), (made.orders, again.covered)


def test_a_search_that_does_not_end_gives_up_and_what_is_short_stays_short() -> None:
    tins = [tin(n, 90 + n) for n in range(40)]
    pairs = [(one, outlook(one, TODAY)) for one in tins]
    wanted = [(FIRST + timedelta(days=40 * n), 137) for n in range(30)]
    assert covering_order(pairs, wanted, Decimal(WARN_SHARE)) is None


def test_nothing_that_comes_too_late_covers_a_job() -> None:
    late = ShelfContainer(
        1, "order 1", 1, 1000, LifeFacts(received_on=UNTIL, policy=LONG_SEALED), comes=UNTIL
    )
    plan = plan_stock([need(FIRST, 100)], [late, tin(2, 50)], TODAY)
    assert short(plan) == [50]


def test_many_packs_of_which_nobody_knows_how_long_they_keep_cover_the_days_they_were_listed_for() -> None:
    """Sixteen packs that count only on the day they are opened: alike ones are tried once."""
    days = ((TODAY, 34), (date(2026, 3, 22), 5), (date(2026, 4, 1), 9), (date(2026, 4, 2), 9),
            (date(2026, 5, 1), 25), (date(2026, 5, 9), 13))  # fmt: skip
    needs = [need(max(on, FIRST), amount, job=job) for job, (on, amount) in enumerate(days)]
    sizes = tuple(PackSize(pack_id=n, amount=amount) for n, amount in enumerate((4, 16)))
    made = order_list(plan_stock(needs, [], TODAY), [Bought(1, "a drier", None, None, sizes)], TERM, TODAY)
    assert sum(line.count for order in made.orders for line in order.lines) == 16
    assert not any(short(plan_stock(needs, placed(made, None), TODAY)))
