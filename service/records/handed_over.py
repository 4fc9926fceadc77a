"""With whom a container is that was handed out: the book keeps it as words of the last move."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from sqlalchemy import ColumnElement, and_, bindparam, exists, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.core.containers import EventKind
from service.records.kept_statements import run
from service.records.owners import Here
from service.records.stock import Container, ContainerEvent

HANDED: Final = "handed to "
"""How the note of a move out of the shop begins; a remark follows behind a semicolon."""
_AT_ONCE: Final = 500
_MOVES: Final = (
    select(col(ContainerEvent.container_id), col(ContainerEvent.to_place_id), col(ContainerEvent.note))
    .join(Container, col(Container.id) == col(ContainerEvent.container_id))
    .where(
        col(ContainerEvent.container_id).in_(bindparam("boxes", expanding=True)),
        col(ContainerEvent.kind) == EventKind.MOVED,
        col(Container.place_id).is_(None),
    )
    .order_by(col(ContainerEvent.id))
)


def handed_words(session: Session, boxes: Iterable[int]) -> dict[int, str]:
    """ "handed to Ines Vale; back on Monday" of those that stand nowhere since they were handed out."""
    wanted, last = list(boxes), {}
    for begin in range(0, len(wanted), _AT_ONCE):
        for box, place, note in run(session, _MOVES, boxes=wanted[begin : begin + _AT_ONCE]):
            last[box] = note if place is None else ""
    return {box: note for box, note in last.items() if note.startswith(HANDED)}


def holder(words: str, here: Iterable[Here]) -> Here | None:
    """Who of these the words name, whole, whatever the capitals; a firm or a stranger is none of them."""
    said = words.removeprefix(HANDED).casefold()
    return next((one for one in here if f"{said}; ".startswith(f"{one.name.casefold()}; ")), None)


def held_by(name: str) -> ColumnElement[bool]:
    """That a container was handed to somebody of this name and stands nowhere since."""
    mine, later = aliased(ContainerEvent), aliased(ContainerEvent)
    after = exists().where(
        later.container_id == mine.container_id,  # type: ignore[arg-type]
        later.kind == EventKind.MOVED,  # type: ignore[arg-type]
        later.id > mine.id,  # type: ignore[arg-type, operator]
    )
    note, words = func.lower(mine.note), f"{HANDED}{name}".lower()
    moved = exists().where(
        mine.container_id == col(Container.id),  # type: ignore[arg-type]
        mine.kind == EventKind.MOVED,  # type: ignore[arg-type]
        or_(note == words, note.startswith(f"{words}; ", autoescape=True)),
        ~after,
    )
    return and_(col(Container.place_id).is_(None), moved)
