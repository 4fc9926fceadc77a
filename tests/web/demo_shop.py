"""The demo shop behind its doors, on either database, for tests that try everything there is."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlmodel import col, select

from service.app import create_app
from service.config import Settings
from service.demo_loader import load_demo
from service.records.engine import Database, open_database
from service.records.people import Person
from service.records.stock import Container
from service.web.route_table import ROWS
from tests.builders import FAST_HASHER, NOW, Cast
from tests.conftest import fresh_sqlite
from tests.web.conftest import Clock, Shop, shop_settings

KNOWN = {
    "kind": ["solvent", "made-mix"], "key": ["tung"], "name": ["past", "refused"], "token": ["no-such-token"],
}  # fmt: skip
_numbers = itertools.count(1)


@contextmanager
def demo_shop(database: Database, folder: Path) -> Iterator[Shop]:
    """The application on the demo, loaded at the tests' own moment into an empty database."""
    load_demo(database, Settings(data=folder, database_url=""), NOW, "Europe/Berlin", FAST_HASHER)
    with database.reading() as session:
        by_name = {p.sign_in_name: p for p in session.exec(select(Person)).all()}
    people = Cast(by_name["tilda"], by_name["ivo"], by_name["mina"], by_name["wilm"])
    clock = Clock()
    app = create_app(shop_settings(folder, database), database, clock, hasher=FAST_HASHER)
    made = Shop(app, database, clock, people)
    yield made
    for client in made.clients:
        client.close()


@contextmanager
def demo_on(kind: str, request: pytest.FixtureRequest, folder: Path) -> Iterator[Shop]:
    """The demo on a fresh database of this kind ("sqlite" or "postgres"), for fixtures of a whole module."""
    if kind == "sqlite":
        database = open_database(fresh_sqlite(request.getfixturevalue("sqlite_template"), folder))
        with demo_shop(database, folder) as shop:
            yield shop
        database.dispose()
        return
    server = request.getfixturevalue("postgres_server")
    template = request.getfixturevalue("postgres_template")
    name = f"demo{next(_numbers)}"
    server.admin(f"CREATE DATABASE {name} TEMPLATE {template}")
    database = open_database(server.url(name))
    with demo_shop(database, folder) as shop:
        yield shop
    database.dispose()
    server.admin(f"DROP DATABASE {name} WITH (FORCE)")


def codes(database: Database) -> list[str]:
    """A container of every state, and the one of which nothing is known."""
    found = {}
    with database.reading() as session:
        for box in session.exec(select(Container).order_by(col(Container.id))).all():
            found.setdefault((box.state, box.balance is None), box.code)
    return list(found.values())


def addresses(database: Database) -> Iterator[str]:
    """Every GET address of the route table, filled in with what there is."""
    of_each_state = codes(database)
    for row in ROWS:
        if row.method != "GET":
            continue
        names = re.findall(r"\{(\w+)(?::\w+)?\}", row.path)
        for n in range(5):
            path = row.path
            for name in names:
                values = of_each_state if name == "code" else KNOWN.get(name, ["1", "2", "3", "4"])
                path = re.sub(rf"\{{{name}(:\w+)?\}}", values[min(n, len(values) - 1)], path)
            yield path
            if not names:
                break
