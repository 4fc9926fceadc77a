"""Engines: settings that the ledger relies on, fairness, refusal of rewriting."""

from __future__ import annotations

import threading
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError

from service.records.engine import Database, FairLock, engine_facts, open_database, wal_is_sound
from service.records.migrate import FOLDER, migrate
from service.records.people import Person
from service.records.rags import WitnessedHead
from service.records.revisions import SchemaTooNew, newest_revision, revision_of


def test_sqlite_settings_hold_on_every_connection(sqlite_database: Database) -> None:
    for _ in range(3):
        with sqlite_database.engine.connect() as connection:
            got = {
                name: connection.execute(text(f"pragma {name}")).scalar_one()
                for name in ("foreign_keys", "synchronous", "recursive_triggers")
            }
        assert got == {"foreign_keys": 1, "synchronous": 2, "recursive_triggers": 1}
        sqlite_database.engine.dispose()


def test_engine_facts_name_what_runs(database: Database) -> None:
    facts = engine_facts(database)
    assert facts["engine"] == ("SQLite" if database.sqlite else "PostgreSQL")
    if database.sqlite:
        version = tuple(int(n) for n in facts["version"].split("."))
        assert facts["journal"] == ("wal" if wal_is_sound(version) else "truncate")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("version", "sound"),
    [
        ((3, 6, 23), True),
        ((3, 7, 0), False),
        ((3, 40, 1), False),
        ((3, 44, 5), False),
        ((3, 44, 6), True),
        ((3, 45, 0), False),
        ((3, 50, 7), True),
        ((3, 51, 0), False),
        ((3, 51, 2), False),
        ((3, 51, 3), True),
        ((3, 53, 4), True),
    ],
)
def test_versions_with_the_published_wal_fault(version: tuple[int, int, int], sound: bool) -> None:
    assert wal_is_sound(version) is sound


def test_append_only_tables_refuse_update_delete_and_replace(database: Database) -> None:
    row = WitnessedHead(id=1, count=0, hash="0" * 64, at=datetime(2026, 1, 1, tzinfo=UTC), where="day sheet")
    with database.writing() as session:
        session.add(row)
    attempts = ["update witnessed_head set count = 7", "delete from witnessed_head"]
    if database.sqlite:
        attempts.append(
            'insert or replace into witnessed_head (id, count, hash, at, "where") '
            "values (1, 9, 'x', '2026-01-01', 'y')"
        )
    else:
        attempts.append("truncate witnessed_head")
    for statement in attempts:
        with pytest.raises((DBAPIError, IntegrityError), match="append-only"), database.writing() as session:
            session.execute(text(statement))
    with database.reading() as session:
        assert session.execute(text("select count from witnessed_head")).scalar_one() == 0


def test_replace_is_refused_even_with_recursive_triggers_off(sqlite_database: Database) -> None:
    with sqlite_database.writing() as session:
        session.add(
            WitnessedHead(id=1, count=0, hash="0", at=datetime(2026, 1, 1, tzinfo=UTC), where="day sheet")
        )
    with pytest.raises(DBAPIError, match="append-only"), sqlite_database.writing() as session:
        session.connection().connection.driver_connection.execute("pragma recursive_triggers=off")  # type: ignore[union-attr]
        session.execute(
            text(
                'insert or replace into witnessed_head (id, count, hash, at, "where") '
                "values (1, 9, 'x', '2026-01-01', 'y')"
            )
        )


def test_an_orphan_row_is_refused(database: Database) -> None:
    with pytest.raises(IntegrityError), database.writing() as session:
        session.execute(
            text(
                "insert into job_person (job_id, person_id, added_at) values (77, 88, '2026-01-01 00:00:00')"
            )
        )


def test_a_failed_unit_of_work_leaves_nothing(database: Database) -> None:
    with pytest.raises(RuntimeError), database.writing() as session:
        session.add(Person(name="Nobody", role="student", created_at=datetime(2026, 1, 1, tzinfo=UTC)))
        session.flush()
        raise RuntimeError("half way")
    with database.reading() as session:
        assert session.execute(text("select count(*) from person")).scalar_one() == 0


def test_the_fair_lock_serves_in_order_and_times_out() -> None:
    lock = FairLock()
    assert lock.acquire(1)
    served: list[int] = []

    def wait(number: int) -> None:
        assert lock.acquire(5)
        served.append(number)
        lock.release()

    threads = []
    for number in range(5):
        thread = threading.Thread(target=wait, args=(number,))
        thread.start()
        threads.append(thread)
        time.sleep(0.02)
    assert not lock.acquire(0.01)
    lock.release()
    for thread in threads:
        thread.join()
    assert served == [0, 1, 2, 3, 4]
    assert lock.acquire(0.1)


def test_migrating_twice_changes_nothing_and_a_newer_schema_is_refused(database: Database) -> None:
    migrate(database)
    with database.engine.connect() as connection:
        assert revision_of(connection) == newest_revision()
    with database.writing() as session:
        session.execute(text("update alembic_version set version_num = 'zzzz'"))
    with pytest.raises(SchemaTooNew):
        migrate(database)


def test_models_and_migrations_say_the_same(database: Database) -> None:
    from alembic.autogenerate import compare_metadata
    from alembic.runtime.migration import MigrationContext
    from sqlmodel import SQLModel

    from service.records import tables

    assert tables.MODULES
    with database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_revisions_are_those_of_the_migration_tool(database: Database) -> None:
    from alembic.config import Config
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    config = Config()
    config.set_main_option("script_location", str(FOLDER))
    config.set_main_option("path_separator", "os")
    assert newest_revision() == ScriptDirectory.from_config(config).get_current_head()
    with database.engine.connect() as connection:
        assert revision_of(connection) == MigrationContext.configure(connection).get_current_revision()


def test_an_empty_database_has_no_revision(tmp_path: Path) -> None:
    empty = open_database(f"sqlite:///{tmp_path}/empty.sqlite")
    with empty.engine.connect() as connection:
        assert revision_of(connection) is None
    empty.dispose()
