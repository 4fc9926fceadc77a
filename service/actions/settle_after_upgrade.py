"""After an upgrade the rules of ageing may be other ones: how every container stands is worked out anew."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.records.engine import Database
from service.records.materials import Material
from service.records.settle_dates import settle_dates_of_materials
from service.records.shop import BookClock, ShopProfile

AT_ONCE = 20
"""Materials settled in one transaction: the book is never shut for long."""


def settle_after_upgrade(database: Database, now: datetime) -> int:
    """Settle the dates of every container by the rules of this program; how many were looked at.

    Nothing is done in a shop that was never set up.
    """
    with database.reading() as session:
        shop, clock = session.get(ShopProfile, 1), session.get(BookClock, 1)
        numbers = _materials(session)
    if shop is None:
        return 0
    # As of the book's last entry: what changes by itself after it is swept like any other day's.
    at = clock.last_recorded_at if clock is not None else now
    today, looked_at = at.astimezone(ZoneInfo(shop.time_zone)).date(), 0
    for begin in range(0, len(numbers), AT_ONCE):
        with database.writing() as session:
            looked_at += settle_dates_of_materials(session, numbers[begin : begin + AT_ONCE], today)
    return looked_at


def _materials(session: Session) -> list[int]:
    return [number for number in session.exec(select(Material.id).order_by(col(Material.id))).all() if number]
