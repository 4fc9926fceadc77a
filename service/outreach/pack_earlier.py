"""What was written down in time and tells of an earlier day: waste that stood already, containers received or
opened before. It is a late entry as much as one that was sent late; no reason is asked for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, tzinfo
from typing import Final, NamedTuple

from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.containers import EventKind
from service.core.ledger import MovementKind
from service.core.shelf_codes import show_code
from service.core.waste_drums import DrumStep
from service.records.stock import Container, ContainerEvent, Movement
from service.records.waste_drums import WasteDrum, WasteDrumEntry

NO_REASON: Final = "An earlier day was told when it was written down; no reason is asked for that."


class Earlier(NamedTuple):
    """A posting that tells of ``day``, which was before the day on which it was recorded."""

    posting: int
    day: date
    recorded_at: datetime
    words: str


def told_of_earlier_days(session: Session, zone: tzinfo) -> Iterator[Earlier]:
    """Every posting that tells of an earlier day than its own, in the shop's zone."""
    return (one for one in _all(session) if one.day < one.recorded_at.astimezone(zone).date())


def told_since(session: Session, before: datetime, last: date) -> Iterator[Earlier]:
    """Every posting recorded from an instant on that tells of a day up to ``last``, which ended with it."""
    return (one for one in _all(session) if one.recorded_at >= before and one.day <= last)


def _all(session: Session) -> Iterator[Earlier]:
    yield from _drums(session)
    yield from _received(session)
    yield from _opened(session)


def _drums(session: Session) -> Iterator[Earlier]:
    query = (
        columns_of(
            col(WasteDrumEntry.posting_id), col(WasteDrumEntry.on_day), col(WasteDrumEntry.recorded_at),
            col(WasteDrum.name),
        )
        .join(WasteDrum, col(WasteDrum.id) == col(WasteDrumEntry.drum_id))
        .where(col(WasteDrumEntry.step) == DrumStep.PUT_IN, col(WasteDrumEntry.movement_id).is_(None))
        .order_by(col(WasteDrumEntry.id))
    )  # fmt: skip
    for posting, day, recorded, name in session.execute(query):
        yield Earlier(posting, day, recorded, f"says that waste went into drum {name} on {day.isoformat()}")


def _received(session: Session) -> Iterator[Earlier]:
    query = (
        columns_of(
            col(Movement.posting_id), col(Container.received_on), col(Movement.recorded_at),
            col(Container.code),
        )
        .join(Container, col(Container.id) == col(Movement.container_id))
        .where(col(Movement.kind) == MovementKind.RECEIVE, col(Container.received_on).is_not(None))
        .order_by(col(Movement.id))
    )  # fmt: skip
    for posting, day, recorded, code in session.execute(query):
        yield Earlier(posting, day, recorded, f"says that {show_code(code)} came on {day.isoformat()}")


def _opened(session: Session) -> Iterator[Earlier]:
    query = (
        columns_of(
            col(ContainerEvent.posting_id), col(ContainerEvent.on_date), col(ContainerEvent.recorded_at),
            col(Container.code),
        )
        .join(Container, col(Container.id) == col(ContainerEvent.container_id))
        .where(col(ContainerEvent.kind) == EventKind.OPENED, col(ContainerEvent.on_date).is_not(None))
        .order_by(col(ContainerEvent.id))
    )  # fmt: skip
    for posting, day, recorded, code in session.execute(query):
        yield Earlier(posting, day, recorded, f"says that {show_code(code)} was opened on {day.isoformat()}")
