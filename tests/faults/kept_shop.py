"""Shops as an older program left them, kept as plain rows: every later one must upgrade them on both engines.

    python -m tests.faults.kept_shop REVISION

writes the demo shop at that revision to `tests/faults/kept_shops/`. Do it once, when a program with a new
schema goes out; a file that is there is never made anew.
"""

from __future__ import annotations

import gzip
import json
import sys
import tempfile
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, text
from sqlalchemy import types as sa_types

from service.config import Settings
from service.demo_loader import load_demo
from service.records.engine import Database, open_database
from service.records.migrate import migrate
from tests.builders import FAST_HASHER, NOW

FOLDER = Path(__file__).parent / "kept_shops"
Rows = dict[str, list[dict[str, Any]]]


def kept() -> list[str]:
    """The revisions of which a shop is kept."""
    return sorted(path.name.removesuffix(".json.gz") for path in FOLDER.glob("*.json.gz"))


def read(revision: str) -> Rows:
    with gzip.open(FOLDER / f"{revision}.json.gz", "rt", encoding="utf-8") as file:
        rows: Rows = json.load(file)
    return rows


def _tables(connection: Connection) -> dict[str, Table]:
    found = MetaData()
    found.reflect(connection)
    return {name: table for name, table in found.tables.items() if name != "alembic_version"}


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def dump(database: Database, wanted: Rows | None = None) -> Rows:
    """Every row of every table as plain data; with ``wanted`` only its tables and columns."""
    if not database.sqlite:
        _in_utc(database)
    with database.engine.connect() as connection:
        found: Rows = {}
        for name, table in sorted(_tables(connection).items()):
            rows = [
                {key: _plain(value) for key, value in row._mapping.items()}
                for row in connection.execute(table.select().order_by(*table.primary_key.columns))
            ]
            if wanted is not None:
                columns = wanted.get(name, [{}])[0] if wanted.get(name) else {}
                rows = [{key: row[key] for key in columns} for row in rows] if columns else []
            if rows:
                found[name] = rows
    return found


def _in_utc(database: Database) -> None:
    """Every connection of ours shows instants in UTC; without that, plain times could not be compared."""
    with database.engine.connect() as connection:
        assert connection.execute(text("show timezone")).scalar_one() == "UTC"


def _typed(table: Table, row: dict[str, Any], sqlite: bool) -> dict[str, Any]:
    made = {}
    days = sa_types.DateTime | sa_types.Date | sa_types.Time
    for key, value in row.items():
        kind = table.c[key].type
        if value is None or (sqlite and not isinstance(kind, days)):
            made[key] = value
        elif isinstance(kind, sa_types.DateTime):
            made[key] = datetime.fromisoformat(value)
        elif isinstance(kind, sa_types.Date):
            made[key] = date.fromisoformat(value)
        elif isinstance(kind, sa_types.Time):
            made[key] = time.fromisoformat(value)
        else:
            made[key] = bool(value) if isinstance(kind, sa_types.Boolean) else value
    return made


def fill(database: Database, rows: Rows) -> None:
    """Put the rows into an empty database of their revision, past every rule and trigger."""
    with database.writer.connect() as connection:
        tables = _tables(connection)
        connection.rollback()
        if database.sqlite:
            connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        with connection.begin():
            if not database.sqlite:
                connection.execute(text("set local session_replication_role = replica"))
            for name, many in rows.items():
                table = tables[name]
                connection.execute(table.delete())
                connection.execute(table.insert(), [_typed(table, row, database.sqlite) for row in many])
            if not database.sqlite:
                _move_counters(connection, rows)


def _move_counters(connection: Connection, rows: Rows) -> None:
    for name, many in rows.items():
        if "id" in many[0] and isinstance(many[0]["id"], int):
            counter = connection.execute(text(f"select pg_get_serial_sequence('\"{name}\"', 'id')")).scalar()
            if counter:
                connection.execute(text(f"select setval('{counter}', {max(row['id'] for row in many)})"))


def main(revision: str) -> None:
    """Write the demo shop at a revision."""
    target = FOLDER / f"{revision}.json.gz"
    if target.exists():
        raise SystemExit(f"{target} is there already; what was kept stays as it is.")
    with tempfile.TemporaryDirectory() as name:
        database = open_database(f"sqlite:///{name}/shop.sqlite")
        migrate(database, revision)
        load_demo(database, Settings(Path(name), ""), NOW, "Europe/Berlin", FAST_HASHER)
        rows = dump(database)
        database.dispose()
    FOLDER.mkdir(exist_ok=True)
    with gzip.open(target, "wt", encoding="utf-8") as file:
        json.dump(rows, file, sort_keys=True)


if __name__ == "__main__":
    main(sys.argv[1])
