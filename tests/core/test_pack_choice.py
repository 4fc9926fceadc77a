"""The least packs that cover every shortage in time, against all choices there are."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import product
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core import pack_choice
from service.core.pack_choice import OpenedPacks, PackSize, choose_packs
from tests.plan_shop import pack_sizes

START = date(2026, 3, 2)
Short = dict[date, int]


def lasting(days: int | None) -> Callable[[date], date | None]:
    return lambda day: None if days is None else day + timedelta(days=days)


def lasts() -> st.SearchStrategy[int | None]:
    return st.none() | st.integers(0, 40)


def day(n: int) -> date:
    return START + timedelta(days=n)


def amount(packs: tuple[OpenedPacks, ...] | None) -> int:
    assert packs is not None
    return sum(one.pack.amount * one.count for one in packs)


def covers(packs: list[PackSize], short: Short, last_day: Callable[[date], date | None]) -> bool:
    """Whether these packs, opened in this order and only when needed, meet every day. Counted day by day."""
    waiting, opened = list(packs), []
    for when, wanted in sorted(short.items()):
        missing = wanted
        while missing:
            able = [tin for tin in opened if tin[0] and (tin[1] is None or when <= tin[1])]
            if not able and not waiting:
                return False
            if not able:
                opened.append([waiting.pop(0).amount, last_day(when)])
                continue
            taken = min(able[0][0], missing)
            able[0][0] -= taken
            missing -= taken
    return True


def every_choice(sizes: list[PackSize], most: int) -> Iterator[list[PackSize]]:
    for count in range(most + 1):
        yield from (list(one) for one in product(sizes, repeat=count))


def worth(packs: list[PackSize]) -> tuple[int, int, Fraction, int]:
    priced = [Fraction(one.price) for one in packs if one.price is not None]
    return sum(one.amount for one in packs), len(packs) - len(priced), sum(priced, Fraction(0)), len(packs)


@given(sizes=pack_sizes(3), data=st.data(), keeps=lasts())
def test_no_choice_there_is_buys_less_or_costs_less(
    sizes: list[PackSize], data: st.DataObject, keeps: int | None
) -> None:
    # No day takes more than two of the smallest packs: so the least choice has at most six.
    least = min(one.amount for one in sizes)
    days = data.draw(st.dictionaries(st.integers(0, 60).map(day), st.integers(0, 2 * least), max_size=3))
    chosen = choose_packs(days, sizes, lasting(keeps))
    assert chosen is not None
    best = min(worth(one) for one in every_choice(sizes, 6) if covers(one, days, lasting(keeps)))
    assert worth([one.pack for one in chosen for _ in range(one.count)]) == best


def shortages() -> st.SearchStrategy[Short]:
    return st.dictionaries(st.integers(0, 120).map(day), st.integers(1, 200), max_size=8)


@pytest.mark.parametrize("most", [2000, 40, 5])
@given(sizes=pack_sizes(4), short=shortages(), keeps=lasts(), data=st.data())
def test_it_covers_and_a_smaller_plan_never_buys_more(
    most: int, sizes: list[PackSize], short: Short, keeps: int | None, data: st.DataObject
) -> None:
    fewer = {when: data.draw(st.integers(0, wanted)) for when, wanted in short.items()}
    with patch.object(pack_choice, "MOST_STATES", most):
        packs = choose_packs(short, sizes, lasting(keeps))
        less = choose_packs(fewer, sizes, lasting(keeps))
    assert packs is not None
    assert covers([one.pack for one in packs for _ in range(one.count)], short, lasting(keeps))
    assert amount(less) <= amount(packs)
    assert sum(one.used for one in packs) == sum(short.values())
    for one in packs:
        assert one.until == lasting(keeps)(one.opens_on)
        assert one.opens_on <= one.last_use and one.left >= 0
        assert one.until is None or one.last_use <= one.until


@given(sizes=pack_sizes(3), short=shortages(), keeps=lasts())
def test_more_sizes_never_make_it_buy_more(sizes: list[PackSize], short: Short, keeps: int | None) -> None:
    assert amount(choose_packs(short, sizes, lasting(keeps))) <= min(
        amount(choose_packs(short, [one], lasting(keeps))) for one in sizes
    )


def test_a_large_pack_is_no_bargain_when_it_dies_before_its_last_use() -> None:
    small, large = PackSize(1, 250, Decimal(9)), PackSize(2, 1000, Decimal(10))
    lessons = {day(0): 200, day(60): 200}
    kept = choose_packs(lessons, [small, large], lasting(None))
    dies = choose_packs(lessons, [small, large], lasting(30))
    assert kept is not None and dies is not None
    assert [(one.pack.pack_id, one.count) for one in kept] == [(1, 1), (1, 1)]
    assert [(one.opens_on, one.last_use, one.left) for one in kept] == [
        (day(0), day(60), 0),
        (day(60), day(60), 100),
    ]
    assert [one.left for one in dies] == [50, 50]


def test_of_one_amount_the_cheapest_known_price_counts() -> None:
    dear, cheap, silent = PackSize(1, 500, Decimal(9)), PackSize(2, 500, Decimal(7)), PackSize(3, 500)
    chosen = choose_packs({day(0): 1}, [dear, silent, cheap], lasting(None))
    assert chosen is not None and chosen[0].pack is cheap


def test_of_two_ways_to_the_same_amount_the_cheaper_is_taken_however_late_it_is_found() -> None:
    sizes = [PackSize(n, 100 * n, Decimal(price)) for n, price in ((1, 5), (2, 1), (3, 5))]
    chosen = choose_packs({day(0): 400}, sizes, lasting(None))
    assert chosen is not None and [(one.pack.amount, one.count) for one in chosen] == [(200, 2)]


def test_without_a_size_nothing_is_chosen_and_without_a_shortage_nothing_is_bought() -> None:
    assert choose_packs({day(0): 1}, [], lasting(None)) is None
    assert choose_packs({day(0): 0}, [], lasting(None)) == ()


def test_sizes_that_share_no_measure_and_a_large_need_still_find_a_cover() -> None:
    pint, quart, gallon = (PackSize(n, size) for n, size in enumerate([473_176, 946_353, 3_785_412]))
    chosen = choose_packs({day(n): 4_000_000 for n in range(50)}, [pint, quart, gallon], lasting(20))
    assert 200_000_000 <= amount(chosen) < 200_000_000 + 3_785_412


def test_a_pack_that_comes_in_time_goes_before_a_cheaper_one_that_does_not() -> None:
    slow, fast = PackSize(1, 1000, Decimal(4), "slow"), PackSize(2, 1000, Decimal("4.50"), "fast")
    silent = PackSize(3, 1000, Decimal("3.99"), "silent")
    comes = {1: day(30), 2: day(3), 3: None}

    def chosen(short: Short, *sizes: PackSize) -> list[tuple[str, int]]:
        packs = choose_packs(short, sizes, lambda _: None, lambda size: comes[size.pack_id])
        return [(one.pack.supplier, one.count) for one in packs or ()]

    assert chosen({day(5): 400}, slow, fast, silent) == [("fast", 1)]
    assert chosen({day(40): 400}, slow, fast, silent) == [("slow", 1)]
    assert chosen({day(5): 1000, day(40): 400}, slow, fast) == [("fast", 1), ("slow", 1)]
    # Nothing comes in time: what comes first; nobody knows when one comes: it is taken, and the list says so.
    assert chosen({day(1): 400}, slow, fast) == [("fast", 1)]
    assert chosen({day(1): 400}, silent) == [("silent", 1)]


@settings(max_examples=150)
@given(
    data=st.data(),
    sizes=st.lists(st.integers(1, 30), min_size=1, max_size=3, unique=True),
    arrives=st.lists(st.none() | st.integers(0, 120), min_size=3, max_size=3),
    short=shortages(),
    keeps=lasts(),
)
def test_with_deliveries_a_smaller_plan_never_buys_more(
    data: st.DataObject, sizes: list[int], arrives: list[int | None], short: Short, keeps: int | None
) -> None:
    packs = [PackSize(n, size) for n, size in enumerate(sizes)]
    came = {n: None if arrives[n] is None else day(arrives[n] or 0) for n in range(len(sizes))}

    def chosen(wanted: Short) -> tuple[OpenedPacks, ...] | None:
        return choose_packs(wanted, packs, lasting(keeps), lambda size: came[size.pack_id])

    whole = chosen(short)
    fewer = {on: data.draw(st.integers(0, much)) for on, much in short.items()}
    assert amount(chosen(fewer)) <= amount(whole)
    known = [on for on in came.values() if on is not None]
    for one in whole or ():
        on = came[one.pack.pack_id]
        assert on is None or on <= max(one.opens_on, min(known))
