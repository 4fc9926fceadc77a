"""A seeded store brought into PostgreSQL by COPY, as it lies in its SQLite file: minutes become seconds."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

from psycopg import Connection
from psycopg.sql import SQL, Identifier
from sqlalchemy import inspect, text
from sqlmodel import SQLModel

from service.records.engine import Database, sqlite_module

_ROWS = 5_000


def copy_store(store: Path, database: Database) -> None:
    """Fill a migrated, empty PostgreSQL database with every row of a store of the same schema.

    Rows are written as SQLite keeps them, which PostgreSQL reads; keys are checked by nobody on the way, for
    the store holds together already.
    """
    with database.engine.connect() as connection:
        there = set(inspect(connection).get_table_names())
        raw = connection.connection.driver_connection
        assert isinstance(raw, Connection)
        raw.execute("set session_replication_role = replica")
        raw.execute("set time zone 'UTC'")
        raw.execute("set statement_timeout = 0")
        names = [table.name for table in SQLModel.metadata.sorted_tables if table.name in there]
        raw.execute(SQL("truncate {}").format(SQL(", ").join(map(Identifier, names))))
        with closing(sqlite_module().connect(store)) as source:
            for table in SQLModel.metadata.sorted_tables:
                if table.name in there:
                    _copy(source, raw, table.name, [column.name for column in table.columns])
        raw.execute("set session_replication_role = origin")
        connection.commit()
        for table in SQLModel.metadata.sorted_tables:
            if "id" in table.columns:
                _count_on(connection, table.name)
        connection.execute(text("analyze"))
        connection.commit()


def _copy(source: object, target: Connection, name: str, columns: list[str]) -> None:
    listed = ", ".join(f'"{column}"' for column in columns)
    rows = source.execute(f'select {listed} from "{name}"')  # type: ignore[attr-defined]
    into = SQL("copy {} ({}) from stdin").format(Identifier(name), SQL(", ").join(map(Identifier, columns)))
    with target.cursor() as cursor, cursor.copy(into) as copy:
        while some := rows.fetchmany(_ROWS):
            for row in some:
                copy.write_row(row)


def _count_on(connection: object, name: str) -> None:
    """PostgreSQL counts on from its own sequence, which rows with given numbers do not move."""
    of_table = f"pg_get_serial_sequence('\"{name}\"', 'id')"
    connection.execute(  # type: ignore[attr-defined]
        text(f'select setval({of_table}, (select max(id) from "{name}")) where {of_table} is not null')
    )
