"""The whole plan of a term in one call: needs, promises, orders, and what would die unused.

Doors: actions/look_at_term.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service.core.ageing import WARN_SHARE
from service.core.findings import Finding, Verdict, warn
from service.core.months import say_date
from service.core.order_list import Bought, OrderList, minimum_needs, order_list
from service.core.plan_needs import MINIMUM, DayNeed, PlannedJob, PlanNeeds, plan_needs
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import StockPlan, plan_stock
from service.core.school_calendar import SchoolCalendar
from service.core.waste_avoided import DiesUnused, dies_unused


@dataclass(frozen=True)
class TermPlan:
    """Each step with what it found; ``verdict`` joins them all. ``needs`` and ``orders`` are the term's own;
    ``stock`` holds the jobs of other terms as well."""

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
    others: Sequence[PlannedJob] = (),
) -> TermPlan:
    """Plan all jobs against the shelf as it stands on ``today``; minimums are left on the term's last day.

    ``others`` are jobs of other terms (their numbers differ): they take what they need in the order of days,
    and what they lack is ordered by their own plan.

    >>> term = SchoolCalendar(date(2026, 2, 2), date(2026, 7, 3))
    >>> made = plan_term([], [], [Bought(1, "oil", None, minimum=5)], term, date(2026, 3, 2))
    >>> made.orders.orders[0].short, made.orders.orders[0].chosen
    (5, False)
    """
    needs = plan_needs(jobs, others)
    # A term that was shortened may have jobs after its last day.
    end = max([today, calendar.last, *(job.on for job in jobs)])
    least = minimum_needs(materials, end)
    told = {MINIMUM, *(job.number for job in jobs)}
    stock = plan_stock([*needs.needs, *needs.others, *least], shelf, today, warn_share, told)
    orders = order_list(_own(stock, needs), materials, calendar, today)
    wanted = {one.need.material_id for one in _own(stock, needs).covered}
    dying = tuple(one for one in dies_unused(stock, end) if one.material_id in wanted)
    said = needs.verdict + stock.verdict + orders.verdict + _others_lack(stock, needs, orders)
    return TermPlan(needs, stock, orders, dying, said)


def _others_lack(stock: StockPlan, needs: PlanNeeds, orders: OrderList) -> list[Finding]:
    """Who lacks what is ordered here, is not of this plan, and takes of it before it is last used here.

    A day takes of it from the day after it comes. A batch (a number below nothing) stays until it is
    finished: what it lacks today it takes of what comes.
    """
    own = {MINIMUM, *(need.job for need in needs.needs)}
    last: dict[int, tuple[date, int]] = {}
    for one in stock.covered:
        if one.need.job in own and one.missing:
            number = one.need.material_id
            last[number] = max((one.need.on, one.need.job), last.get(number, _NEVER))
    found: list[Finding] = []
    for order in orders.orders:
        comes = min((line.expected for line in order.lines), default=date.min)
        lacks = [
            one.need for one in stock.covered
            if one.need.material_id == order.material_id and one.need.job not in own and one.missing
            and (one.need.job < 0 or one.need.on > comes)
            and (one.need.on, one.need.job) < last.get(order.material_id, _NEVER)
        ]  # fmt: skip
        if lacks:
            found.append(_say_lack(lacks, order.name))
    return found


_NEVER = (date.min, 0)


def _say_lack(lacks: Sequence[DayNeed], name: str) -> Finding:
    days = [need for need in lacks if need.job >= 0]
    batches = list(dict.fromkeys(need.job_name for need in lacks if need.job < 0))
    who, whom = batches[:], [f"finish {one}" for one in batches]
    if days:
        more = f" and {len(days) - 1} more" if len(days) > 1 else ""
        who.append(f"“{days[0].job_name}” on {say_date(days[0].on)}{more} of other terms")
        whom.append("order for those terms too")
    several = len(lacks) > 1
    words = (
        f"{' and '.join(who)} {'lack' if several else 'lacks'} {name} as well. It is not on this list, and "
        f"{'they take' if several else 'that takes'} first of what comes: {', '.join(whom)}."
    )
    return warn("others-lack", words[0].upper() + words[1:], about=name)


def _own(stock: StockPlan, needs: PlanNeeds) -> StockPlan:
    """What this plan orders for: its own jobs and what is left on the shelf. An unknown need of another term
    stays among them, as it makes what is ordered of that material the least."""
    jobs = {MINIMUM, *(need.job for need in needs.needs)}
    wanted = {need.material_id for need in needs.needs}
    kept = (
        one
        for one in stock.covered
        if one.need.job in jobs or (one.missing is None and one.need.material_id in wanted)
    )
    return replace(stock, covered=tuple(kept))
