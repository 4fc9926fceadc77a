"""The book as it stood at an instant: what had been recorded by then, told from the acts and former rows.

What was written down later about days before is not in it: a look at a past day says what a look on that day
said. What no act and no former row tells is blanked and named, and never today's.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, Final

from sqlalchemy import bindparam, delete, update
from sqlalchemy import select as columns_of
from sqlmodel import Session, SQLModel, col

from service.actions.check_containers import brought_open, story_steps
from service.actions.work_then import tell_work
from service.core.container_story import tell_again
from service.core.containers import AmountKnown, ContainerState, EventKind
from service.core.ledger import fold
from service.core.material_entry import KeeperFacts
from service.core.shelf_codes import show_code
from service.records.components import MaterialComponent
from service.records.copied_book import copied_book
from service.records.former_rows import FORMER, kept_since
from service.records.kept_statements import batched
from service.records.ledger_rows import EventRow, MovementRow, ledger_lines
from service.records.materials import Material
from service.records.places import Place
from service.records.rooms import RoomAir
from service.records.shop import Change, ShopProfile
from service.records.stock import Container, ContainerEvent, Movement
from service.records.store_storage import MaterialStorage, PlaceStorage

_TOLD: Final = ("state", "balance", "balance_known", "place_id", "ever_opened", "opened_on", "opened_by")
_AS_TOLD: Final = (
    update(Container)
    .where(col(Container.id) == bindparam("number"))
    .values({name: bindparam(name) for name in _TOLD})
)
_BLANKED: Final = frozenset({"material", "place", "shop"})


@dataclass(frozen=True)
class BookThen:
    """The book of an instant. ``not_known``: sentences of what nobody can tell of it any more."""

    session: Session
    not_known: tuple[str, ...]


@contextmanager
def book_then(session: Session, before: datetime) -> Iterator[BookThen]:
    """The book with what was recorded before an aware instant; a change of the copy changes nothing."""
    with copied_book(session, before) as copy:
        _tell_containers(session, copy, before)
        tell_work(session, copy, before)
        not_known = tuple(_blank(session, copy, before))
        copy.commit()
        copy.expire_all()
        yield BookThen(copy, not_known)


def _tell_containers(session: Session, copy: Session, before: datetime) -> None:
    """Amount, state and place of every container to which something was booked since, from its acts."""
    later: set[int] = set()
    for table in (Movement, ContainerEvent):
        query = columns_of(col(table.container_id)).where(col(table.recorded_at) >= before).distinct()
        later.update(session.connection().execute(query).scalars())
    moved_from = _first_moves(session, before)
    for numbers in batched(later):
        stood = columns_of(col(Container.id), col(Container.place_id), col(Container.ever_opened))
        boxes = copy.connection().execute(stood.where(col(Container.id).in_(numbers))).all()
        movements = _acts(copy, Movement, MovementRow, numbers)
        events = _acts(copy, ContainerEvent, EventRow, numbers)
        told = [
            _told(number, moved_from.get(number, place), opened, movements[number], events[number])
            for number, place, opened in boxes
            if number is not None
        ]
        if told:
            copy.connection().execute(_AS_TOLD, told)


def _first_moves(session: Session, before: datetime) -> dict[int, int | None]:
    """From where the first move since took each container: there it stood."""
    query = (
        columns_of(col(ContainerEvent.container_id), col(ContainerEvent.from_place_id))
        .where(col(ContainerEvent.recorded_at) >= before, col(ContainerEvent.kind) == EventKind.MOVED)
        .order_by(col(ContainerEvent.id).desc())
    )
    rows = session.connection().execute(query).all()
    return {int(row[0]): row[1] for row in rows}


def _acts(copy: Session, table: type[SQLModel], row: Any, numbers: Sequence[int]) -> defaultdict[int, Any]:
    columns = [getattr(table, name) for name in row._fields]
    query = columns_of(*columns).where(columns[0].in_(numbers)).order_by(columns[1])
    found: defaultdict[int, list[Any]] = defaultdict(list)
    for one in map(row._make, copy.connection().execute(query)):
        found[one.container_id].append(one)
    return found


def _told(
    number: int, place: int | None, opened: bool, movements: list[MovementRow], events: list[EventRow]
) -> dict[str, Any]:
    balance = fold(ledger_lines(movements))
    came_open = brought_open(opened, movements, events)
    story = tell_again(story_steps(movements, events), brought_open=came_open)
    return {
        "number": number, "state": story.state or ContainerState.GONE, "balance": balance.amount,
        "balance_known": balance.known if movements else AmountKnown.NOT_KNOWN, "place_id": place,
        "ever_opened": story.ever_opened, "opened_on": None, "opened_by": None,
    }  # fmt: skip


def _blank(session: Session, copy: Session, before: datetime) -> Iterator[str]:
    """What was changed since, while no former rows were kept yet: it is blanked, and said."""
    kept = kept_since(session)
    query = columns_of(col(Change.about_kind), col(Change.about_id), col(Change.field), col(Change.before))
    query = query.where(
        col(Change.changed_at) >= before, ~col(Change.about_kind).startswith(FORMER),
        col(Change.about_kind).in_(_BLANKED),
    )  # fmt: skip
    if kept is not None:
        query = query.where(col(Change.changed_at) < kept)
    changed: dict[tuple[str, int], list[tuple[str, str | None]]] = {}
    for kind, number, field, was in session.connection().execute(query.order_by(col(Change.id))):
        if (field, was) != ("name", None) and field != "sheet":
            changed.setdefault((kind, number), []).append((field, was))
    for (kind, number), fields_changed in changed.items():
        if kind == "material":
            yield from _blank_material(copy, number)
        elif kind == "place":
            yield from _blank_place(copy, number)
        else:
            yield from _put_back_shop(copy, fields_changed)


def _blank_material(copy: Session, number: int) -> Iterator[str]:
    row = copy.get(Material, number)
    if row is None:
        return
    unknown = KeeperFacts()
    for one in fields(unknown):
        setattr(row, one.name, getattr(unknown, one.name))
    for table in (MaterialComponent, MaterialStorage):
        copy.connection().execute(delete(table).where(col(table.material_id) == number))
    copy.flush()
    yield f"The facts of {row.name} (material {number}) were changed since, and how they stood is not known."


def _blank_place(copy: Session, number: int) -> Iterator[str]:
    row = copy.get(Place, number)
    if row is None:
        return
    row.name, row.parent_id = f"place {show_code(row.code)}", None
    for table in (PlaceStorage, RoomAir):
        copy.connection().execute(delete(table).where(col(table.place_id) == number))
    copy.flush()
    yield f"What stood in the book of place {show_code(row.code)}, its name too, was changed since."


def _put_back_shop(copy: Session, changed: list[tuple[str, str | None]]) -> Iterator[str]:
    """Name, zone and law are kept as plain words, so the oldest ones are those of that day."""
    row = copy.get(ShopProfile, 1)
    if row is None:
        return
    for field, was in reversed(changed):
        if field in ("name", "time zone", "regime") and was is not None:
            setattr(row, field.replace(" ", "_"), was)
        elif field == "storage rules":
            row.storage_rules = None
            yield "Which storage tables a keeper had chosen is not known: all of the shop's law are asked."
    copy.flush()
