"""The whole plan of a term in one call: needs, promises, orders, and what would die unused.

Doors: core/order_list.py (the last of the steps it takes); no page uses it yet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.core.ageing import WARN_SHARE
from service.core.findings import Verdict
from service.core.order_list import Bought, OrderList, minimum_needs, order_list
from service.core.plan_needs import PlannedJob, PlanNeeds, plan_needs
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import StockPlan, plan_stock
from service.core.school_calendar import SchoolCalendar
from service.core.waste_avoided import DiesUnused, dies_unused


@dataclass(frozen=True)
class TermPlan:
    """Each step with what it found; ``verdict`` joins them all."""

    needs: PlanNeeds
    stock: StockPlan
    orders: OrderList
    dying: tuple[DiesUnused, ...]
    verdict: Verdict


def plan_term(
    jobs: Sequence[PlannedJob],
    shelf: Sequence[ShelfContainer],
    materials: Sequence[Bought],
    calendar: SchoolCalendar,
    today: date,
    warn_share: Decimal = WARN_SHARE,
) -> TermPlan:
    """Plan all jobs against the shelf as it stands on ``today``; minimums are left on the term's last day.

    >>> term = SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3))
    >>> made = plan_term([], [], [Bought(1, "oil", None, minimum=5)], term, date(2026, 3, 2))
    >>> made.orders.orders[0].short, made.orders.orders[0].chosen
    (5, False)
    """
    needs = plan_needs(jobs)
    least = minimum_needs(materials, max(today, calendar.last))
    stock = plan_stock([*needs.needs, *least], shelf, today, warn_share)
    orders = order_list(stock, materials, calendar, today)
    dying = dies_unused(stock, calendar.last)
    return TermPlan(needs, stock, orders, dying, needs.verdict + stock.verdict + orders.verdict)
