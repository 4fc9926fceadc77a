"""Goals of the evidence: checking the rag log and the ledger, adding to the log, copying it in use."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

from sqlmodel import col, func, select

from service.actions.check_ledger import check
from service.actions.draw_stock import DrawAsked, draw
from service.actions.write_rag_log import write_rag_log
from service.core.rag_log import GENESIS, canonical, verify
from service.records.engine import Database, open_database
from service.records.rag_queries import chain_rows
from service.records.rags import RagLogRow
from service.records.stock import Movement
from tests.bench.copier import copier
from tests.bench.goals_write import drawable
from tests.bench.plain_statements import driver, hashed, ledger_hashed
from tests.bench.ratio import Figure, Spread, interleaved, ms
from tests.bench.stock_plan import NOW
from tests.bench.workbench import KEEPER, Workbench

_ENTRIES = 200
"""Entries added between two looks at the clock."""


def _a_second(work: Callable[[], int]) -> Callable[[], float]:
    """A measurement: how many a second, where ``work`` says how many there were."""

    def measure() -> float:
        started = time.perf_counter()
        return work() / (time.perf_counter() - started)

    return measure


def chain_check(bench: Workbench, size: int) -> Iterator[Figure]:
    """P18: the rag log checked entry by entry against a bare SHA-256 loop over the same rows."""
    with bench.reading(size) as database, database.reading() as session:
        bare = driver(database).execute

        def ours() -> int:
            proof = verify(chain_rows(session))
            assert proof.unbroken
            return proof.count

        pair = interleaved(_a_second(ours), _a_second(lambda: hashed(bare)), bench.turns)
    why = (
        "each entry is held against its one written form and against six columns, then hashed; nine columns "
        "fetched alone take longer than the whole bare loop"
    )
    yield Figure("P18", "rag log checked / bare SHA-256 loop", size, "rows a second", *pair.sides, pair.ratio,
                 0.5, at_most=False, why=why)  # fmt: skip


def ledger_check(bench: Workbench, size: int) -> Iterator[Figure]:
    """Beside P18: the whole `check-ledger`, per movement, against a bare loop over the movements."""
    with bench.reading(size) as database, database.reading() as session:
        bare = driver(database).execute
        count = int(session.exec(select(func.count(col(Movement.id)))).one())

        def ours() -> int:
            assert check(session).holds
            return count

        turns = bench.turns if size <= 10_000 else 1
        pair = interleaved(_a_second(ours), _a_second(lambda: ledger_hashed(bare)), turns, warm=False)
    what = "whole check-ledger / bare SHA-256 loop, movements"
    why = "every container is told again: balance, state, place, opening, dates; every posting and load too"
    yield Figure("P18b", what, size, "rows a second", *pair.sides, pair.ratio, why=why)


def append(bench: Workbench, size: int) -> Iterator[Figure]:
    """P19: an entry added durably to the chained log against the same entry without a chain."""
    with bench.copy(size) as data:
        database = open_database(f"sqlite:///{data}/umberkeep.sqlite", 2)
        numbers = iter(range(10**9, 2 * 10**9))

        def chained() -> None:
            with database.writing() as session:
                write_rag_log(session, kind="violation", load_id=None, person_id=2, posting_id=None,
                              happened_at=NOW, recorded_at=NOW, data=_SAID)  # fmt: skip

        def unchained() -> None:
            with database.writing() as session:
                row = {"kind": "violation", "load": None, "person": 2, "posting": None, "happened_at": NOW,
                       "recorded_at": NOW, **_SAID}  # fmt: skip
                # Its own number range, so that the chain never sees it.
                session.add(
                    RagLogRow(id=next(numbers), kind="violation", person_id=2, happened_at=NOW,
                              recorded_at=NOW, body=canonical(row).decode(), prev_hash=GENESIS, hash=GENESIS)
                )  # fmt: skip

        times = max(10, _ENTRIES if bench.turns > 1 else 10)
        pair = interleaved(ms(chained, times), ms(unchained, times), bench.turns)
        database.dispose()
    why = "the chain's head is a row that is read, locked and written with every entry"
    yield Figure("P19", "chained entry / the same without a chain", size, "ms", *pair.sides, pair.ratio, 1.1,
                 why=why)  # fmt: skip


_SAID = {"code": "rags-overdue", "about": "shelf 4", "sentence": "It was drawn although rags were overdue."}


class Writers:
    """Two threads that draw all the time; ``times`` are the milliseconds since the last `take`."""

    def __init__(self, database: Database) -> None:
        self.database, self.times, self.over = database, list[float](), threading.Event()
        with database.reading() as session:
            self.codes = [code for _, code in drawable(session)]
        self.faults: list[BaseException] = []
        self.threads = [threading.Thread(target=self._work, args=(n,)) for n in range(2)]

    def _work(self, number: int) -> None:
        chance, turn = random.Random(number), 0
        try:
            while not self.over.is_set():
                turn += 1
                asked = DrawAsked(once=f"w{number}-{turn}", code=chance.choice(self.codes), amount="1 mg")
                started = time.perf_counter()
                with self.database.writing() as session:
                    draw(session, KEEPER, NOW + timedelta(seconds=turn), asked)
                self.times.append((time.perf_counter() - started) * 1000)
        except BaseException as fault:
            self.faults.append(fault)

    def take(self) -> float:
        """The 99th of 100 waits since the last time this was asked; if none has ended, the next one."""
        ends = time.monotonic() + 60
        while not self.times and not self.faults and time.monotonic() < ends:
            time.sleep(0.001)
        times, self.times = sorted(self.times), []
        assert times and not self.faults, self.faults
        return times[int(len(times) * 0.99)]

    def __enter__(self) -> Writers:
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        for thread in self.threads:
            thread.join()


def backup(bench: Workbench, size: int) -> Iterator[Figure]:
    """P28: a checked copy made while two writers draw, against VACUUM INTO of the quiet file."""
    quiet: list[float] = []
    busy: list[float] = []
    with bench.copy(size) as data:
        source, database = data / "umberkeep.sqlite", open_database(f"sqlite:///{data}/umberkeep.sqlite", 2)

        def under_load() -> float:
            with copier() as copy, Writers(database) as writers:
                time.sleep(bench.seconds / 2)
                quiet.append(writers.take())
                took = copy(source, _fresh(data))
                busy.append(writers.take())
            return took

        bare = ms(lambda: _driver_copy(database, _fresh(data)))
        pair = interleaved(under_load, bare, min(bench.turns, 3), warm=False)
        database.dispose()
    what = "checked copy while two write / VACUUM INTO, quiet"
    why = (
        "the copy is read again whole before it counts: pages, rules, foreign keys, and each row looked up "
        "in each index, which alone is more work than the copy"
    )
    yield Figure("P28", what, size, "ms", *pair.sides, pair.ratio, 3, why=why)
    waits = Spread.of([b / q for b, q in zip(busy, quiet, strict=True)])
    yield Figure("P28", "writers' p99 while it is copied / before", size, "ms", Spread.of(busy),
                 Spread.of(quiet), waits, 3,
                 why="the copy and its check share two cores and one disk with the writers")  # fmt: skip


def _fresh(folder: Path) -> Path:
    target = folder / "copy.sqlite"
    target.unlink(missing_ok=True)
    return target


def _driver_copy(database: Database, target: Path) -> None:
    connection = driver(database)
    connection.execute("VACUUM INTO ?", (str(target),))
    connection.close()
