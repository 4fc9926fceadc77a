"""Every page of the service opens on the demo shop, for every role, and none fails."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient
from sqlmodel import select

from service.core.access import Role
from service.core.containers import ContainerState
from service.records.stock import Container
from service.web.route_table import ROWS
from tests.web.conftest import Shop
from tests.web.demo_shop import addresses, demo_on


@pytest.fixture(scope="module")
def demo(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    with demo_on("sqlite", request, tmp_path_factory.mktemp("demo")) as shop:
        yield shop


def test_the_demo_holds_containers_of_every_state(demo: Shop) -> None:
    with demo.database.reading() as session:
        states = set(session.exec(select(Container.state)).all())
    assert states == set(ContainerState)


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
