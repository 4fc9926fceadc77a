"""Goals of the served program: throughput, tails, pages. The load comes from this process."""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable, Iterator

from tests.bench.load import Load, get, post, run_load
from tests.bench.ratio import Figure, Spread, interleaved
from tests.bench.seed_stock import Plan
from tests.bench.workbench import BEARER, INGREDIENTS, RECIPE, SIGNED_IN, Workbench, plain, shop

_ones = itertools.count(1)
Requests = Callable[[], bytes]


def some_list(size: int, headers: str = BEARER) -> Requests:
    """The 20 containers of a material, another one each time."""
    chance, most = random.Random(7), Plan(size).materials
    return lambda: get(f"/api/containers?limit=20&material={chance.randint(1, most)}", headers)


def plain_list(size: int) -> Requests:
    chance, most = random.Random(7), Plan(size).materials
    return lambda: get(f"/list?material={chance.randint(1, most)}")


def a_check() -> bytes:
    body = json.dumps({"amount": f"{next(_ones) % 5 + 1} times"}).encode()
    return post(f"/api/recipes/{RECIPE}/check", body, BEARER)


def a_page() -> bytes:
    return get("/store", SIGNED_IN)


def _address(size: int, bench: Workbench) -> str:
    return f"sqlite:///{bench.store(size)}"


def checks(bench: Workbench, size: int) -> Iterator[Figure]:
    """P2: the stock check through HTTP, with token and role, against the bare statement through HTTP."""
    materials = ",".join(map(str, range(1, INGREDIENTS + 1)))
    with bench.copy(size) as data, shop(bench, data) as ours, plain(bench, _address(size, bench)) as bare:
        pair = interleaved(
            lambda: run_load(ours.port, a_check, 1, bench.seconds).p50,
            lambda: run_load(bare.port, lambda: get(f"/stock?materials={materials}"), 1, bench.seconds).p50,
            bench.turns,
        )
    what = "stock check by HTTP, kept / bare statement by HTTP, p50"
    yield Figure("P2", what, size, "ms", *pair.sides, pair.ratio)


def lists(bench: Workbench, size: int) -> Iterator[Figure]:
    """P4, P5 and P6: a list of 20 by index, as JSON, from 8 and from 32 clients."""
    loads: list[Load] = []

    def eight() -> float:
        loads.append(run_load(ours.port, some_list(size), 8, bench.seconds))
        return loads[-1].rps

    with bench.copy(size) as data, shop(bench, data) as ours, plain(bench, _address(size, bench)) as bare:
        beside = interleaved(
            eight, lambda: run_load(bare.port, plain_list(size), 8, bench.seconds).rps, bench.turns
        )
        crowd = interleaved(
            lambda: run_load(ours.port, some_list(size), 32, bench.seconds).rps, eight, bench.turns
        )
    what = "list of 20 / Core without a sign-in, c=8"
    yield Figure("P4", what, size, "a second", *beside.sides, beside.ratio)
    yield Figure("P5", "list of 20 from 32 clients / from 8", size, "a second", *crowd.sides, crowd.ratio,
                 0.9, at_most=False)  # fmt: skip
    yield tail("P6", "list of 20, c=8: p99 / p50", size, loads, 3)


def tail(goal: str, what: str, size: int, loads: list[Load], bound: float | None) -> Figure:
    """p99 over p50 of some loads."""
    return Figure(
        goal, what, size, "ms",
        Spread.of([one.p99 for one in loads]), Spread.of([one.p50 for one in loads]),
        Spread.of([one.p99 / one.p50 for one in loads]), bound,
    )  # fmt: skip


def pages(bench: Workbench, size: int) -> Iterator[Figure]:
    """P21: the page of the store, one client."""
    with bench.copy(size) as data, shop(bench, data) as ours:
        run_load(ours.port, a_page, 1, bench.seconds)
        loads = [run_load(ours.port, a_page, 1, bench.seconds) for _ in range(bench.turns)]
    yield tail("P21", "page of the store, c=1: p99 / p50", size, loads, None)


def mixed(size: int) -> Requests:
    """Reading of every sort in turn: lists, one container's page, checks, alerts and the day's page."""
    a_list, turn = some_list(size), itertools.count()
    kinds: tuple[Requests, ...] = (
        a_list, a_list, a_list, a_list, a_check, a_page, a_list, a_list,
        lambda: get("/", SIGNED_IN), lambda: get("/api/ledger?limit=20", BEARER),
    )  # fmt: skip
    return lambda: kinds[next(turn) % len(kinds)]()
