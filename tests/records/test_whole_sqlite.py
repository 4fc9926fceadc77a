"""Damage to a file of the embedded engine, one kind after the other: each is found, and none is invented."""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest

from service.records.database_copies import CopyError, check_sqlite, copy_sqlite
from service.records.engine import open_database, sqlite_module
from service.records.whole_sqlite import faults_of, rules_of
from tests.bench.seed_stock import seed
from tests.bench.stock_plan import Plan
from tests.bench.workbench import settle_file

TABLES: Final = ("container", "movement", "posting", "rag_log")
INDEXES: Final = (
    "ix_movement_container_id", "ix_container_next_alert_on", "sqlite_autoindex_container_1",
    "sqlite_autoindex_posting_1", "ix_rag_log_load_id",
)  # fmt: skip
LEAF: Final = {"table": 13, "index": 10}
"""The first byte of a page that holds rows, and of one that holds entries of an index."""


@pytest.fixture(scope="module")
def whole(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop of 2,000 containers in one file."""
    path = tmp_path_factory.mktemp("whole") / "whole.sqlite"
    shutil.copy(sqlite_template, path)
    database = open_database(f"sqlite:///{path}", pooled=False)
    seed(database, Plan(2000))
    settle_file(database)
    return path


@pytest.fixture
def file(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(whole, tmp_path / "copy.sqlite"))


def page_size(path: Path) -> int:
    return int.from_bytes(path.read_bytes()[16:18], "big")


def leaves(path: Path, name: str, kind: str) -> Iterator[int]:
    """The numbers (from 0) of the pages at the end of a tree, found by going down from its root."""
    connection = sqlite_module().connect(str(path))
    (root,) = connection.execute("select rootpage from sqlite_schema where name = ?", (name,)).fetchone()
    connection.close()
    data, size, waiting = path.read_bytes(), page_size(path), [root - 1]
    while waiting:
        number = waiting.pop()
        page = data[number * size : (number + 1) * size]
        if page[0] == LEAF[kind]:
            yield number
            continue
        cells = int.from_bytes(page[3:5], "big")
        starts = [int.from_bytes(page[12 + 2 * n : 14 + 2 * n], "big") for n in range(cells)]
        below = [int.from_bytes(page[at : at + 4], "big") for at in starts]
        waiting += [child - 1 for child in [*below, int.from_bytes(page[8:12], "big")]]


def flip(path: Path, at: int, bits: int = 0x11) -> None:
    data = bytearray(path.read_bytes())
    data[at] ^= bits
    path.write_bytes(data)


def refused(path: Path) -> None:
    with pytest.raises(CopyError, match="damaged"):
        check_sqlite(path)


def test_nothing_is_found_in_a_whole_file(file: Path, tmp_path: Path) -> None:
    assert faults_of(file) == []
    copy_sqlite(file, tmp_path / "second.sqlite")


@pytest.mark.parametrize("name", TABLES)
@pytest.mark.parametrize("byte", [0, 3, 5, 8])
def test_the_head_of_a_page_of_rows(file: Path, name: str, byte: int) -> None:
    """Its kind, how many rows it holds, where they begin, where the first one lies."""
    pages = list(leaves(file, name, "table"))
    flip(file, pages[len(pages) // 2] * page_size(file) + byte)
    refused(file)


@pytest.mark.parametrize("name", INDEXES)
def test_any_byte_of_an_entry_in_an_index(whole: Path, file: Path, name: str) -> None:
    """Twelve bytes at random among the entries of its pages, each in a file of its own."""
    chance, size = random.Random(name), page_size(whole)
    pages = list(leaves(whole, name, "index"))
    for _ in range(12):
        shutil.copy(whole, file)
        page = chance.choice(pages)
        data = whole.read_bytes()[page * size : (page + 1) * size]
        slot = 8 + 2 * chance.randrange(int.from_bytes(data[3:5], "big"))
        begins = int.from_bytes(data[slot : slot + 2], "big")
        flip(file, page * size + begins + chance.randrange(1 + data[begins]))
        refused(file)


def test_damage_of_an_index_of_the_shop_shows_in_its_copy(whole: Path, file: Path, tmp_path: Path) -> None:
    """A copy takes the entries of an index as they stand and does not make them anew."""
    page = next(leaves(whole, "ix_movement_container_id", "index"))
    flip(file, (page + 1) * page_size(file) - 1)
    with pytest.raises(CopyError, match="damaged"):
        copy_sqlite(file, tmp_path / "second.sqlite")


@pytest.mark.parametrize("left", [0.999, 0.5, 0.01])
def test_a_file_that_was_cut(file: Path, left: float) -> None:
    data = file.read_bytes()
    file.write_bytes(data[: int(len(data) * left)])
    refused(file)


def test_a_page_of_another_tree(file: Path) -> None:
    """Two tables that share a page: each looks well by itself."""
    size, data = page_size(file), bytearray(file.read_bytes())
    connection = sqlite_module().connect(str(file))
    (root,) = connection.execute("select rootpage from sqlite_schema where name = 'movement'").fetchone()
    connection.close()
    mine = (root - 1) * size
    other = next(leaves(file, "rag_log", "table"))
    data[mine + 8 : mine + 12] = (other + 1).to_bytes(4, "big")
    file.write_bytes(data)
    refused(file)


BROKEN: Final[dict[str, tuple[str, str]]] = {
    "a word outside the list of a rule": (
        "update container set state = 'lost' where id = 77", "breaks a rule"),
    "a number a rule forbids": ("update container set balance = -1 where id = 5", "breaks a rule"),
    "a rule over two columns": (
        "update movement set change = null, kind = 'loss' where id = 9", "breaks a rule"),
    "a row that points at nothing": ("delete from posting where id = 3", "points at nothing in posting"),
}  # fmt: skip


def without_guards(path: Path, statement: str, *pragmas: str) -> None:
    connection = sqlite_module().connect(str(path))
    for (trigger,) in connection.execute("select name from sqlite_schema where type = 'trigger'").fetchall():
        connection.execute(f'drop trigger "{trigger}"')
    for pragma in pragmas:
        connection.execute(f"pragma {pragma}")
    assert connection.execute(statement).rowcount == 1
    connection.commit()
    connection.close()


@pytest.mark.parametrize("name", list(BROKEN))
def test_a_row_that_breaks_a_rule(file: Path, name: str) -> None:
    statement, words = BROKEN[name]
    without_guards(file, statement, "ignore_check_constraints=on", "foreign_keys=off")
    with pytest.raises(CopyError, match=words):
        check_sqlite(file)


def schema_changed(path: Path, table: str, change: Callable[[str], str]) -> None:
    """The text that made a table rewritten, as if its rows had been written under another one."""
    connection = sqlite_module().connect(str(path))
    (written,) = connection.execute("select sql from sqlite_schema where name = ?", (table,)).fetchone()
    assert change(written) != written
    connection.execute("pragma writable_schema=on")
    connection.execute("update sqlite_schema set sql = ? where name = ?", (change(written), table))
    connection.commit()
    connection.close()


def test_an_empty_cell_where_there_must_be_something(file: Path) -> None:
    without_guards(file, "update movement set batch_id = null where id = 1")
    schema_changed(file, "movement", lambda sql: sql.replace("batch_id INTEGER", "batch_id INTEGER NOT NULL"))
    refused(file)


def test_the_same_twice_where_there_may_be_one(file: Path) -> None:
    connection = sqlite_module().connect(str(file))
    connection.executescript(
        "create table t (a text); create unique index u on t (a);"
        "pragma writable_schema=on;"
        "update sqlite_schema set sql = 'create index u on t (a)' where name = 'u';"
    )
    connection.close()
    connection = sqlite_module().connect(str(file))
    connection.executescript(
        "insert into t values ('x'), ('x'); pragma writable_schema=on;"
        "update sqlite_schema set sql = 'create unique index u on t (a)' where name = 'u';"
    )
    connection.close()
    refused(file)


def test_every_rule_of_every_table_is_asked(whole: Path) -> None:
    """As many as are named in the texts, and none of them cut short."""
    connection = sqlite_module().connect(str(whole))
    written: list[Any] = connection.execute("select sql from sqlite_schema where type = 'table'").fetchall()
    connection.close()
    found = [rule for (sql,) in written for rule in rules_of(sql)]
    named = sum(len(re.findall(r"CONSTRAINT \w+ CHECK", sql)) for (sql,) in written)
    assert len(found) == named > 50
    assert all(rule.count("(") == rule.count(")") and rule.count("'") % 2 == 0 for rule in found)


@pytest.mark.parametrize(
    ("written", "rules"),
    [
        ("create table t (a)", []),
        ("create table t (a, check(a in (')', '((')))", ["a in (')', '((')"]),
        ("create table t (a -- check (no)\n, /* check (no) */ b CHECK (b > 'it''s (')) ", ["b > 'it''s ('"]),
        ('create table "check (" (a check (a > 1) check ((a) < (9)))', ["a > 1", "(a) < (9)"]),
    ],
)
def test_rules_are_read_out_of_the_text_of_a_table(written: str, rules: list[str]) -> None:
    assert rules_of(written) == rules
