"""Days on which oil was used and nothing was written about where its rags went."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, or_, select

from service.core.ledger import MovementKind
from service.records.rags import RagLoad, RagLogRow
from service.records.stock import Movement

_TAKES = (MovementKind.DRAW, MovementKind.LOSS, MovementKind.COUNT_DIFFERENCE)
_TELLS = ("draw-joined", "unexplained-use")


@dataclass(frozen=True)
class OilDay:
    """A shop day with so many takings of self-heating material that nothing in the rag log answers for."""

    day: date
    takings: int


def unanswered_oil_days(session: Session, zone: ZoneInfo, since: datetime, now: datetime) -> Sequence[OilDay]:
    """The days since an instant, the newest first.

    Unanswered is what joined no load and is told by no entry of the log, and what joined a load whose time to
    leave the building has passed without a single step written about it. Entries taken back do not count.
    """
    undone = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Movement.happened_at, Movement.posting_id, Movement.rag_load_id)
        .where(
            col(Movement.happened_at) >= since,
            col(Movement.self_heating).is_(True),
            col(Movement.kind).in_(_TAKES),
            or_(col(Movement.change).is_(None), col(Movement.change) < 0),
            col(Movement.id).not_in(undone),
        )
    ).all()
    silent = _silent_loads(session, {load for _, _, load in rows if load is not None}, now)
    told = _told(session, {posting for _, posting, load in rows if load is None})
    days: Counter[date] = Counter()
    for at, posting, load in rows:
        if load in silent or (load is None and posting not in told):
            days[at.astimezone(zone).date()] += 1
    return [OilDay(day, number) for day, number in sorted(days.items(), reverse=True)]


def _silent_loads(session: Session, loads: set[int], now: datetime) -> set[int]:
    due = session.exec(
        select(RagLoad.id).where(col(RagLoad.id).in_(loads), col(RagLoad.remove_by) < now)
    ).all()
    with_steps = session.exec(
        select(RagLogRow.load_id).where(col(RagLogRow.load_id).in_(loads), col(RagLogRow.kind) == "step")
    ).all()
    return {load for load in due if load is not None} - {load for load in with_steps if load is not None}


def _told(session: Session, postings: set[int]) -> set[int]:
    rows = session.exec(
        select(RagLogRow.posting_id).where(
            col(RagLogRow.posting_id).in_(postings), col(RagLogRow.kind).in_(_TELLS)
        )
    ).all()
    return {posting for posting in rows if posting is not None}
