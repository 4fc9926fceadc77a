"""Fixtures of the fault tests: the process that forks servers, and shops on both engines."""

from __future__ import annotations

import itertools
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.faults.served import Nursery, Served, nursery
from tests.faults.stand import Stand, furnish
from tests.postgres_server import PostgresServer

_numbers = itertools.count(1)


@pytest.fixture(scope="session")
def servers() -> Iterator[Nursery]:
    with nursery() as made:
        yield made


@pytest.fixture
def sqlite_stand(sqlite_template: Path, tmp_path: Path) -> Stand:
    data = tmp_path / "shop"
    data.mkdir()
    shutil.copy(sqlite_template, data / "umberkeep.sqlite")
    return furnish(data)


@pytest.fixture
def postgres_stand(
    postgres_server: PostgresServer, postgres_template: str, tmp_path: Path
) -> Iterator[Stand]:
    name = f"fault{next(_numbers)}"
    postgres_server.admin(f"CREATE DATABASE {name} TEMPLATE {postgres_template}")
    yield furnish(tmp_path / "shop", postgres_server.url(name))
    postgres_server.admin(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=["sqlite", "postgres"])
def stand(request: pytest.FixtureRequest) -> Stand:
    made: Stand = request.getfixturevalue(f"{request.param}_stand")
    return made


@pytest.fixture
def serving(servers: Nursery) -> Iterator[Callable[..., Served]]:
    """Starts services on a stand; whatever is still running is ended after the test."""
    running: list[Served] = []

    def start(stand: Stand, **env: str) -> Served:
        made = Served(servers, stand.data, stand.url, env)
        running.append(made)
        made.start()
        return made

    yield start
    for one in running:
        one.stop()
