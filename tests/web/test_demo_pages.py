"""Every page of the service opens on the demo shop, for every role, and none fails."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import col, select

from service.app import create_app
from service.config import Settings
from service.core.access import Role
from service.core.containers import ContainerState
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


@pytest.fixture(scope="module")
def demo(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The application on the demo, loaded at the tests' own moment."""
    folder = tmp_path_factory.mktemp("demo")
    database = open_database(fresh_sqlite(sqlite_template, folder))
    load_demo(database, Settings(data=folder, database_url=""), NOW, "Europe/Berlin", FAST_HASHER)
    with database.reading() as session:
        by_name = {p.sign_in_name: p for p in session.exec(select(Person)).all()}
    people = Cast(by_name["tilda"], by_name["ivo"], by_name["mina"], by_name["wilm"])
    app = create_app(shop_settings(folder, database), database, Clock(), hasher=FAST_HASHER)
    made = Shop(app, database, Clock(), people)
    yield made
    for client in made.clients:
        client.close()
    database.dispose()


def codes(database: Database) -> list[str]:
    """A container of every state, and the one of which nothing is known."""
    found = {}
    with database.reading() as session:
        for box in session.exec(select(Container).order_by(col(Container.id))).all():
            found[(box.state, box.balance is None)] = box.code
    assert {state for state, _ in found} == set(ContainerState)
    return list(found.values())


def addresses(database: Database) -> Iterator[str]:
    for row in ROWS:
        if row.method != "GET":
            continue
        names = re.findall(r"\{(\w+)(?::\w+)?\}", row.path)
        for n in range(5):
            path = row.path
            for name in names:
                values = codes(database) if name == "code" else KNOWN.get(name, ["1", "2", "3", "4"])
                path = re.sub(rf"\{{{name}(:\w+)?\}}", values[min(n, len(values) - 1)], path)
            yield path
            if not names:
                break


def visit(client: TestClient, path: str) -> int:
    return client.get(path).status_code


@pytest.mark.parametrize("role", list(Role))
def test_every_page_opens(demo: Shop, role: Role) -> None:
    paths = sorted(set(addresses(demo.database)))
    page, script = demo.signed_in(role), demo.api(role)
    answers = {p: visit(script if p.startswith("/api/") else page, p) for p in paths}
    odd = {p: status for p, status in answers.items() if status not in (200, 302, 303, 403, 404, 409, 422)}
    assert not odd
    if role is Role.KEEPER:
        # Some need something in the query; nothing else of a keeper's is refused.
        plain = {p for p in paths if p in {row.path for row in ROWS}} - {"/tap"}  # for tablets
        assert {p: s for p, s in answers.items() if p in plain and s not in (200, 302, 303, 422)} == {}
        assert answers["/"] == answers["/alerts"] == answers["/policies"] == 200
