"""The bare statements and loops that the service's own functions are held against."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date
from typing import Any, Final

from service.records.engine import Database, sqlite_module

Execute = Callable[..., Any]
"""The driver's own ``execute``, without a library in between."""

# The plus keeps SQLite from going by the standing, of which there are only four.
_STOCK: Final = (
    "select material_id, sum(balance) from container where material_id in ({})"
    " and state in ('sealed', 'open') and +standing in ('in-date', 'look-first') group by material_id"
)
_ENDS: Final = (
    "select standing, in_date_until, count(*) from container not indexed where state in ('sealed', 'open')"
    " and (balance is null or balance <> 0) group by standing, in_date_until"
)
_SOON: Final = (
    "select c.code, c.in_date_until, c.next_alert_on, m.name from container c join material m"
    " on m.id = c.material_id where c.next_alert_on > ? and c.next_alert_on <= ?"
    " order by c.next_alert_on, c.code limit 50"
)


def driver(database: Database) -> Any:
    """A connection of the driver's own to an embedded database, outside of any pool."""
    return sqlite_module().connect(database.engine.url.database)


def enough(execute: Execute, materials: list[int]) -> list[Any]:
    """How much of each material may be used."""
    return list(execute(_STOCK.format(",".join("?" * len(materials))), materials))


def soon(execute: Execute, today: date, until: date) -> list[Any]:
    """The first 50 containers that change their standing up to a day."""
    return list(execute(_SOON, (today.isoformat(), until.isoformat())))


def soon_on_postgres(execute: Execute, today: date, until: date) -> list[Any]:
    """The same by PostgreSQL's driver."""
    return list(execute(_SOON.replace("?", "%s"), (today, until)))


def ends(execute: Execute) -> list[Any]:
    """How many stand how and end when, by going through every container."""
    return list(execute(_ENDS))


def hashed(execute: Execute) -> int:
    """SHA-256 over every entry of the rag log, each with the one before it; how many there were."""
    last, count = b"", 0
    for (body,) in execute("select body from rag_log order by id"):
        last = hashlib.sha256(last + body.encode()).digest()
        count += 1
    return count


def ledger_hashed(execute: Execute) -> int:
    """SHA-256 over every movement, each with the one before it; how many there were."""
    last, count = b"", 0
    columns = "id, container_id, kind, change, balance_after, person_id, recorded_at"
    for row in execute(f"select {columns} from movement order by id"):
        last = hashlib.sha256(last + repr(row).encode()).digest()
        count += 1
    return count
