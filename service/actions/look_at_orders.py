"""What stands beside each line of the order list: use by the ledger, and what has to go first. Only looks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.limits_after import limits_after
from service.actions.look_at_term import TermOutlook
from service.core.order_list import MaterialOrder
from service.core.school_calendar import SchoolCalendar, why_closed
from service.core.shop_days import shop_day
from service.core.use_suggestion import UseOfWeeks, use_of_weeks, uses_of
from service.core.waste_avoided import DiesUnused
from service.records.order_queries import first_received, movements_since
from service.records.shop import ShopProfile

WEEKS_BACK = 26


@dataclass(frozen=True)
class ToBuy:
    """One material of the order list.

    ``use``: what a week takes by the ledger. ``first``: containers of it that die unused or want a look;
    ``aside``: others that are not planned with, and why. ``limits``: the storage limits after the delivery.
    """

    order: MaterialOrder
    use: UseOfWeeks
    first: tuple[DiesUnused, ...]
    aside: tuple[tuple[str, str], ...]
    limits: tuple[str, ...] = ()


def look_at_orders(session: Session, look: TermOutlook) -> list[ToBuy]:
    """The order list of a term with what stands beside it, in its order."""
    orders = look.plan.orders.orders
    numbers = {one.material_id for one in orders}
    uses = use_by_ledger(session, numbers, look.calendar, look.today)
    limits = limits_after(session, orders)
    looked = {one.container_id for one in look.plan.dying}
    aside: dict[int, list[tuple[str, str]]] = {}
    for left in look.plan.stock.left:
        box = left.container
        if left.outlook.why_not and box.container_id not in looked and box.amount != 0:
            aside.setdefault(box.material_id, []).append((box.code, left.outlook.why_not))
    return [
        ToBuy(
            order,
            uses[order.material_id],
            tuple(one for one in look.plan.dying if one.material_id == order.material_id),
            tuple(aside.get(order.material_id, ())),
            limits[order.material_id],
        )
        for order in orders
    ]


def use_by_ledger(
    session: Session, material_ids: Collection[int], calendar: SchoolCalendar, today: date
) -> Mapping[int, UseOfWeeks]:
    """What a week took of each material in the last half year; one without lessons counts if used."""
    shop = session.get(ShopProfile, 1)
    zone = shop.time_zone if shop else "UTC"
    begin = today - timedelta(weeks=WEEKS_BACK)
    begin -= timedelta(days=begin.weekday())
    since = datetime.combine(begin, time(0), tzinfo=ZoneInfo(zone))
    moved = movements_since(session, material_ids, since) if material_ids else {}
    kept_since = first_received(session, material_ids) if material_ids else {}
    closed = _closed_weeks(calendar, begin, today)
    found = {}
    for number in material_ids:
        uses = [use for lines in moved.get(number, []) for use in uses_of(lines, zone)]
        first = kept_since.get(number)
        day = begin if first is None else max(begin, shop_day(first, zone))
        found[number] = use_of_weeks(uses, day if first else today, today, closed)
    return found


def _closed_weeks(calendar: SchoolCalendar, begin: date, today: date) -> frozenset[date]:
    """The Mondays of weeks in which no day is open."""
    weeks = range((today - begin).days // 7 + 1)
    mondays = [begin + timedelta(weeks=n) for n in weeks]
    return frozenset(
        monday
        for monday in mondays
        if all(why_closed(calendar, monday + timedelta(days=n)) for n in range(7))
    )
