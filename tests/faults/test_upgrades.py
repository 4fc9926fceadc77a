"""A shop that an older program left is brought up to date with all it holds, also when it is killed at it."""

from __future__ import annotations

import itertools
import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import text
from sqlmodel import select

from service.actions.check_ledger import check
from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Actor, Role
from service.core.containers import ContainerState
from service.records.engine import Database
from service.records.materials import Material
from service.records.migrate import _config, migrate
from service.records.people import Person
from service.records.revisions import newest_revision, revision_of
from service.records.stock import Container
from tests.builders import NOW
from tests.faults.how_many import how_many
from tests.faults.invariants import faults_of
from tests.faults.kept_shop import Rows, dump, fill, kept, read
from tests.faults.served import Nursery, Served
from tests.faults.stand import Stand
from tests.postgres_server import PostgresServer

KILLS = how_many(5, 50)
_numbers = itertools.count(1)


@pytest.fixture(params=["sqlite", "postgres"])
def empty(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], Stand]]:
    """Makes empty places, without any table."""
    made: list[str] = []

    def make() -> Stand:
        data = tmp_path / f"shop{next(_numbers)}"
        data.mkdir()
        if request.param == "sqlite":
            return Stand(data)
        server: PostgresServer = request.getfixturevalue("postgres_server")
        made.append(f"upgrade{next(_numbers)}")
        server.admin(f"CREATE DATABASE {made[-1]}")
        return Stand(data, server.url(made[-1]))

    yield make
    for name in made:
        request.getfixturevalue("postgres_server").admin(f"DROP DATABASE {name} WITH (FORCE)")


def old_shop(stand: Stand, revision: str) -> Stand:
    with stand.opened() as database:
        migrate(database, revision)
        fill(database, read(revision))
    return stand


def at_revision(database: Database) -> str | None:
    with database.engine.connect() as connection:
        return revision_of(connection)


def test_there_is_one_newest_revision_and_a_shop_is_kept_of_all_before() -> None:
    scripts = ScriptDirectory.from_config(_config())
    assert len(scripts.get_heads()) == 1, "two migrations follow the same one"
    assert len(scripts.get_bases()) == 1
    released = [script.revision for script in scripts.walk_revisions()]
    assert {"0001", "0002"} <= set(kept()) <= set(released)


@pytest.mark.parametrize("revision", kept())
def test_a_kept_shop_is_upgraded_with_all_it_holds(empty: Callable[[], Stand], revision: str) -> None:
    rows = read(revision)
    stand = old_shop(empty(), revision)
    with stand.opened() as database:
        assert at_revision(database) == revision
        migrate(database)
        assert at_revision(database) == newest_revision()
        assert dump(database, rows) == rows, "an upgrade changes nothing that was written down"
        assert faults_of(database) == []
        with database.reading() as session:
            report = check(session)
        assert report.counts["movements"] == len(rows["movement"])
        assert report.counts["rag log entries"] == len(rows["rag_log"]) > 0
        _next_entry(database)
        assert faults_of(database) == []


def _next_entry(database: Database) -> None:
    """The book goes on where it ended: the next number is free, the next amount follows from the last."""
    with database.writing() as session:
        keeper = session.exec(select(Person).where(Person.role == Role.KEEPER)).first()
        box = session.exec(
            select(Container)
            .join(Material)
            .where(Container.state == ContainerState.OPEN, Material.basis == "mass")
        ).first()
        assert keeper is not None and keeper.id is not None and box is not None and box.balance
        before = box.balance
        actor = Actor(keeper.id, keeper.name, keeper.role)
        asked = DrawAsked(once="after-the-upgrade", code=box.code, amount="1 g", looked=True)
        done = draw(session, actor, NOW, asked)
    assert done.result["container"]["amount"] == before - 1000


def test_the_command_and_the_service_refuse_a_newer_schema(
    empty: Callable[[], Stand], servers: Nursery, tmp_path: Path
) -> None:
    stand, said = empty(), tmp_path / "said"
    with stand.opened() as database:
        migrate(database)
        with database.writing() as session:
            session.execute(text("update alembic_version set version_num = '9999'"))
    code, words = servers.run(said, "migrate", "--data", stand.data, url=stand.url)
    assert (code, words) == (1, "The database is at revision 9999, which this program does not know.")
    service = Served(servers, stand.data, stand.url)
    service.start(ready=False)
    assert service.wait() == 1
    assert "revision 9999" in service.printed()
    with stand.opened() as database:
        assert at_revision(database) == "9999"


def unsettled(rows: Rows) -> Rows:
    """The rows without what is worked out anew after an upgrade: how each container stands, and the line
    that says by which rules.
    """
    stored = {"standing", "in_date_until", "next_alert_on"}
    boxes = [{name: one[name] for name in one if name not in stored} for one in rows["container"]]
    said = [one for one in rows["change"] if one["about_kind"] != "program"]
    return rows | {"container": boxes, "change": said}


@pytest.mark.parametrize("start", ["nothing", *kept()[:1]])
def test_killed_while_it_upgrades_it_is_before_or_after_and_the_next_start_finishes(
    empty: Callable[[], Stand], servers: Nursery, tmp_path: Path, start: str
) -> None:
    said, dice, seen = tmp_path / "said", random.Random(f"upgrade from {start}"), set()

    def make() -> Stand:
        stand = empty()
        return stand if start == "nothing" else old_shop(stand, start)

    first = make()
    began = time.monotonic()
    assert servers.run(said, "migrate", "--data", first.data, url=first.url)[0] == 0
    whole_s = time.monotonic() - began
    for _ in range(KILLS):
        stand = make()
        pid = servers.begin(said, "migrate", "--data", stand.data, url=stand.url)
        time.sleep(dice.uniform(0, whole_s))
        os.kill(pid, signal.SIGKILL)
        servers.ended(pid)
        with stand.opened() as database:
            reached = at_revision(database)
            expected = {None if start == "nothing" else start, newest_revision()}
            assert reached in expected, "between two revisions"
            seen.add(reached)
            if start != "nothing":
                assert unsettled(dump(database, read(start))) == unsettled(read(start))
        code, words = servers.run(said, "migrate", "--data", stand.data, url=stand.url)
        assert code == 0, words
        with stand.opened() as database:
            assert at_revision(database) == newest_revision()
            assert faults_of(database) == []
    assert seen
