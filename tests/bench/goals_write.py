"""Goals of writing: durable draws through HTTP, the wait of each of many writers, the same on PostgreSQL."""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Callable, Iterator

from sqlalchemy import text
from sqlmodel import Session

from service.records.engine import open_database
from service.records.migrate import migrate
from tests.bench.copy_store import copy_store
from tests.bench.goals_http import some_list, tail
from tests.bench.load import Load, post, run_load
from tests.bench.ratio import Figure, Spread, interleaved
from tests.bench.workbench import BEARER, Workbench, plain, shop
from tests.postgres_server import PostgresServer, start_postgres

WHY = (
    "the throwaway draw asks three statements and nobody's leave; a real one asks who sends it and"
    " whether it came before, reads the container's whole ledger, its checks, policy and promises, and"
    " keeps its answer: eighteen statements, all of columns and made once, in two transactions"
)
"""What is left of a draw after everything that could go without a check was taken out."""
_numbers = itertools.count(1)
_DRAWABLE = (
    "select c.id, c.code from container c join material m on m.id = c.material_id where m.self_heating = 'no'"
    " and m.basis = 'mass' and c.ever_opened = {} and c.standing = 'in-date' order by c.id limit 400"
)


def drawable(session: Session) -> list[tuple[int, str]]:
    """Open containers in date, weighed, that make no oily rags; number and code."""
    yes = "true" if session.get_bind().dialect.name == "postgresql" else "1"
    rows = session.connection().execute(text(_DRAWABLE.format(yes))).all()
    return [(row[0], row[1]) for row in rows]


def a_draw(boxes: list[tuple[int, str]]) -> Callable[[], bytes]:
    """A draw of 1 mg from another container each time, each with a key of its own."""
    chance = random.Random(7)

    def request() -> bytes:
        body = json.dumps({"once": f"bench-{next(_numbers):09d}", "amount": "1 mg"}).encode()
        return post(f"/api/containers/{chance.choice(boxes)[1]}/draws", body, BEARER)

    return request


def a_plain_draw(boxes: list[tuple[int, str]]) -> Callable[[], bytes]:
    chance = random.Random(7)

    def request() -> bytes:
        body = {"once": f"bench-{next(_numbers):09d}", "box": chance.choice(boxes)[0], "taken": 1}
        return post("/draw", json.dumps(body).encode())

    return request


def _boxes(url: str) -> list[tuple[int, str]]:
    database = open_database(url, pooled=False)
    try:
        with database.reading() as session:
            return drawable(session)
    finally:
        database.dispose()


def draws(bench: Workbench, size: int) -> Iterator[Figure]:
    """P15 and P16: draws on SQLite, synchronous FULL, from 8 clients and from 64."""
    with bench.copy(size) as data, bench.copy(size) as other:
        boxes = _boxes(f"sqlite:///{data}/umberkeep.sqlite")
        with shop(bench, data) as ours, plain(bench, f"sqlite:///{other}/umberkeep.sqlite") as bare:
            pair = interleaved(
                lambda: run_load(ours.port, a_draw(boxes), 8, bench.seconds).rps,
                lambda: run_load(bare.port, a_plain_draw(boxes), 8, bench.seconds).rps,
                bench.turns,
            )
            crowd = [run_load(ours.port, a_draw(boxes), 64, bench.seconds) for _ in range(bench.turns)]
    what = "draw on SQLite FULL / throwaway draw, c=8"
    yield Figure("P15", what, size, "a second", *pair.sides, pair.ratio, 0.6, at_most=False, why=WHY)
    yield tail("P16", "draw, 64 writers: p99 / p50", size, crowd, 3)
    yield slowest(crowd, size)


def slowest(loads: list[Load], size: int) -> Figure:
    """The longest wait of any single writer against the median one."""
    return Figure(
        "P16", "draw, 64 writers: slowest / median", size, "ms",
        Spread.of([max(one.times) for one in loads]), Spread.of([one.p50 for one in loads]),
        Spread.of([max(one.times) / one.p50 for one in loads]), 10,
    )  # fmt: skip


def on_postgres(bench: Workbench, size: int) -> Iterator[Figure]:
    """P17 and P7: draws on PostgreSQL with every sync on; a second service process over the same database."""
    server = start_postgres(durable=True)
    try:
        yield from _on_postgres(bench, size, server)
    finally:
        server.stop()


def _on_postgres(bench: Workbench, size: int, server: PostgresServer) -> Iterator[Figure]:
    url, other = filled(bench, server, "bench", size), filled(bench, server, "bench_plain", size)
    boxes, data = _boxes(url), bench.scratch
    with shop(bench, data, url) as ours, plain(bench, other) as bare:
        pair = interleaved(
            lambda: run_load(ours.port, a_draw(boxes), 8, bench.seconds).rps,
            lambda: run_load(bare.port, a_plain_draw(boxes), 8, bench.seconds).rps,
            bench.turns,
        )
        what = "draw on PostgreSQL / throwaway draw, c=8"
        yield Figure("P17", what, size, "a second", *pair.sides, pair.ratio, 0.6, at_most=False, why=WHY)
        with shop(bench, data, url) as second:
            twice = interleaved(
                lambda: run_load([ours.port, second.port], some_list(size), 32, bench.seconds).rps,
                lambda: run_load(ours.port, some_list(size), 32, bench.seconds).rps,
                bench.turns,
            )
    what = "list of 20, two processes on PostgreSQL / one, c=32"
    yield Figure("P7", what, size, "a second", *twice.sides, twice.ratio)


def filled(bench: Workbench, server: PostgresServer, name: str, size: int) -> str:
    """The address of a PostgreSQL database with a seeded store in it."""
    server.admin(f"CREATE DATABASE {name}")
    url = server.url(name)
    database = open_database(url, pooled=False)
    migrate(database)
    copy_store(bench.store(size), database)
    database.dispose()
    return url


