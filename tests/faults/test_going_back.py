"""Back to an older schema and forward again: what both know is kept, and what would be lost is refused."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest
from alembic import command
from alembic.script import ScriptDirectory
from sqlalchemy import inspect

from service.records.engine import Database, open_database
from service.records.migrate import _config, migrate
from service.records.revisions import WouldLose, newest_revision, revision_of
from tests.faults.invariants import faults_of
from tests.faults.kept_shop import Rows, dump, fill, kept, read
from tests.postgres_server import PostgresServer

_numbers = itertools.count(1)

SINCE = {
    "0002": {"stock_list"},
    "0003": {"day_closing", "rag_hand"},
    "0005": {"channel", "outbox", "warning_round"},
    "0007": {"material_component"},
    "0008": {"room_air"},
    "0010": {"as_made", "colour_sample"},
    "0011": {"condition_rule", "digest_choice", "calendar_feed"},
    "0012": {
        "term", "planned_job", "planned_date", "supplier", "pack_size", "material_minimum", "purchase_order",
        "order_line",
    },
    "0017": {"calendar_told", "mail_leave"},
    "0015": {"recurring_check", "check_done", "training"},
    "0013": {"material_storage", "place_storage"},
    "0019": {"waste_drum", "waste_drum_entry", "waste_site"},
}
"""The tables that came with a revision."""
COLUMNS_SINCE = {
    "0006": {"place": {"capacity_ml"}},
    "0009": {"material_component": {"limits", "m_acute", "m_chronic", "ate"}},
    "0010": {
        "recipe": {"mix_purpose"},
        "recipe_version": {"coverage_written", "coverage_low_m2_l", "coverage_high_m2_l", "base_position"},
        "batch": {"yield_how", "loss_written", "loss_amount", "loss_basis", "strained", "stir_note"},
        "addition": {"how", "at_most", "pot_before_mg", "pot_after_mg"},
        "material": {
            "oil_absorption_low", "oil_absorption_high", "non_volatile_percent", "pigment_percent",
            "pigment_key", "film_source",
        },
        "container": {"price"},
        "shop_profile": {"currency"},
    },
    "0011": {"container_event": {"found", "measured_mg_l"}},
    "0018": {"container": {"order_line_id"}},
    "0020": {"waste_drum_entry": {"place_id"}},
    "0017": {"calendar_feed": {"ended_why"}},
    "0013": {"container": {"vessel"}, "shop_profile": {"storage_rules"}},
}
"""The columns that came with a revision into tables that were there before."""
CHAIN = [one.revision for one in ScriptDirectory.from_config(_config()).walk_revisions()][::-1]
"""Every revision, each after the one it follows: their numbers need not be in order, nor without gaps."""
OLDER = CHAIN[:-1]
assert CHAIN[-1] == newest_revision()


def is_newer(since: str, older: str) -> bool:
    return older == "base" or CHAIN.index(since) > CHAIN.index(older)


@pytest.fixture(params=["sqlite", "postgres"])
def empty_database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A database without any table."""
    if request.param == "sqlite":
        database = open_database(f"sqlite:///{tmp_path}/shop.sqlite", pooled=False)
        yield database
        database.dispose()
        return
    server: PostgresServer = request.getfixturevalue("postgres_server")
    name = f"going_back{next(_numbers)}"
    server.admin(f"CREATE DATABASE {name}")
    database = open_database(server.url(name), pooled=False)
    yield database
    database.dispose()
    server.admin(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def at_newest(empty_database: Database) -> Database:
    migrate(empty_database)
    return empty_database


def go_back(database: Database, revision: str) -> None:
    """As `migrate` goes forward: one transaction, foreign keys off meanwhile."""
    config = _config()
    with database.writer.connect() as connection:
        if database.sqlite:
            raw = connection.connection.driver_connection
            connection.rollback()
            raw.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        config.attributes["connection"] = connection
        with connection.begin():
            command.downgrade(config, revision)
        if database.sqlite:
            raw.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]


def revision(database: Database) -> str | None:
    with database.engine.connect() as connection:
        return revision_of(connection)


def tables(database: Database) -> set[str]:
    with database.engine.connect() as connection:
        return set(inspect(connection).get_table_names()) - {"alembic_version"}


def newer_than(older: str) -> set[str]:
    return {name for since, names in SINCE.items() if is_newer(since, older) for name in names}


def older_rows(older: str) -> Rows:
    """The newest kept shop, as far as the older schema knows it."""
    rows = {name: many for name, many in read(kept()[-1]).items() if name not in newer_than(older)}
    for since, tables_of in COLUMNS_SINCE.items():
        for name, columns in tables_of.items():
            if is_newer(since, older) and name in rows:
                rows[name] = [{k: v for k, v in row.items() if k not in columns} for row in rows[name]]
    return rows


def without_columns_of(since: str, rows: Rows) -> Rows:
    """The rows as they would be if nobody had written into the columns that came with a revision."""
    gone = COLUMNS_SINCE[since]
    return {
        name: [{k: v for k, v in row.items() if k not in gone.get(name, set())} for row in many]
        for name, many in rows.items()
    }


@pytest.mark.parametrize("older", OLDER)
def test_what_both_schemas_know_comes_through_both_ways(at_newest: Database, older: str) -> None:
    rows = older_rows(older)
    assert rows["movement"] and rows["rag_log"]
    fill(at_newest, rows)
    go_back(at_newest, older)
    assert revision(at_newest) == older
    assert newer_than(older).isdisjoint(tables(at_newest))
    assert dump(at_newest, rows) == rows
    migrate(at_newest)
    assert revision(at_newest) == newest_revision()
    assert dump(at_newest, rows) == rows
    assert faults_of(at_newest) == []


