"""Fixtures every test may use: a fresh database of each kind, a clock that stands still."""

from __future__ import annotations

import itertools
import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import settings

from service.records.engine import Database, open_database
from service.records.migrate import migrate
from tests.postgres_server import PostgresServer, start_postgres

NOW = datetime(2026, 3, 12, 9, 30, tzinfo=UTC)
"""A Thursday morning in a shop in the zone of Berlin: 10:30 on the wall."""

_numbers = itertools.count(1)

# No deadline: a loaded machine is no fault of the code. In CI the same examples each time.
settings.register_profile("desk", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "desk")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer]:
    server = start_postgres()
    try:
        yield server
    finally:
        server.stop()


@pytest.fixture(scope="session")
def postgres_template(postgres_server: PostgresServer) -> str:
    postgres_server.admin("CREATE DATABASE template_shop")
    database = open_database(postgres_server.url("template_shop"), pooled=False)
    migrate(database)
    database.dispose()
    return "template_shop"


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sqlite") / "template.sqlite"
    database = open_database(f"sqlite:///{path}", pooled=False)
    migrate(database)
    with database.writer.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.exec_driver_sql("BEGIN")
    database.dispose()
    return path


def fresh_sqlite(template: Path, folder: Path) -> str:
    """The address of a new SQLite database with the newest schema."""
    path = folder / f"shop{next(_numbers)}.sqlite"
    shutil.copy(template, path)
    return f"sqlite:///{path}"


@pytest.fixture(params=["sqlite", "postgres"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A fresh, migrated database; the test runs once on each kind."""
    if request.param == "sqlite":
        opened = open_database(fresh_sqlite(request.getfixturevalue("sqlite_template"), tmp_path))
        yield opened
        opened.dispose()
        return
    server: PostgresServer = request.getfixturevalue("postgres_server")
    template: str = request.getfixturevalue("postgres_template")
    name = f"shop{next(_numbers)}"
    server.admin(f"CREATE DATABASE {name} TEMPLATE {template}")
    opened = open_database(server.url(name))
    yield opened
    opened.dispose()
    server.admin(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def sqlite_database(sqlite_template: Path, tmp_path: Path) -> Iterator[Database]:
    """A fresh SQLite database, for pages and other things that do not depend on the engine."""
    opened = open_database(fresh_sqlite(sqlite_template, tmp_path))
    yield opened
    opened.dispose()


@pytest.fixture
def now() -> datetime:
    return NOW
