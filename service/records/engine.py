"""Engines and sessions: one fair writer on SQLite, row locks on PostgreSQL, and what `/health` says of both.

SQLite libraries up to 3.51.2 (3.44.6+ and 3.50.7+ aside) have a published fault in WAL mode that can lose
commits; where no current engine is found, a rollback journal is used instead.
"""

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from sqlalchemy import Engine, create_engine, event, text
from sqlalchemy.pool import NullPool, QueuePool
from sqlmodel import Session

from service.clock import monotonic

WRITE_WAIT_S = 5.0
LOOK_AGAIN_S = 0.001


def sqlite_module() -> ModuleType:
    """The newest SQLite driver at hand: the bundled current engine, else Python's own."""
    try:
        from pysqlite3 import dbapi2
    except ImportError:  # no wheel for this machine
        import sqlite3

        return sqlite3
    module: ModuleType = dbapi2
    return module


def wal_is_sound(version: tuple[int, int, int]) -> bool:
    """Whether this SQLite library is free of the published WAL-reset fault.

    >>> [wal_is_sound(v) for v in [(3, 40, 1), (3, 44, 6), (3, 50, 6), (3, 50, 7), (3, 51, 2), (3, 51, 3)]]
    [False, True, False, True, False, True]
    """
    if version < (3, 7, 0) or version > (3, 51, 2):
        return True
    return (version[:2] == (3, 44) and version[2] >= 6) or (version[:2] == (3, 50) and version[2] >= 7)


class FairLock:
    """A lock that serves waiters in the order they came: SQLite's own busy wait starves the unlucky one."""

    def __init__(self) -> None:
        self._mutex = threading.Lock()
        self._waiting: deque[threading.Event] = deque()
        self._held = False

    def acquire(self, timeout: float) -> bool:
        with self._mutex:
            if not self._held and not self._waiting:
                self._held = True
                return True
            ticket = threading.Event()
            self._waiting.append(ticket)
        if ticket.wait(timeout):
            return True
        with self._mutex:
            if ticket.is_set():  # it was handed over between the time-out and this line
                return True
            self._waiting.remove(ticket)
            return False

    def release(self) -> None:
        with self._mutex:
            if self._waiting:
                self._waiting.popleft().set()
            else:
                self._held = False


class DatabaseBusy(Exception):  # noqa: N818 - reads as what happened
    """Nobody could write within the waiting time: answered with 503 and Retry-After."""


@dataclass(frozen=True)
class Database:
    """An engine for reading, the same pool for writing, and the lock in front of SQLite's writer."""

    engine: Engine
    writer: Engine
    lock: FairLock | None
    journal: str
    version: str

    @property
    def sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that only reads."""
        with Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def snapshot(self) -> Iterator[Session]:
        """A session that only reads, and sees one state of the books however long it reads."""
        engine = self.engine
        if not self.sqlite:
            engine = engine.execution_options(isolation_level="REPEATABLE READ")
        with Session(engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction: committed at the end, rolled back on any error.

        Raises:
            DatabaseBusy: no turn within `WRITE_WAIT_S` seconds.
        """
        if self.lock is not None and not self.lock.acquire(WRITE_WAIT_S):
            raise DatabaseBusy
        try:
            with Session(self.writer, expire_on_commit=False) as session:
                try:
                    yield session
                    session.commit()
                except BaseException:
                    session.rollback()
                    raise
        finally:
            if self.lock is not None:
                self.lock.release()

    def dispose(self) -> None:
        self.engine.dispose()


