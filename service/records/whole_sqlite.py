"""Whether a file of the embedded engine is whole: every page, every row, every index, every rule of a table.

The engine's own check (`integrity_check`) builds each list of a rule such as ``kind IN ('receive', …)`` anew
for every row; that is half of its time. So it is asked for everything but those rules, and each table is then
asked for a row that breaks one, in a single pass. Both together say what the engine's check says alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final

from service.records.engine import sqlite_module

_PIECE: Final = re.compile(
    r"""(?P<quoted>'(?:[^']|'')*'|"(?:[^"]|"")*"|`[^`]*`|\[[^\]]*\])|(?P<remark>--[^\n]*|/\*.*?\*/)"""
    r"""|(?P<rule>\bCHECK\s*\()|(?P<open>\()|(?P<close>\))""",
    re.IGNORECASE | re.DOTALL,
)
_MOST: Final = 5
"""Faults of one kind that are named; one is enough to refuse a file."""


def faults_of(path: Path) -> list[str]:
    """What is wrong with a database file that nobody else uses, in words; nothing if it is whole.

    Looked at: every page of every tree and that each belongs to one; every row against NOT NULL, CHECK and
    UNIQUE; every row has its entry in every index and no index has more; nothing points at a row that is not
    there. Not seen: a byte changed inside a text that has no rule and no index. Only a digest kept beside
    the file shows that.

    Raises:
        Error (of the driver): the file cannot be read far enough to say.
    """
    with ThreadPoolExecutor(1) as beside:
        rows = beside.submit(_rows, path)
        with_pages = _pages(path)
        return with_pages + rows.result()


def _pages(path: Path) -> list[str]:
    connection = sqlite_module().connect(str(path))
    try:
        connection.execute("PRAGMA ignore_check_constraints=ON")
        found = [str(row[0]) for row in connection.execute(f"PRAGMA integrity_check({_MOST})")]
    finally:
        connection.close()
    return [] if found == ["ok"] else found


def _rows(path: Path) -> list[str]:
    connection = sqlite_module().connect(str(path))
    try:
        orphans = connection.execute("PRAGMA foreign_key_check").fetchmany(_MOST)
        found = [f"a row of {row[0]} points at nothing in {row[2]}" for row in orphans]
        return found + list(_breaking_rows(connection))
    finally:
        connection.close()


def _breaking_rows(connection: Any) -> Iterator[str]:
    tables = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'table'").fetchall()
    for name, written in tables:
        rules = rules_of(written)
        if not rules:
            continue
        table = '"' + name.replace('"', '""') + '"'
        broken = " OR ".join(f"NOT ({rule})" for rule in rules)
        # Without NOT INDEXED an index with every column of the rules would be read in the table's place.
        if connection.execute(f"SELECT 1 FROM {table} NOT INDEXED WHERE {broken} LIMIT 1").fetchone():
            yield f"a row of {name} breaks a rule of its table"


def rules_of(written: str) -> list[str]:
    """The conditions of every CHECK in the text that made a table.

    >>> rules_of("CREATE TABLE t (a INTEGER CHECK (a > 0), b TEXT, CHECK (b IN ('(', 'y') or (a = 1)))")
    ['a > 0', "b IN ('(', 'y') or (a = 1)"]
    """
    rules: list[str] = []
    depth, begins, at = 0, 0, 0
    for piece in _PIECE.finditer(written):
        if piece["rule"] and not at:
            depth += 1
            begins, at = piece.end(), depth
        elif piece["open"] or piece["rule"]:
            depth += 1
        elif piece["close"]:
            if at and depth == at:
                rules.append(written[begins : piece.start()])
                at = 0
            depth -= 1
    return rules
