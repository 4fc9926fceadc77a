"""What was written down in time and tells of an earlier day: waste that stood already, a discard or pot
sorted into a drum later, containers received or opened before. It is a late entry as much as one that was
sent late; no reason is asked for it.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, tzinfo
from typing import Any, Final, NamedTuple

from sqlalchemy import Select, case, null
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.core.shelf_codes import show_code
from service.core.waste_drums import DrumStep
from service.core.wipes import WIPES_BEGUN
from service.records.kept_statements import batched
from service.records.mixing import Batch
from service.records.pot_waste import TOLD_LATER
from service.records.rags import RagLogRow
from service.records.stock import Container, ContainerEvent, Movement, Posting, PostingResult
from service.records.waste_drums import WasteDrum, WasteDrumEntry

NO_REASON: Final = "An earlier day was told when it was written down; no reason is asked for that."


class Earlier(NamedTuple):
    """A posting that tells of ``day``, which was before the day on which it was recorded.

    ``at``: the instant it tells of, where the book has it.
    """

    posting: int
    day: date
    recorded_at: datetime
    at: datetime | None
    words: str


def told_of_earlier_days(session: Session, zone: tzinfo) -> Iterator[Earlier]:
    """Every posting that tells of an earlier day than its own, in the shop's zone."""
    return (one for one in _all(session, zone) if one.day < one.recorded_at.astimezone(zone).date())


def told_since(session: Session, before: datetime, last: date) -> Iterator[Earlier]:
    """Every posting recorded from an instant on that tells of a day up to ``last``, which ended with it."""
    for one in _all(session, UTC):
        then = one.day <= last if one.at is None else one.at < before
        if then and one.recorded_at >= before:
            yield one


def _all(session: Session, zone: tzinfo) -> Iterator[Earlier]:
    for query, words in (
        (_put_in(), "waste went into drum {}".format),
        (_sorted_in(), "movement {} went into drum {}".format),
        (_received(), lambda code: f"{show_code(code)} came"),
        (_opened(), lambda code: f"{show_code(code)} was opened"),
    ):
        for posting, day, recorded, at, *about in session.execute(query):
            yield Earlier(posting, day, recorded, at, f"says that {words(*about)} on {day.isoformat()}")
    yield from _wipes(session)
    yield from _rests(session, zone)


def _rests(session: Session, zone: tzinfo) -> Iterator[Earlier]:
    """By what somebody said later where that went which an ended batch left in no jar."""
    query = columns_of(col(Posting.id), col(Posting.recorded_at), col(PostingResult.result))
    query = query.join(PostingResult, col(PostingResult.posting_id) == col(Posting.id))
    told = session.execute(query.where(col(Posting.act) == TOLD_LATER).order_by(col(Posting.id))).all()
    ended: dict[int, datetime | None] = {}
    for numbers in batched({int(result["batch"]) for _, _, result in told}):
        asked = columns_of(col(Batch.id), col(Batch.finished_at)).where(col(Batch.id).in_(numbers))
        ended |= {row[0]: row[1] for row in session.execute(asked)}
    for posting, recorded, result in told:
        at = ended.get(int(result["batch"]))
        if at is not None:
            words = f"says where the rest of batch {result['batch']} went"
            yield Earlier(posting, at.astimezone(zone).date(), recorded, at, words)


def _wipes(session: Session) -> Iterator[Earlier]:
    """Containers of wipes that were begun on a day that somebody named."""
    begun = select(RagLogRow).where(col(RagLogRow.kind) == WIPES_BEGUN).order_by(col(RagLogRow.id))
    for row in session.exec(begun):
        day = date.fromisoformat(json.loads(row.body)["started_on"])
        if row.posting_id is not None:
            words = f"says that wipes were begun on {day.isoformat()}"
            yield Earlier(row.posting_id, day, row.recorded_at, None, words)


def _asked(row: Any, day: Any, at: Any, *names: Any) -> Select[Any]:
    columns = (col(row.posting_id), col(day), col(row.recorded_at), at, *map(col, names))
    return columns_of(*columns).select_from(row).order_by(row.id)


def _put_in() -> Select[Any]:
    return _of_drum(null(), WasteDrum.name).where(col(WasteDrumEntry.movement_id).is_(None))


def _sorted_in() -> Select[Any]:
    """What was thrown away, or a pot given up, by another act than the one that says into which drum."""
    pot = (col(Movement.kind) == MovementKind.DRAW, col(Batch.finished_at))
    query = _of_drum(case(pot, else_=col(Movement.happened_at)), WasteDrumEntry.movement_id, WasteDrum.name)
    query = query.join(Movement, col(Movement.id) == col(WasteDrumEntry.movement_id))
    query = query.outerjoin(Batch, col(Batch.id) == col(Movement.batch_id))
    return query.where(col(Movement.posting_id) != col(WasteDrumEntry.posting_id))


def _of_drum(at: Any, *names: Any) -> Select[Any]:
    query = _asked(WasteDrumEntry, WasteDrumEntry.on_day, at, *names)
    query = query.join(WasteDrum, col(WasteDrum.id) == col(WasteDrumEntry.drum_id))
    return query.where(col(WasteDrumEntry.step) == DrumStep.PUT_IN)


def _received() -> Select[Any]:
    return _of_container(Movement, Container.received_on).where(col(Movement.kind) == MovementKind.RECEIVE)


def _opened() -> Select[Any]:
    opened = _of_container(ContainerEvent, ContainerEvent.on_date)
    return opened.where(col(ContainerEvent.kind) == EventKind.OPENED)


def _of_container(row: Any, day: Any) -> Select[Any]:
    query = _asked(row, day, null(), Container.code)
    return query.join(Container, col(Container.id) == row.container_id).where(col(day).is_not(None))
