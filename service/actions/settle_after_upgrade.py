"""After an upgrade the rules of ageing may be other ones: how every container stands is worked out anew."""

from __future__ import annotations

from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.actions.note_change import note_change
from service.actions.settle_solutions import settle_solutions
from service.core.ageing import RULES
from service.records.engine import Database
from service.records.materials import Material
from service.records.settle_dates import settle_dates_of_materials
from service.records.shop import BookClock, Change, ShopProfile

AT_ONCE = 20
"""Materials settled in one transaction: the book is never shut for long."""
_ABOUT: Final = ("program", 1)
_FIELD: Final = "ageing-rules"


def rules_settled(session: Session) -> bool:
    """Whether the stored dates are by the rules of this program. A shop never set up has none to settle."""
    if session.get(ShopProfile, 1) is None:
        return True
    return _settled_by(session) == str(RULES)


def settle_after_upgrade(database: Database, now: datetime) -> int:
    """Settle the dates of every container by the rules of this program; how many were looked at.

    Nothing is done in a shop that was never set up. At the end the number of the rules is written down among
    the changes, so that a program with other rules sees it.
    """
    with database.reading() as session:
        shop, clock = session.get(ShopProfile, 1), session.get(BookClock, 1)
        numbers, before = _materials(session), _settled_by(session)
    if shop is None:
        return 0
    # As of the book's last entry: what changes by itself after it is swept like any other day's.
    at = clock.last_recorded_at if clock is not None else now
    zone = ZoneInfo(shop.time_zone)
    today, looked_at = at.astimezone(zone).date(), 0
    with database.writing() as session:
        settle_solutions(session, zone, today)
    for begin in range(0, len(numbers), AT_ONCE):
        with database.writing() as session:
            looked_at += settle_dates_of_materials(session, numbers[begin : begin + AT_ONCE], today)
    with database.writing() as session:
        why = "The dates of all containers were settled anew by the rules of this program."
        note_change(session, None, now, _ABOUT, _FIELD, before, str(RULES), why)
    return looked_at


def _settled_by(session: Session) -> str | None:
    newest = select(Change.after).where(col(Change.about_kind) == _ABOUT[0], col(Change.field) == _FIELD)
    return session.exec(newest.order_by(col(Change.id).desc()).limit(1)).first()


def _materials(session: Session) -> list[int]:
    return [number for number in session.exec(select(Material.id).order_by(col(Material.id))).all() if number]
