"""PostgreSQL is stopped, restarted and killed under the service; one of several services is killed."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from service.config import read_settings
from service.serving import opened
from tests.faults.how_many import how_many
from tests.faults.invariants import nothing_lost
from tests.faults.kills import kill_rounds
from tests.faults.served import Served
from tests.faults.stand import AUTH, BROWSER, Stand, furnish
from tests.faults.writers import AtWork, all_kept, crew, no_bad_answers
from tests.postgres_server import PostgresServer, start_postgres

KILLS = how_many(10, 200)


@pytest.fixture(scope="module")
def durable() -> Iterator[PostgresServer]:
    """A server of this file's own, with the safe settings that a shop has."""
    server = start_postgres(durable=True)
    try:
        yield server
    finally:
        server.stop()


@pytest.fixture
def shop(durable: PostgresServer, tmp_path: Path) -> Iterator[Stand]:
    durable.admin("CREATE DATABASE shop")
    env = {"UMBERKEEP_DATABASE_URL": durable.url("shop")}
    opened(read_settings(env, data=str(tmp_path / "shop"))).dispose()
    yield furnish(tmp_path / "shop", durable.url("shop"))
    durable.admin("DROP DATABASE shop WITH (FORCE)")


def test_postgresql_killed_ten_times_loses_nothing(
    shop: Stand, durable: PostgresServer, serving: Callable[..., Served]
) -> None:
    service = serving(shop)
    first = service.pid

    def recover() -> None:
        durable.start()
        service.await_answer()

    report = kill_rounds(shop, service, KILLS, 20261127, durable.kill, recover)
    assert report.acknowledged >= KILLS and report.unanswered >= KILLS
    assert service.pid == first, "the service came back to the database by itself"


@pytest.mark.parametrize("mode", ["fast", "immediate"])
def test_while_the_database_is_away_it_is_said_and_afterwards_all_goes_on(
    shop: Stand, durable: PostgresServer, serving: Callable[..., Served], mode: str
) -> None:
    service = serving(shop)
    writers = crew(shop, [service.port], 8, 31)
    with AtWork(writers, through_trouble=True) as work:
        assert work.first_answer.wait(20)
        time.sleep(0.3)
        durable.halt(mode)
        try:
            service.await_answer(path="/health/ready", status=503)
            assert service.get("/health/live")[0] == 200
            status, headers, body = service.get(f"/api/containers/{shop.powders[0]}", AUTH)
            assert (status, headers["content-type"]) == (503, "application/problem+json")
            assert headers["retry-after"] == "5"
            assert json.loads(body)["type"] == "/problems/away"
            status, _, page = service.get("/store", BROWSER)
            assert status == 503 and b"<h1>The database cannot be reached</h1>" in page
            form = {"content-type": "application/x-www-form-urlencoded", **BROWSER}
            fields = urlencode({"once": "away", "how": "amount", "amount": "1 g"})
            assert service.ask("POST", f"/containers/{shop.powders[0]}/draw", form, fields)[0] == 503
        finally:
            durable.start()
        service.await_answer(path="/health/ready", status=200)
    no_bad_answers(writers)  # 201, a refusal by a rule, or 503 with Retry-After: never a bare error
    assert sum(len(writer.open) for writer in writers) >= len(writers)
    for writer in writers:
        writer.hang_up()
        writer.settle_open()
    again = crew(shop, [service.port], 12, 32)
    for writer in again:  # more clients than pooled connections: a stale one would be met
        for number in range(3):
            body = {"once": f"{writer.name}-{number}", "amount": "1 g"}
            assert writer.send((f"/api/containers/{shop.powders[0]}/draws", body)) == 201, writer.bad
    assert nothing_lost(shop, [*writers, *again]) > 36


def test_of_three_services_on_one_database_one_is_killed_and_nothing_is_lost(
    shop: Stand, serving: Callable[..., Served]
) -> None:
    services = [serving(shop) for _ in range(3)]
    ports = [service.port for service in services]
    writers = crew(shop, ports, 9, 41)
    with AtWork(writers, through_trouble=True) as work:
        assert work.first_answer.wait(20)
        time.sleep(0.5)
        services[0].kill()
        before = len(all_kept(writers))
        time.sleep(1.0)
    no_bad_answers(writers)
    assert len(all_kept(writers)) > before, "the others went on"
    for writer in writers:
        writer.hang_up()
        writer.ports = ports[1:]
        writer.settle_open()
        assert not writer.open
    assert nothing_lost(shop, writers) > before