def _begin_writing(connection: Any, module: ModuleType) -> None:
    """Take SQLite's write lock, also against another process that writes all the time.

    The library's own wait looks again after 100 ms and misses the short gaps that a busy service leaves.

    Raises:
        DatabaseBusy: no turn within `WRITE_WAIT_S` seconds.
    """
    raw = connection.connection.driver_connection
    raw.execute("PRAGMA busy_timeout=0")
    ends = monotonic() + WRITE_WAIT_S
    try:
        while True:
            try:
                raw.execute("BEGIN IMMEDIATE")
                return
            except module.OperationalError as error:
                if "locked" not in str(error) and "busy" not in str(error):
                    break
                if monotonic() > ends:
                    raise DatabaseBusy from error
            time.sleep(LOOK_AGAIN_S)
    finally:
        raw.execute(f"PRAGMA busy_timeout={int(WRITE_WAIT_S * 1000)}")
    connection.exec_driver_sql("BEGIN IMMEDIATE")  # again, for its error as the layers above know it


def _sqlite_engine(url: str, threads: int, *, pooled: bool) -> tuple[Engine, str, str]:
    module = sqlite_module()
    version: tuple[int, int, int] = tuple(module.sqlite_version_info)
    journal = "WAL" if wal_is_sound(version) else "TRUNCATE"
    path = url.removeprefix("sqlite:///")
    Path(path).parent.mkdir(parents=True, exist_ok=True)
    options: dict[str, Any] = (
        {"poolclass": QueuePool, "pool_size": threads + 2, "max_overflow": 8}
        if pooled
        else {"poolclass": NullPool}
    )
    engine = create_engine(
        url, module=module, connect_args={"check_same_thread": False, "timeout": WRITE_WAIT_S},
        hide_parameters=True,  # an error in the log names the statement, never what people wrote
        **options,
    )  # fmt: skip

    @event.listens_for(engine, "connect")
    def _pragmas(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we send BEGIN ourselves
        for pragma in (
            f"journal_mode={journal}",
            "synchronous=FULL",
            "foreign_keys=ON",
            "recursive_triggers=ON",  # else REPLACE slips past the append-only triggers
            f"busy_timeout={int(WRITE_WAIT_S * 1000)}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        if connection.get_execution_options().get("writes"):
            _begin_writing(connection, module)
        else:
            connection.exec_driver_sql("BEGIN")

    return engine, journal, ".".join(str(n) for n in version)


def _postgres_engine(url: str, threads: int, *, pooled: bool) -> Engine:
    options: dict[str, Any] = (
        {"pool_size": threads + 2, "max_overflow": 8, "pool_pre_ping": True}
        if pooled
        else {"poolclass": NullPool}
    )
    limits = (
        "-c timezone=UTC -c statement_timeout=10000 -c lock_timeout=5000"
        " -c idle_in_transaction_session_timeout=30000"
    )
    connect = {"options": limits, "connect_timeout": 5}
    return create_engine(url, connect_args=connect, hide_parameters=True, **options)


def open_database(url: str, threads: int = 4, *, pooled: bool = True) -> Database:
    """Open the database an address names, with the settings the ledger relies on.

    Args:
        url: an SQLAlchemy address, `sqlite:///…` or `postgresql+psycopg://…`.
        threads: how many requests may hold a connection at once; the pool is matched to it.
        pooled: False opens a connection per use (tests, commands).
    """
    if url.startswith("sqlite"):
        engine, journal, version = _sqlite_engine(url, threads, pooled=pooled)
        return Database(engine, engine.execution_options(writes=True), FairLock(), journal, version)
    engine = _postgres_engine(url, threads, pooled=pooled)
    return Database(engine, engine, None, "", "")


def engine_facts(database: Database) -> dict[str, str]:
    """Which engine, version and journal really run, read back from a connection."""
    with database.engine.connect() as connection:
        if database.sqlite:
            version = str(connection.execute(text("select sqlite_version()")).scalar_one())
            journal = str(connection.execute(text("pragma journal_mode")).scalar_one())
            return {"engine": "SQLite", "version": version, "journal": journal.lower()}
        version = str(connection.execute(text("show server_version")).scalar_one())
        return {"engine": "PostgreSQL", "version": version, "journal": "server"}
