"""What a calendar address tells now, after all that it told before; kept before it is told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from sqlalchemy.dialects.postgresql import insert as postgres_insert
from sqlalchemy.dialects.sqlite import insert as sqlite_insert
from sqlmodel import Session, col, select

from service.actions.calendar_feeds import nothing_here, whose_feed
from service.actions.list_dates import list_dates
from service.core.calendar_entries import Entry, EntryKind
from service.core.calendar_told import Told, tell, tell_the_end
from service.records.notices import CalendarFeed, CalendarTold
from service.records.shop import ShopProfile

_AT_ONCE: Final = 500
_KEPT: Final = ("kind", "day", "title", "page", "sequence", "stamp", "cancelled_at")


@dataclass(frozen=True)
class CalendarNow:
    """What an address tells. ``owner`` "": its person is not here any more, and all of it is cancelled.

    ``changed``: something of it was not told so before, and has to be kept first (`keep_told`).
    """

    shop: str
    owner: str
    entries: tuple[Entry, ...]
    shop_since: datetime
    changed: bool


def look_up(session: Session, now: datetime, token: str) -> CalendarNow:
    """What a token's calendar tells at ``now``. It only reads.

    Raises:
        NotFound: there is no such address, its person ended it, or it ended and has nothing left to cancel.
    """
    return _now(session, now, token)[0]


def keep_told(session: Session, now: datetime, token: str) -> CalendarNow:
    """As `look_up`, and keeps what is told anew: no number is forgotten once it has left the house.

    Raises:
        NotFound: as `look_up`.
    """
    calendar, feed_id, changed = _now(session, now, token, lock=True)
    _keep(session, feed_id, changed)
    return calendar


def _now(
    session: Session, now: datetime, token: str, *, lock: bool = False
) -> tuple[CalendarNow, int, tuple[Told, ...]]:
    shop = session.get(ShopProfile, 1)
    if shop is None:
        raise nothing_here()
    row, person = whose_feed(session, token, now.astimezone(ZoneInfo(shop.time_zone)).date())
    assert row.id is not None
    if lock:  # two who fetch at once are told the same: the second reads what the first kept
        session.exec(select(CalendarFeed.id).where(col(CalendarFeed.id) == row.id).with_for_update()).one()
    before = _before(session, row.id)
    if person is None:
        telling, owner = tell_the_end(before, now), ""
        if not telling.entries:
            raise nothing_here()
    else:
        telling, owner = tell(list_dates(session, now, person).entries, before, now), person.name
    made = CalendarNow(shop.name, owner, telling.entries, shop.created_at, bool(telling.changed))
    return made, row.id, telling.changed


def _before(session: Session, feed_id: int) -> dict[str, Told]:
    columns: list[Any] = [col(CalendarTold.uid), *(col(getattr(CalendarTold, name)) for name in _KEPT)]
    rows = session.connection().execute(
        select(*columns).where(col(CalendarTold.feed_id) == feed_id).order_by(col(CalendarTold.uid))
    )
    return {row.uid: Told(row.uid, EntryKind(row.kind), *row[2:]) for row in rows}


def _keep(session: Session, feed_id: int, changed: Iterable[Told]) -> None:
    insert = postgres_insert if session.get_bind().dialect.name == "postgresql" else sqlite_insert
    rows = [{"feed_id": feed_id, **asdict(one), "kind": one.kind.value} for one in changed]
    for begin in range(0, len(rows), _AT_ONCE):
        statement = insert(CalendarTold).values(rows[begin : begin + _AT_ONCE])
        newer = {name: statement.excluded[name] for name in _KEPT}
        session.connection().execute(
            statement.on_conflict_do_update(index_elements=["feed_id", "uid"], set_=newer)
        )
