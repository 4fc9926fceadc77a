"""A copy of the book in memory that holds only what was recorded before an instant.

Whatever reads the book can read the copy. Of tables that are not copied there is nothing, not even an empty
one: who asks them of a past day gets an error, never "none".
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, create_engine, delete, func, insert, or_, select
from sqlalchemy.pool import StaticPool
from sqlmodel import Session, SQLModel, col

from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.core.never_with import CONFIRMED_FIELD
from service.core.waste_drums import DrumStep
from service.core.wipes import WIPES_BEGUN
from service.records.checks import CheckDone, RecurringCheck, Training
from service.records.components import MaterialComponent
from service.records.engine import sqlite_module
from service.records.former_rows import A_COPY, KEPT, FormerRow, rows_that_stood, table_of
from service.records.jobs import Job
from service.records.materials import AgeingPolicyRow, Material, SafetySheet
from service.records.mixing import Addition, Batch, Recipe, RecipeLineRow, RecipeVersion
from service.records.people import Person
from service.records.places import Place
from service.records.pot_waste import TOLD_LATER
from service.records.rags import Override, OverrideUse, RagChainHead, RagLogRow, WitnessedHead
from service.records.rooms import RoomAir
from service.records.shop import Change, ShopProfile
from service.records.stock import Container, ContainerEvent, Movement, Posting, PostingResult
from service.records.store_storage import MaterialStorage, PlaceStorage
from service.records.waste_drums import WasteDrum, WasteDrumEntry, WasteSite

RECORDED: Final[Mapping[type[SQLModel], str]] = {
    Material: "created_at",
    MaterialComponent: "set_at",
    MaterialStorage: "set_at",
    SafetySheet: "added_at",
    AgeingPolicyRow: "set_at",
    Place: "created_at",
    PlaceStorage: "set_at",
    RoomAir: "set_at",
    ShopProfile: "created_at",
    Person: "created_at",
    Job: "created_at",
    Recipe: "created_at",
    RecipeVersion: "created_at",
    Batch: "created_at",
    Addition: "added_at",
    Container: "created_at",
    Movement: "recorded_at",
    ContainerEvent: "recorded_at",
    Posting: "recorded_at",
    RagLogRow: "recorded_at",
    WitnessedHead: "at",
    Override: "created_at",
    RecurringCheck: "created_at",
    CheckDone: "recorded_at",
    Training: "recorded_at",
    WasteDrum: "recorded_at",
    WasteDrumEntry: "recorded_at",
    WasteSite: "recorded_at",
    Change: "changed_at",
}
"""The copied tables, each with the column that tells when its row was recorded."""
_HANGING: Final[tuple[type[SQLModel], ...]] = (RecipeLineRow, OverrideUse, RagChainHead, PostingResult)
"""Copied too; their rows have no instant of their own."""
_AT_ONCE: Final = 2000
_SECRET: Final = frozenset({"password_hash", "pin_hash", "email", "sign_in_name"})


@contextmanager
def copied_book(session: Session, before: datetime) -> Iterator[Session]:
    """A session of a book in memory with what was recorded before an aware instant, as it stood then.

    What changes by acts alone (amounts, places and states of containers) stands in the copy as it is now; the
    caller puts it right from the acts. One statement for each table, and one for what was changed since. The
    session is one of `Database.snapshot`, so that all of them see one state.
    """
    module = sqlite_module()
    connect = {"check_same_thread": False}
    engine = create_engine("sqlite://", module=module, poolclass=StaticPool, connect_args=connect)
    kinds: tuple[type[SQLModel], ...] = (*RECORDED, *_HANGING)
    try:
        SQLModel.metadata.create_all(engine, tables=[table_of(kind) for kind in kinds])
        with Session(engine, expire_on_commit=False) as copy:
            copy.info[A_COPY] = True
            for kind in kinds:
                _copy(session, copy, kind, before)
            for former in rows_that_stood(session, before):
                put_back(copy, former, before)
            _end_log(copy)
            copy.commit()
            yield copy
    finally:
        engine.dispose()


def _copy(source: Session, copy: Session, kind: type[SQLModel], before: datetime) -> None:
    table = table_of(kind)
    columns = [one for one in table.columns if one.name not in _SECRET]
    found = source.connection().execute(select(*columns).where(*_wanted(kind, before)))
    write, target = insert(table), copy.connection()
    for rows in found.mappings().partitions(_AT_ONCE):
        target.execute(write, [dict(row) for row in rows])


def _of_days() -> tuple[Any, ...]:
    """Postings of what names a day of its own, which may be an earlier one."""
    return (
        select(col(WasteDrumEntry.posting_id)).where(col(WasteDrumEntry.step) == DrumStep.PUT_IN),
        select(col(Movement.posting_id)).where(col(Movement.kind) == MovementKind.RECEIVE),
        select(col(ContainerEvent.posting_id)).where(
            col(ContainerEvent.kind) == EventKind.OPENED, col(ContainerEvent.on_date).is_not(None)
        ),
        select(col(RagLogRow.posting_id)).where(col(RagLogRow.kind) == WIPES_BEGUN),
        select(col(Posting.id)).where(col(Posting.act) == TOLD_LATER),
    )


def _wanted(kind: type[SQLModel], before: datetime) -> list[ColumnElement[bool]]:
    if kind is Posting:  # of the others nothing is asked, and there are as many as acts
        asked = or_(col(Posting.late), *(col(Posting.id).in_(some) for some in _of_days()))
        return [asked, col(Posting.recorded_at) < before]
    if kind is Change:  # of what labels say, and of what somebody confirmed
        asked = or_(col(Change.about_kind) == "material", col(Change.field).startswith(CONFIRMED_FIELD))
        return [asked, col(Change.changed_at) < before]
    if kind is OverrideUse:
        used = select(col(Posting.id)).where(col(Posting.recorded_at) < before)
        return [col(OverrideUse.posting_id).in_(used)]
    if kind is PostingResult:  # of what says later where a rest went
        told = select(col(Posting.id)).where(col(Posting.act) == TOLD_LATER)
        told = told.where(col(Posting.recorded_at) < before)
        return [col(PostingResult.posting_id).in_(told)]
    if kind is Addition:
        return [_put_in(before)]
    if kind in RECORDED:
        return [table_of(kind).columns[RECORDED[kind]] < before]
    return []


def _put_in(before: datetime) -> ColumnElement[bool]:
    """An addition knows when it happened; its movement knows when it was recorded, and tap water has none."""
    later = select(col(Movement.id)).where(col(Movement.recorded_at) >= before)
    first = select(func.min(col(Addition.id))).where(col(Addition.movement_id).in_(later)).scalar_subquery()
    water = and_(
        col(Addition.movement_id).is_(None), col(Addition.added_at) < before,
        or_(first.is_(None), col(Addition.id) < first),
    )  # fmt: skip
    return or_(water, and_(col(Addition.movement_id).is_not(None), col(Addition.movement_id).not_in(later)))


def put_back(copy: Session, former: FormerRow, before: datetime) -> None:
    """A row as it stood, where it had been recorded by then."""
    table = table_of(former.kind)
    (key,) = table.primary_key.columns
    values, connection = former.values, copy.connection()
    if KEPT[former.kind]:  # some columns of a container or person
        changed = {name: value for name, value in values.items() if name != key.name}
        connection.execute(table.update().where(key == former.number).values(changed))
        return
    connection.execute(delete(table).where(key == former.number))
    recorded: Any = values[RECORDED[former.kind]]
    if recorded < before:
        # A column that came with a later schema says what it says where nobody told anything.
        untold = {
            name: one.get_default(call_default_factory=True)
            for name, one in former.kind.model_fields.items() if not one.is_required()
        }  # fmt: skip
        connection.execute(insert(table), [untold | values])


def _end_log(copy: Session) -> None:
    """The head kept with the log is that of its last entry here."""
    last = copy.connection().execute(
        select(col(RagLogRow.id), col(RagLogRow.hash)).order_by(col(RagLogRow.id).desc()).limit(1)
    ).one_or_none()  # fmt: skip
    copy.connection().execute(delete(RagChainHead))
    if last is not None:
        copy.connection().execute(insert(RagChainHead), [{"id": 1, "count": last[0], "hash": last[1]}])
