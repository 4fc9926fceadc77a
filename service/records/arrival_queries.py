"""What came without a word about the order that was on its way then, and what was said of the order since."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.ledger import MovementKind, OtherSide
from service.records.orders import OrderLineRow, PurchaseOrder
from service.records.shop import Change, ShopProfile
from service.records.stock import Container, Movement

BY_HAND = ("state", "expected on", "still on its way")
"""The changes of a line by which somebody says what becomes of it; what is ticked off is none of them."""


@dataclass(frozen=True)
class CameBeside:
    """A container that was taken in without an order. ``amount`` None = nobody knows how much; ``found``: it
    stood there when somebody looked, and nobody said that it was delivered."""

    code: str
    material_id: int
    amount: int | None
    on: date | None
    recorded_at: datetime
    found: bool = False


@dataclass(frozen=True)
class Placed:
    """On which shop day a line was ordered, when and on which day that was written down, and when somebody
    last said by hand what becomes of it."""

    on: date
    at: datetime
    written_on: date
    said_at: datetime | None = None

    def may_be(self, came: CameBeside) -> bool:
        """Whether what came may be of this line, as nobody said since what becomes of it.

        An order may be written down after its can came, also on one day: what came on the day on which the
        order was placed, or since, may be of it, whichever of both was written down first. What was found
        standing there before an order that was written on its own day was placed is not of it.
        """
        if came.recorded_at < day_before(self.on) if came.on is None else came.on < self.on:
            return False
        if came.found and came.recorded_at < self.at and self.written_on <= self.on:
            return False
        return self.said_at is None or self.said_at <= came.recorded_at


def day_before(on: date) -> datetime:
    """An instant before a day begins, in whatever zone the shop is."""
    return datetime.combine(on - timedelta(days=1), time.min, UTC)


def placed_of(session: Session, lines: Iterable[OrderLineRow]) -> dict[int, Placed]:
    """When each of these lines was ordered and last spoken of, by its number."""
    asked = [line.id for line in lines if line.id is not None]
    shop = session.get(ShopProfile, 1)
    zone = ZoneInfo(shop.time_zone if shop else "UTC")
    rows = session.execute(
        columns_of(
            col(OrderLineRow.id), col(PurchaseOrder.placed_on), col(PurchaseOrder.created_at),
            func.max(col(Change.changed_at)),
        )
        .join(PurchaseOrder, col(PurchaseOrder.id) == col(OrderLineRow.order_id))
        .join(
            Change,
            (col(Change.about_kind) == "order-line")
            & (col(Change.about_id) == col(OrderLineRow.id))
            & col(Change.field).in_(BY_HAND),
            isouter=True,
        )
        .where(col(OrderLineRow.id).in_(asked))
        .group_by(col(OrderLineRow.id), col(PurchaseOrder.placed_on), col(PurchaseOrder.created_at))
    ).all()  # fmt: skip
    return {number or 0: Placed(on, at, at.astimezone(zone).date(), said) for number, on, at, said in rows}


def came_beside(session: Session, material_ids: Iterable[int], since: datetime) -> Sequence[CameBeside]:
    """What came of these materials since then without an order, and was not taken back, oldest first."""
    back = select(Movement.reverses_id).where(col(Movement.reverses_id).is_not(None))
    rows = session.exec(
        select(Container, Movement)
        .join(Movement, col(Movement.container_id) == col(Container.id))
        .where(
            col(Container.material_id).in_(list(material_ids)),
            col(Container.order_line_id).is_(None),
            col(Movement.kind) == MovementKind.RECEIVE,
            col(Movement.other_side).in_((OtherSide.SUPPLIER, OtherSide.STOCK_TAKE)),
            col(Movement.recorded_at) >= since,
            col(Movement.id).not_in(back),
        )
        .order_by(col(Movement.id))
    ).all()
    return [
        CameBeside(
            box.code, box.material_id, entry.change, box.received_on, entry.recorded_at,
            entry.other_side is OtherSide.STOCK_TAKE,
        )
        for box, entry in rows
    ]  # fmt: skip
