"""Goals about searching the stock: what must not grow with it, held against bare statements."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session, col, select

from service.actions.check_mix import MixAsked, check_mix
from service.actions.list_alerts import lines, list_alerts, sweep
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.ageing_policies import PolicyEnd
from service.core.materials import MaterialKind
from service.core.year_ahead import year_ahead
from service.records.attention_queries import changing_soon
from service.records.engine import Database, open_database
from service.records.materials import Material
from service.records.policy_queries import Subject
from service.records.stock import Container
from service.records.use_first_queries import ends_of_store
from tests.bench.goals_write import filled
from tests.bench.plain_statements import driver, ends, enough, soon, soon_on_postgres
from tests.bench.ratio import Figure, interleaved, ms
from tests.bench.stock_plan import NOW, TODAY
from tests.bench.workbench import INGREDIENTS, KEEPER, RECIPE, Workbench
from tests.postgres_server import start_postgres

SMALL = 10_000
_KEYS = itertools.count()
MATERIALS = list(range(1, INGREDIENTS + 1))


def _in_session(database: Database, work: Callable[[Session], object]) -> Callable[[], object]:
    def run() -> object:
        with database.reading() as session:
            return work(session)

    return run


def _check(session: Session) -> object:
    return check_mix(session, KEEPER, NOW, MixAsked(RECIPE, "1 times"))


def stock_check(bench: Workbench, size: int) -> Iterator[Figure]:
    """P1: the stock check of ten ingredients against the bare statement that sums what is there."""
    with bench.reading(size) as database:
        execute = driver(database).execute
        pair = interleaved(
            ms(_in_session(database, _check)), ms(lambda: enough(execute, MATERIALS), 20), bench.turns
        )
    yield Figure("P1", "stock check, 10 ingredients / bare statement", size, "ms", *pair.sides, pair.ratio)


def stock_check_grows(bench: Workbench, size: int) -> Iterator[Figure]:
    """P3: the same check over the large store and over the small one."""
    small = min(SMALL, size)
    with bench.reading(size) as large, bench.reading(small) as little:
        pair = interleaved(
            ms(_in_session(large, _check), 3), ms(_in_session(little, _check), 3), bench.turns
        )
    what = f"stock check over the store / over {small:,}"
    yield Figure("P3", what, size, "ms", *pair.sides, pair.ratio, 1.3)


def first_expiring(bench: Workbench, size: int) -> Iterator[Figure]:
    """P8: the first 50 that change within 30 days against the bare query on the index."""
    until = TODAY + timedelta(days=30)
    with bench.reading(size) as database, database.reading() as session:
        execute = driver(database).execute
        pair = interleaved(
            ms(lambda: changing_soon(session, TODAY, until, 50), 20),
            ms(lambda: soon(execute, TODAY, until), 20),
            bench.turns,
        )
    yield Figure("P8", "first 50 to change in 30 days / bare query", size, "ms", *pair.sides, pair.ratio, 4)


def year(bench: Workbench, size: int) -> Iterator[Figure]:
    """P8b: the store's next twelve months against a bare count that goes through every container."""
    with bench.reading(size) as database:
        execute = driver(database).execute
        pair = interleaved(
            ms(_in_session(database, lambda s: year_ahead(ends_of_store(s, TODAY), TODAY))),
            ms(lambda: ends(execute)),
            bench.turns,
        )
    what = "the store's year ahead / a bare count through every container"
    yield Figure("P8b", what, size, "ms", *pair.sides, pair.ratio)


def _sweep(database: Database, days: int, now: datetime = NOW) -> Callable[[], object]:
    """What `umberkeep alerts` does, taken back afterwards so that the next turn finds as much."""

    def run() -> object:
        with Session(database.writer) as session:
            sweep(session, now)
            found = lines(session, now, days)
            session.rollback()
        return found

    return run


