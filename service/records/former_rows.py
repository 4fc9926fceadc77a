"""What a row said before it was changed or taken out, kept whole, so that a past day can be told again.

The session keeps it by itself, just before a change reaches the database and whatever act makes it, as rows
of the append-only `change` under a kind of their own (``former material``) that no history of a thing shows.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Table, event, insert, inspect, select
from sqlalchemy.dialects import sqlite
from sqlmodel import Session, SQLModel, col

from service.records.checks import RecurringCheck
from service.records.components import MaterialComponent
from service.records.materials import Material
from service.records.mixing import Batch, Recipe
from service.records.people import Person
from service.records.places import Place
from service.records.rooms import RoomAir
from service.records.shop import BookClock, Change, ShopProfile
from service.records.stock import Container
from service.records.store_storage import MaterialStorage, PlaceStorage

RECORDED_AT: Final = "recorded_at"
"""Under this word a session's ``info`` holds the instant its act is recorded at."""
A_COPY: Final = "a copy"
"""A session with this word in its ``info`` keeps nothing: it works on a copy."""
FORMER: Final = "former "
"""How the kind of such a change begins; the name of the table follows."""
OF_CONTAINERS: Final = frozenset(
    {
        "capacity_written", "capacity_ul", "vessel", "inherited_self_heating", "inherited_hazards",
        "inherited_keeper_only", "inherited_until", "inherited_gap",
    }
)  # fmt: skip
"""What of a container no movement and no event tells."""
_ALL: Final[frozenset[str]] = frozenset()
KEPT: Final[dict[type[SQLModel], frozenset[str]]] = {
    Material: _ALL,
    MaterialComponent: _ALL,
    MaterialStorage: _ALL,
    Place: _ALL,
    PlaceStorage: _ALL,
    RoomAir: _ALL,
    ShopProfile: _ALL,
    RecurringCheck: _ALL,
    Recipe: _ALL,
    # Its state follows from its acts.
    Batch: frozenset({"job_id"}),
    Container: OF_CONTAINERS,
    # Never an address, a password or a PIN: only what stands beside entries.
    Person: frozenset({"name"}),
}
"""The tables whose rows change, and which of their columns are kept; none named: all of them."""
BY_NAME: Final = {str(kind.__tablename__): kind for kind in KEPT}
_PIECE: Final = 4000
_BOOK: Final = select(col(BookClock.last_recorded_at)).where(col(BookClock.id) == 1)
_DIALECT: Final = sqlite.dialect()


def table_of(kind: type[SQLModel]) -> Table:
    """The table of a kind of row."""
    table = inspect(kind).local_table
    assert isinstance(table, Table)
    return table


@dataclass(frozen=True)
class FormerRow:
    """A row as it stood until ``until``. ``values``: by column, as the book reads them."""

    kind: type[SQLModel]
    number: int
    until: datetime
    values: dict[str, Any]


@event.listens_for(Session, "before_flush")
def _keep(session: Session, _context: Any, _instances: Any) -> None:
    if A_COPY in session.info:
        return
    rows = [(row, False) for row in session.dirty] + [(row, True) for row in session.deleted]
    for row, taken_out in rows:
        named = KEPT.get(type(row))
        if named is not None:
            touched = {str(key) for key in inspect(row).committed_state} - {"version"}
            if taken_out or (touched & named if named else touched):
                _write(session, row, named, touched, taken_out)


def _write(session: Session, row: Any, named: frozenset[str], touched: set[str], taken_out: bool) -> None:
    kind = type(row)
    table = table_of(kind)
    (key,) = table.primary_key.columns
    number = inspect(row).identity[0]
    wanted = [one for one in table.columns if not named or one.name in named or one is key]
    connection = session.connection()
    stood = connection.execute(select(*wanted).where(key == number)).mappings().one_or_none()
    if stood is None:
        return
    told = {one.name: stood[one.name] for one in wanted}
    if not taken_out and all(told.get(name) == getattr(row, name) for name in touched if name in told):
        return
    at = session.info.get(RECORDED_AT) or connection.execute(_BOOK).scalar_one_or_none()
    if at is None:
        return  # nothing was ever entered: there is no day to tell again
    plain = {one.name: _plain(one, told[one.name]) for one in wanted}
    text = json.dumps(plain, ensure_ascii=False, separators=(",", ":"))
    pieces = [text[begin : begin + _PIECE] for begin in range(0, len(text), _PIECE)]
    connection.execute(
        insert(Change),
        [
            {
                "about_kind": f"{FORMER}{table.name}", "about_id": number,
                "field": f"{place} of {len(pieces)}", "before": piece, "after": None, "reason": "",
                "person_id": None, "changed_at": at,
            }
            for place, piece in enumerate(pieces, start=1)
        ],
    )  # fmt: skip


def _plain(column: Any, value: Any) -> Any:
    """A value as SQLite would hold it: text, a number or nothing, on either database."""
    write = column.type.dialect_impl(_DIALECT).bind_processor(_DIALECT)
    return value if write is None else write(value)


def _told(column: Any, value: Any) -> Any:
    read = column.type.dialect_impl(_DIALECT).result_processor(_DIALECT, None)
    return value if read is None else read(value)


def rows_that_stood(session: Session, at: datetime) -> Iterator[FormerRow]:
    """Each row that was changed or taken out from an instant on, once, as it stood at that instant."""
    query = (
        select(col(Change.about_kind), col(Change.about_id), col(Change.field), col(Change.before),
               col(Change.changed_at))
        .where(col(Change.about_kind).startswith(FORMER), col(Change.changed_at) >= at)
        .order_by(col(Change.id))
    )  # fmt: skip
    seen: set[tuple[str, int]] = set()
    pieces: list[str] = []
    for about, number, place, text, until in session.connection().execute(query):
        pieces.append(text or "")
        if len(pieces) < int(place.rpartition(" ")[2]):
            continue
        whole, pieces = "".join(pieces), []
        kind = BY_NAME.get(about.removeprefix(FORMER))
        if kind is None or (about, number) in seen:
            continue
        seen.add((about, number))
        columns = table_of(kind).columns
        plain = json.loads(whole)
        values = {name: _told(columns[name], value) for name, value in plain.items() if name in columns}
        yield FormerRow(kind, number, until, values)


def kept_since(session: Session) -> datetime | None:
    """From when on former rows are kept in this book; None: none was kept yet."""
    query = select(col(Change.changed_at)).where(col(Change.about_kind).startswith(FORMER))
    at: datetime | None = session.connection().execute(query.order_by(col(Change.id)).limit(1)).scalar()
    return at
