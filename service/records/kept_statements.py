"""Running statements that are made once, as columns: what every act asks, and what it writes down for good.

Building a statement and loading a whole row cost several times what the database takes to answer. So what is
asked at every act stands in its module as a constant with `bindparam` in it, and is run here with its values.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

from sqlalchemy import Executable
from sqlalchemy.engine import CursorResult
from sqlmodel import Session

AT_ONCE: Final = 500
"""Numbers in one query; SQLite takes a limited number of parameters."""


def batched(numbers: Iterable[int]) -> Iterator[list[int]]:
    """Each number once, in order, so many at a time as one statement takes.

    >>> [len(some) for some in batched([*range(501), 3])]
    [500, 1]
    """
    wanted = sorted(set(numbers))
    for begin in range(0, len(wanted), AT_ONCE):
        yield wanted[begin : begin + AT_ONCE]


def run(session: Session, statement: Executable, **values: Any) -> CursorResult[*tuple[Any, ...]]:
    """Run a kept statement in the session's transaction and return its rows.

    What waits in the session is written first, as for any other query of it; inside `session.no_autoflush`
    it is not. Rows come as columns: an object that the session holds already stays as it is.

    >>> from sqlalchemy import bindparam, create_engine, literal, select
    >>> asked = select(literal(2) * bindparam("n", type_=None))
    >>> run(Session(create_engine("sqlite://")), asked, n=21).scalar_one()
    42
    """
    if session.autoflush:
        session.flush()
    return session.connection().execute(statement, values)


def write_row(session: Session, statement: Executable, values: dict[str, Any]) -> int:
    """Run a kept insert and return the number of the new row. For tables whose rows never change."""
    session.flush()
    key = session.connection().execute(statement, values).inserted_primary_key
    assert key is not None
    return int(key[0])


def write_rows(session: Session, statement: Executable, rows: Sequence[dict[str, Any]]) -> None:
    """The same for many rows, whose numbers nobody asks for."""
    session.flush()
    if rows:
        session.connection().execute(statement, rows)