def alert_sweep(bench: Workbench, size: int) -> Iterator[Figure]:
    """P9: as many alerts in the large store as in the small one; then ten times as many in the large one."""
    small = min(SMALL, size)
    with bench.reading(size) as large, bench.reading(small) as little:
        pair = interleaved(ms(_sweep(large, 0)), ms(_sweep(little, 0)), bench.turns)
        with large.reading() as session:
            few, many = len(list_alerts(session, NOW, 0)), len(list_alerts(session, NOW, 30))
        more = interleaved(ms(_sweep(large, 30)), ms(_sweep(large, 0)), bench.turns)
    what = f"sweep of {few:,} alerts / the same in {small:,}"
    yield Figure("P9", what, size, "ms", *pair.sides, pair.ratio, 1.3)
    grown = many / few
    # The bound is 12 for ten times as many; a smaller store has fewer that change soon.
    yield Figure(
        "P9", f"sweep of {many:,} alerts / of {few:,}", size, "ms", *more.sides, more.ratio, 1.2 * grown
    )



def on_postgres(bench: Workbench, size: int) -> Iterator[Figure]:
    """P8 and P9 on PostgreSQL, over the store as it lies in SQLite."""
    server = start_postgres()
    try:
        urls = [filled(bench, server, f"bench{n}", n) for n in dict.fromkeys((min(SMALL, size), size))]
        little, large = (open_database(url, 2) for url in (urls[0], urls[-1]))
        try:
            yield from _on_postgres(bench, size, large, little)
        finally:
            little.dispose()
            large.dispose()
    finally:
        server.stop()


def _on_postgres(bench: Workbench, size: int, large: Database, little: Database) -> Iterator[Figure]:
    until = TODAY + timedelta(days=30)
    with large.reading() as session, large.engine.connect() as connection:
        bare: Any = connection.connection.driver_connection
        pair = interleaved(
            ms(lambda: changing_soon(session, TODAY, until, 50), 20),
            ms(lambda: soon_on_postgres(bare.execute, TODAY, until), 20),
            bench.turns,
        )
    what = "first 50 to change in 30 days on PostgreSQL / bare query"
    yield Figure("P8", what, size, "ms", *pair.sides, pair.ratio, 4)
    pair = interleaved(ms(_sweep(large, 0)), ms(_sweep(little, 0)), bench.turns)
    what = f"sweep on PostgreSQL / the same in {min(SMALL, size):,}"
    yield Figure("P9", what, size, "ms", *pair.sides, pair.ratio, 1.3)


def _dates_anew(database: Database, months: int) -> Callable[[], int]:
    """What a change of the policy of a kind does to the containers concerned; taken back afterwards."""

    def run() -> int:
        with Session(database.writer) as session:
            asked = PolicyAsked(
                once=f"bench-{next(_KEYS)}", subject=Subject(kind=MaterialKind.DRY_PIGMENT),
                end=PolicyEnd.RETEST, sealed_months=months, opened_months=months - 1,
                reason="measured by the bench",
                grade="memory",
            )  # fmt: skip
            done = set_policy(session, KEEPER, NOW, asked).result
            session.rollback()
        return int(done["containers"])

    return run


def _plain_updates(database: Database, numbers: list[int]) -> Callable[[], object]:
    """One indexed UPDATE for each container, by the driver itself; taken back afterwards."""
    connection = driver(database)
    turn = itertools.count()

    def run() -> None:
        day = (TODAY + timedelta(days=400 + next(turn) % 7)).isoformat()
        values = [("look-first", day, day, number) for number in numbers]
        connection.executemany(
            "update container set standing = ?, in_date_until = ?, next_alert_on = ? where id = ?", values
        )
        connection.rollback()

    return run


def new_policy(bench: Workbench, size: int) -> Iterator[Figure]:
    """P10: the policy of a kind changed, for each container concerned, against one UPDATE by its number."""
    with bench.reading(size) as database:
        with database.reading() as session:
            numbers = list(
                session.exec(
                    select(Container.id)
                    .join(Material, col(Material.id) == col(Container.material_id))
                    .where(col(Material.kind) == MaterialKind.DRY_PIGMENT)
                ).all()
            )
        pair = interleaved(
            ms(_dates_anew(database, 30 + size % 7)), ms(_plain_updates(database, numbers)), bench.turns
        )
    what = f"a policy changed, {len(numbers):,} containers concerned / as many bare updates"
    why = (
        "each container is read, and judged by the policy before and by the new one, so that the keeper reads"
        " what it moved"
    )
    yield Figure("P10", what, size, "ms", *pair.sides, pair.ratio, 3, why=why)