@pytest.mark.parametrize("older", ["base", *OLDER])
def test_what_only_the_newer_schema_knows_is_never_dropped(at_newest: Database, older: str) -> None:
    rows = read(kept()[-1])
    for since in ("0010", "0011", "0013", "0017", "0018"):
        rows = without_columns_of(since, rows) if is_newer(since, older) else rows
    fill(at_newest, rows)
    before = dump(at_newest)
    lost = sorted(before if older == "base" else newer_than(older) & before.keys())
    if not lost:
        go_back(at_newest, older)
        known = older_rows(older)
        assert dump(at_newest, known) == known
        return
    with pytest.raises(WouldLose) as refused:
        go_back(at_newest, older)
    assert f"no place for what is written in {', '.join(lost)}. Nothing was changed." in str(refused.value)
    assert revision(at_newest) == newest_revision()
    assert dump(at_newest) == before


def test_an_empty_shop_goes_back_to_nothing(at_newest: Database) -> None:
    with at_newest.writer.begin() as connection:
        for name in ("book_clock", "rag_chain_head"):
            assert connection.exec_driver_sql(f"select count(*) from {name}").scalar() in (0, 1)
            connection.exec_driver_sql(f"delete from {name}")
    go_back(at_newest, "base")
    assert revision(at_newest) is None
    assert tables(at_newest) == set()


def test_the_list_of_tables_by_revision_is_whole(empty_database: Database) -> None:
    seen: set[str] = set()
    for number in [*OLDER, newest_revision()]:
        migrate(empty_database, number)
        now = tables(empty_database)
        assert number == OLDER[0] or now - seen == SINCE.get(number, set())
        seen = now


def test_what_a_can_holds_is_not_dropped(at_newest: Database) -> None:
    fill(at_newest, older_rows("0005"))
    with at_newest.writer.begin() as connection:
        connection.exec_driver_sql("update place set capacity_ml = 38000 where id = 1")
    with pytest.raises(WouldLose, match="what a can holds"):
        go_back(at_newest, "0005")
    assert revision(at_newest) == newest_revision()


@pytest.mark.parametrize("told", ["limits = '[]'", "m_acute = '10'", "m_chronic = '1'", "ate = '{}'"])
def test_figures_of_a_component_are_not_dropped(at_newest: Database, told: str) -> None:
    rows = older_rows("0009")
    assert rows["material_component"]
    fill(at_newest, rows)
    with at_newest.writer.begin() as connection:
        connection.exec_driver_sql(f"update material_component set {told} where position = 0")
    with pytest.raises(WouldLose, match="limits, M-factors and estimates"):
        go_back(at_newest, "0008")
    assert revision(at_newest) == newest_revision()


BENCH_COLUMNS = [
    (name, column) for name, columns in COLUMNS_SINCE["0010"].items() for column in sorted(columns)
]


@pytest.mark.parametrize(("table", "column"), BENCH_COLUMNS)
def test_what_the_bench_wrote_is_not_dropped(at_newest: Database, table: str, column: str) -> None:
    rows = older_rows("0009")
    told = [{**row, column: None} for row in rows[table]]
    told[-1][column] = _something(column)
    fill(at_newest, rows | {table: told})
    with pytest.raises(WouldLose, match=rf"{table} \(.*{column}"):
        go_back(at_newest, "0009")
    assert revision(at_newest) == newest_revision()


@pytest.mark.parametrize("column", sorted(COLUMNS_SINCE["0011"]["container_event"]))
def test_what_a_check_found_is_not_dropped(at_newest: Database, column: str) -> None:
    rows = older_rows("0010")
    told = [{**row, column: None} for row in rows["container_event"]]
    told[-1][column] = _something(column)
    fill(at_newest, rows | {"container_event": told})
    with pytest.raises(WouldLose, match=rf"container_event \(.*{column}"):
        go_back(at_newest, "0010")
    assert revision(at_newest) == newest_revision()


def _something(column: str) -> object:
    """A value that the column takes."""
    if column == "measured_mg_l":
        return "25"
    whole = {"base_position", "loss_amount", "at_most", "pot_before_mg", "pot_after_mg"}
    return 1 if column in whole else True if column == "strained" else "1"


@pytest.mark.parametrize(
    ("table", "column"),
    [(table, column) for table, columns in COLUMNS_SINCE["0013"].items() for column in sorted(columns)],
)
def test_what_was_said_for_storage_is_not_dropped(at_newest: Database, table: str, column: str) -> None:
    before = CHAIN[CHAIN.index("0013") - 1]
    rows = older_rows(before)
    told = [{**row, column: None} for row in rows[table]]
    told[-1][column] = "glass" if column == "vessel" else ["ifc-2018"]
    fill(at_newest, rows | {table: told})
    with pytest.raises(WouldLose, match=rf"{table} \(.*{column}"):
        go_back(at_newest, before)
    assert revision(at_newest) == newest_revision()


def test_where_a_drum_was_moved_to_is_not_dropped(at_newest: Database) -> None:
    rows = older_rows("0019")
    told = [{**row, "place_id": None} for row in rows["waste_drum_entry"]]
    told[-1]["place_id"] = 1
    fill(at_newest, rows | {"waste_drum_entry": told})
    with pytest.raises(WouldLose, match=r"waste_drum_entry \(where a drum was moved to\)"):
        go_back(at_newest, "0019")
    assert revision(at_newest) == newest_revision()
