"""Which schema a database is at and which one this program wants, without loading the migration tool.

A start and every `/health` ask both. The tool itself takes a good part of a start to load and is needed only
when there is something to migrate (see `records.migrate`); a test holds the answers against its own.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, inspect, text

FOLDER: Final = Path(__file__).parent / "migrations" / "versions"
_REVISION: Final = re.compile(r'^revision = "([^"]+)"$', re.MULTILINE)
_BEFORE: Final = re.compile(r'^down_revision = "([^"]+)"$', re.MULTILINE)


class SchemaTooNew(Exception):  # noqa: N818
    """The database carries a revision this program does not know."""


class WouldLose(Exception):  # noqa: N818
    """Going back to an older schema would drop tables with what they hold; nothing was changed."""

    def __init__(self, tables: Sequence[str]) -> None:
        super().__init__(
            f"The older schema has no place for what is written in {', '.join(tables)}. Nothing was changed. "
            "Restore a copy that the older program made instead."
        )


@cache
def newest_revision() -> str:
    """The revision this program wants: the one that no other comes after.

    Raises:
        RuntimeError: the migrations do not end in one.
    """
    texts = [path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("[0-9]*.py"))]
    own: set[str] = {found for written in texts for found in _REVISION.findall(written)}
    before = {found for written in texts for found in _BEFORE.findall(written)}
    ends = own - before
    if len(ends) != 1:
        raise RuntimeError(f"the migrations do not end in one revision: {sorted(ends)}")
    (newest,) = ends
    return newest


def revision_of(connection: Connection) -> str | None:
    """The revision a database is at; None for an empty one."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("select version_num from alembic_version")).scalar()
    return None if found is None else str(found)
