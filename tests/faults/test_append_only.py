"""Nothing that was written down is changed, in whatever way SQL has for it, by us or by a foreign tool."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import pytest
from sqlalchemy import inspect, text
from sqlmodel import col, select

from service.actions.correct_entry import ReverseAsked, reverse
from service.config import Settings
from service.core.access import Actor, Role
from service.core.findings import RequestError
from service.demo_loader import load_demo
from service.records.engine import Database, open_database
from service.records.knowledge_periods import record_periods
from service.records.people import Person
from service.records.stock import Movement
from tests.builders import FAST_HASHER, NOW
from tests.conftest import fresh_sqlite
from tests.postgres_server import PostgresServer

TABLES = {
    "posting": "id",
    "posting_result": "posting_id",
    "movement": "id",
    "container_event": "id",
    "rag_log": "id",
    "witnessed_head": "id",
    "override": "id",
    "override_use": "override_id",
    "recipe_version": "id",
    "recipe_line": "id",
    "as_made": "version_id",
    "addition": "id",
    "change": "id",
    "rag_hand": "id",
    "day_closing": "id",
    "condition_rule": "id",
    "check_done": "id",
    "training": "id",
    "waste_drum": "id",
    "waste_drum_entry": "id",
    "waste_site": "id",
}
"""Typed here by hand, not taken from the migrations: a table that loses its triggers must show."""


@pytest.fixture(scope="module", params=["sqlite", "postgres"])
def full(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    """A database with rows in every one of these tables."""
    folder = tmp_path_factory.mktemp("full")
    server: PostgresServer | None = None
    if request.param == "sqlite":
        url = fresh_sqlite(request.getfixturevalue("sqlite_template"), folder)
    else:
        server = request.getfixturevalue("postgres_server")
        template = request.getfixturevalue("postgres_template")
        server.admin(f"CREATE DATABASE append_only TEMPLATE {template}")
        url = server.url("append_only")
    database = open_database(url)
    load_demo(database, Settings(data=folder, database_url=""), NOW, "Europe/Berlin", FAST_HASHER)
    _take_one_back(database)
    with database.writing() as session:
        session.execute(text(
            "insert into override (id, keeper_id, job_id, reason, created_at, until) select 1, "
            "(select min(id) from person), (select min(id) from job), 'said so', recorded_at, recorded_at "
            "from posting order by id limit 1"
        ))  # fmt: skip
        session.execute(text(
            "insert into rag_hand (id, posting_id, job_id, way, thing, pieces, person_id, at) select 1, id, "
            "(select min(id) from job), 'out', 'rags', 3, person_id, recorded_at "
            "from posting order by id limit 1"
        ))  # fmt: skip
        session.execute(text(
            "insert into day_closing (id, posting_id, day, closed_by, closed_at, note, entries, hash) "
            "select 1, id, '2026-03-12', person_id, recorded_at, '', 1, 'ab' from posting order by id limit 1"
        ))  # fmt: skip
        session.execute(text(
            "insert into condition_rule (id, found, consequence, what_to_do, source, grade, house_policy, "
            "reason, set_by, set_at) select 1, 'mould', 'ends', 'Discard it.', '', '', true, 'seen here', "
            "person_id, recorded_at from posting order by id limit 1"
        ))  # fmt: skip
        session.execute(
            text("insert into override_use (override_id, posting_id) select 1, min(id) from posting")
        )
    yield database
    database.dispose()
    if server is not None:
        server.admin("DROP DATABASE append_only WITH (FORCE)")


def _take_one_back(database: Database) -> None:
    """One reversal, so that the other unique key of the ledger has something to be replaced."""
    with database.reading() as session:
        keeper = session.exec(select(Person).where(Person.role == Role.KEEPER, col(Person.active))).first()
        newest = session.exec(select(Movement.id).order_by(col(Movement.id).desc())).all()
    assert keeper is not None and keeper.id is not None
    actor = Actor(keeper.id, keeper.name, keeper.role)
    for number in newest:
        with suppress(RequestError), database.writing() as session:
            reverse(session, actor, NOW, ReverseAsked("take-one-back", number or 0, "Written by mistake."))
            return
    raise AssertionError("nothing could be taken back")


def columns_of(database: Database, table: str) -> list[str]:
    return [f'"{column["name"]}"' for column in inspect(database.engine).get_columns(table)]


def attempts(database: Database, table: str, key: str) -> dict[str, str]:
    """Every way to change, replace or remove the newest row, or all of them."""
    names = columns_of(database, table)
    all_names, last = ", ".join(names), f'(select max({key}) from "{table}")'
    other = next(name for name in reversed(names) if name != f'"{key}"')
    same_row = f'select {all_names} from "{table}" where {key} = {last}'
    found = {
        "update": f'update "{table}" set {other} = {other} where {key} = {last}',
        "update of the key": f'update "{table}" set {key} = {key} + 100000 where {key} = {last}',
        "delete": f'delete from "{table}" where {key} = {last}',
        "delete all": f'delete from "{table}"',
        "upsert": f'insert into "{table}" ({all_names}) {same_row} '
        f"on conflict ({key}) do update set {other} = excluded.{other}",
    }
    if database.sqlite:
        found |= {
            "replace": f'replace into "{table}" ({all_names}) {same_row}',
            "update or replace": f'update or replace "{table}" set {other} = {other} where {key} = {last}',
            "upsert of any conflict": f'insert into "{table}" ({all_names}) {same_row} and true '
            f"on conflict do update set {other} = excluded.{other}",
        }
        for unique in inspect(database.engine).get_unique_constraints(table):
            found[f"replace by {unique['column_names']}"] = _by_other_key(table, key, names, unique)
    else:
        found |= {
            "truncate": f'truncate "{table}" cascade',
            "merge": f'merge into "{table}" t using (select {last} as k) s on t.{key} = s.k '
            "when matched then delete",
        }
    return found


def _by_other_key(table: str, key: str, names: list[str], unique: Any) -> str:
    """REPLACE with a new number and the old value of another unique key."""
    picked = [f"{key} + 100000" if name == f'"{key}"' else name for name in names]
    known = " and ".join(f'"{column}" is not null' for column in unique["column_names"])
    return (
        f'replace into "{table}" ({", ".join(names)}) select {", ".join(picked)} from "{table}" '
        f"where {known} order by {key} desc limit 1"
    )


def rows(database: Database, table: str) -> list[tuple[Any, ...]]:
    with database.engine.connect() as connection:
        return sorted(map(tuple, connection.execute(text(f'select * from "{table}"')).all()), key=repr)


@pytest.mark.parametrize("table", TABLES)
def test_no_way_of_sql_changes_it(full: Database, table: str) -> None:
    before = rows(full, table)
    assert before, "an empty table proves nothing"
    tried = attempts(full, table, TABLES[table])
    for how, statement in tried.items():
        with pytest.raises(Exception, match="append-only"), full.writing() as session:
            session.execute(text(statement))
        assert rows(full, table) == before, how
    assert len(tried) >= 7


@pytest.mark.parametrize("table", TABLES)
def test_a_foreign_tool_with_its_own_settings_changes_nothing(full: Database, table: str) -> None:
    """SQLite's triggers and PostgreSQL's stand in the database, whatever the connection is set to."""
    before = rows(full, table)
    loose = "pragma recursive_triggers=off" if full.sqlite else "set statement_timeout = 0"
    for how, statement in attempts(full, table, TABLES[table]).items():
        with full.engine.connect() as connection:
            raw = connection.connection.driver_connection
            assert raw is not None
            raw.execute(loose)
            with pytest.raises(Exception, match="append-only"):
                connection.execute(text(statement))
            connection.rollback()
            connection.invalidate()
        assert rows(full, table) == before, how


def test_these_are_all_the_tables_that_have_such_triggers(full: Database) -> None:
    query = (
        "select distinct tbl_name from sqlite_master where type = 'trigger' and sql like '%is append-only%'"
        if full.sqlite
        else "select distinct event_object_table from information_schema.triggers "
        "where action_statement like '%_append_only%'"
    )
    with full.engine.connect() as connection:
        found = set(connection.execute(text(query)).scalars())
    assert found == set(TABLES)


KEPT = {
    "material": "id", "container": "id", "safety_sheet": "id", "stored_file": "sha256", "duty": "id",
    "recurring_check": "id",
}  # fmt: skip
"""Tables whose rows change but are never deleted, typed by hand."""


@pytest.mark.parametrize("table", KEPT)
def test_a_row_that_may_change_is_never_deleted(full: Database, table: str) -> None:
    key = KEPT[table]
    with full.writing() as session:
        if table == "stored_file":
            session.execute(text(
                "insert into stored_file (sha256, name, media_type, size_bytes, added_by, added_at) select "
                "'ab', 'sheet.pdf', 'application/pdf', 3, min(person_id), min(recorded_at) from posting "
                "where not exists (select 1 from stored_file)"
            ))  # fmt: skip
    before = rows(full, table)
    assert before, "an empty table proves nothing"
    newest = f'where {key} = (select max({key}) from "{table}")'
    tried = [f'delete from "{table}"', f'delete from "{table}" {newest}']
    if full.sqlite:
        tried.append(f'replace into "{table}" select * from "{table}"')
    else:
        tried.append(f'truncate "{table}" cascade')
    for statement in tried:
        with pytest.raises(Exception, match=r"never deleted|append-only"), full.writing() as session:
            session.execute(text(statement))
        assert rows(full, table) == before, statement


def test_every_log_with_a_period_is_guarded(full: Database) -> None:
    """Each table that the page of periods names refuses a deletion by somebody's trigger."""
    guarded = set(TABLES) | set(KEPT)
    for one in record_periods():
        assert set(one.tables) <= guarded, one.log
        assert one.tables or "Not kept in this program" in one.note
