"""Which time zones the shop had, and until when each."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.inspection_pack import ZoneHeld
from service.records.shop import Change, ShopProfile


def zones_of(session: Session, shop: ShopProfile) -> list[ZoneHeld]:
    """The zones, the oldest first; the last one holds still. Each change of it was noted in plain words."""
    query = columns_of(col(Change.before), col(Change.changed_at)).where(
        col(Change.about_kind) == "shop", col(Change.field) == "time zone", col(Change.before).is_not(None)
    )
    found = session.connection().execute(query.order_by(col(Change.id))).all()
    held = [ZoneHeld(ZoneInfo(was), until) for was, until in found if was]
    return [*held, ZoneHeld(ZoneInfo(shop.time_zone))]
