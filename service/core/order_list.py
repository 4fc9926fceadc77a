"""What to buy for the planned jobs: packs, by when to order them, what they cost, what is left of them.

Doors: core/term_plan.py, core/stock_levels.py.

One order for each material; a pack joins the first delivery if it keeps from that day to its last use.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from service.core.ageing_policies import AgeingPolicy
from service.core.costs import Cost
from service.core.findings import Finding, Findings, Verdict, unknown, warn
from service.core.materials import Basis
from service.core.months import say_date, say_days
from service.core.order_dates import arrive_by, comes_on, order_by
from service.core.pack_choice import OpenedPacks, PackSize, choose_packs
from service.core.plan_needs import MINIMUM, DayNeed
from service.core.plan_outlook import pack_end, pack_keeps
from service.core.plan_stock import StockPlan
from service.core.school_calendar import SchoolCalendar


@dataclass(frozen=True)
class Bought:
    """A material as it is bought. ``minimum``: what is to be left on the shelf at the end, smallest units."""

    material_id: int
    name: str
    basis: Basis | None
    policy: AgeingPolicy | None = None
    sizes: tuple[PackSize, ...] = ()
    minimum: int = 0


@dataclass(frozen=True)
class OrderLine:
    """So many packs of one size in one delivery.

    ``arrive`` is the last working day before they are first used; ``order_by`` None: the lead time is not
    known. ``left``: what no planned job takes, in smallest units. ``cost`` None: no price. ``comes``: when it
    comes if it is ordered today, None = not known. ``late``: that is too late for its first use.
    """

    pack: PackSize
    count: int
    arrive: date
    order_by: date | None
    first_use: date
    last_use: date
    left: int
    cost: Fraction | None
    comes: date | None = None
    late: bool = False

    @property
    def amount(self) -> int:
        return self.pack.amount * self.count

    @property
    def expected(self) -> date:
        """The day to write down for it: ``arrive``, or when it really comes where that is too late."""
        return max(self.arrive, self.comes) if self.late and self.comes is not None else self.arrive


@dataclass(frozen=True)
class MaterialOrder:
    """What is ordered of one material. ``short``: all shortages together, of which ``lines`` cover each.

    ``chosen`` False: no packs could be chosen, the shortage stands. ``complete`` False: some job takes an
    amount nobody knows, or nobody knows what earlier days left, so that this is the least. ``opened`` tells
    which day each pack is begun.
    """

    material_id: int
    name: str
    basis: Basis | None
    short: int
    lines: tuple[OrderLine, ...]
    opened: tuple[OpenedPacks, ...]
    chosen: bool
    complete: bool

    @property
    def amount(self) -> int:
        return sum(line.amount for line in self.lines)


@dataclass(frozen=True)
class OrderList:
    """Orders by the day they have to be made, then by name; the cost of them all; what to read first."""

    orders: tuple[MaterialOrder, ...]
    cost: Cost
    verdict: Verdict


def minimum_needs(materials: Iterable[Bought], until: date) -> list[DayNeed]:
    """What is to be left on the shelf on the last day of the plan, as needs to plan with after all jobs.

    >>> minimum_needs([Bought(1, "oil", Basis.VOLUME, minimum=500)], date(2026, 6, 30))[0].high
    500
    """
    return [
        DayNeed(MINIMUM, "the shelf", until, one.material_id, one.name, one.basis, one.minimum, one.minimum)
        for one in materials
        if one.minimum > 0
    ]


def order_list(
    plan: StockPlan, materials: Sequence[Bought], calendar: SchoolCalendar, today: date
) -> OrderList:
    """The packs that cover every shortage of the plan, each counted only while it is in date.

    A material that is short and not among ``materials`` is ordered as one without a pack size: named, not
    covered. A smaller plan never orders more of any material.

    >>> from service.core.plan_stock import plan_stock
    >>> need = DayNeed(1, "staining", date(2026, 3, 9), 1, "oil", Basis.VOLUME, 400_000, 400_000)
    >>> oil = Bought(1, "oil", Basis.VOLUME, sizes=(PackSize(1, 500_000, lead_days=3),))
    >>> term = SchoolCalendar(date(2026, 2, 2), date(2026, 6, 30))
    >>> made = order_list(plan_stock([need], [], date(2026, 3, 2)), [oil], term, date(2026, 3, 2))
    >>> line = made.orders[0].lines[0]
    >>> line.count, line.left, line.arrive.isoformat(), line.order_by.isoformat()
    (1, 100000, '2026-03-06', '2026-03-03')
    """
    found = Findings()
    known = {one.material_id: one for one in materials}
    unsure = {one.need.material_id for one in plan.covered if one.missing is None}
    least = unsure | {one.need.material_id for one in plan.covered if not one.left_known}
    short: dict[int, dict[date, int]] = {}
    for one in plan.covered:
        need = one.need
        known.setdefault(need.material_id, Bought(need.material_id, need.material, need.basis))
        if one.missing:
            days = short.setdefault(need.material_id, {})
            days[need.on] = days.get(need.on, 0) + one.missing
    orders = []
    for number in sorted({*short, *unsure}):
        order = _order(known[number], short.get(number, {}), calendar, today, number not in least)
        orders.append(order)
        found.add(*_about(order, known[number], short.get(number, {}), calendar, today))
        found.add(*_about_life(order, known[number].policy, plan))
    orders.sort(key=_first)
    return OrderList(tuple(orders), _cost(orders), found.verdict())


def _first(order: MaterialOrder) -> tuple[date, str, int]:
    days = [line.order_by or line.arrive for line in order.lines]
    return min(days, default=date.min), order.name, order.material_id


def _order(
    bought: Bought, short: dict[date, int], calendar: SchoolCalendar, today: date, complete: bool
) -> MaterialOrder:
    comes = {day: max(today, arrive_by(calendar, day)) for day in short}

    def here(size: PackSize) -> date | None:
        return None if size.lead_days is None else comes_on(calendar, today, size.lead_days)

    opened = choose_packs(
        short, bought.sizes, lambda day: pack_end(bought.policy, comes[day], day), here,
        lambda day: arrive_by(calendar, day),
    )  # fmt: skip
    return MaterialOrder(
        bought.material_id, bought.name, bought.basis, sum(short.values()),
        tuple(_lines(opened or (), bought.policy, comes, calendar, today)), opened or (),
        opened is not None, complete,
    )  # fmt: skip


def _lines(
    opened: Sequence[OpenedPacks],
    policy: AgeingPolicy | None,
    comes: dict[date, date],
    calendar: SchoolCalendar,
    today: date,
) -> list[OrderLine]:
    """Packs of one size that keep until their last use from the day the first of them comes: one line."""
    lines: list[OrderLine] = []
    at: dict[PackSize, int] = {}
    for one in opened:
        place = at.get(one.pack)
        if place is not None:
            ahead = pack_keeps(policy, lines[place].arrive)
            if ahead.why_not or ahead.usable_on(one.last_use):
                lines[place] = _joined(lines[place], one)
                continue
        arrive = comes[one.opens_on]
        lead = one.pack.lead_days
        cost = None if one.pack.price is None else Fraction(one.pack.price) * one.count
        ordered = None if lead is None else order_by(calendar, arrive, lead)
        at[one.pack] = len(lines)
        lines.append(
            OrderLine(
                one.pack, one.count, arrive, ordered, one.opens_on, one.last_use, one.left, cost,
                None if lead is None else comes_on(calendar, today, lead),
                ordered is not None and (ordered < today or arrive >= one.opens_on),
            )
        )  # fmt: skip
    return lines


def _joined(line: OrderLine, more: OpenedPacks) -> OrderLine:
    cost = None if line.pack.price is None else Fraction(line.pack.price) * (line.count + more.count)
    return OrderLine(
        line.pack, line.count + more.count, line.arrive, line.order_by, line.first_use,
        max(line.last_use, more.last_use), line.left + more.left, cost, line.comes, line.late,
    )  # fmt: skip


def _cost(orders: Iterable[MaterialOrder]) -> Cost:
    total, found = Fraction(0), []
    for order in orders:
        for line in order.lines:
            total += line.cost or 0
        if not order.chosen or any(line.cost is None for line in order.lines):
            words = f"What {order.name} costs is not known. So the cost is at least this."
            found.append(unknown("cost-not-known", words, about=order.name))
    return Cost(total, bool(found) or not all(order.complete for order in orders), tuple(found))


def _about(
    order: MaterialOrder, bought: Bought, short: Iterable[date], calendar: SchoolCalendar, today: date
) -> list[Finding]:
    found: list[Finding] = []
    name = order.name
    if not order.chosen:
        words = f"No pack size of {name} is known. Write down the packs it is sold in."
        found.append(unknown("no-pack-size", words, about=name))
    if not order.complete:
        words = (
            f"Some job takes an amount of {name} nobody knows, or nobody knows what is left of it by then: "
            "what is ordered is the least."
        )
        found.append(unknown("order-not-complete", words, about=name))
    for line in order.lines:
        sealed = pack_keeps(bought.policy, line.arrive)
        if not sealed.why_not and not sealed.usable_on(line.first_use):
            came, day = say_date(line.arrive), say_date(line.first_use)
            words = f"{name} that comes on {came} is past, still sealed, on {day}. Have it come later."
            found.append(warn("past-before-use", words, about=name))
        if line.order_by is None:
            day = say_date(line.arrive)
            words = f"How long {name} takes to come is not known: order it well before {day}."
            found.append(unknown("lead-not-known", words, about=name))
        elif line.late and line.comes is not None:
            comes = line.comes
            needed = say_days(_too_early(line, short, calendar, today))
            words = f"{name} is needed on {needed}; ordered today it comes on {say_date(comes)}."
            found.append(warn("order-late", words, about=name))
    return found


def _about_life(order: MaterialOrder, policy: AgeingPolicy | None, plan: StockPlan) -> Iterable[Finding]:
    """What is not known of the life of a pack; and where that is all of it, that what came counts no more."""
    if not order.lines or _life_known(policy, order.lines[0].arrive):
        return
    name = order.name
    words = f"How long {name} keeps is not known: each pack counts for the day it is opened alone."
    if policy is None or pack_keeps(policy, order.lines[0].arrive).why_not:
        here = [
            one.container.shown for one in plan.left
            if one.container.material_id == order.material_id and one.container.comes is None
            and one.outlook.look and not one.outlook.doubted
        ]  # fmt: skip
        came = f", as {', '.join(here)} now. Another pack covers it no better" if here else ""
        words += (
            f" Once it came it is not planned with{came}: write down how long {name} keeps, or it is asked "
            "for again."
        )
    yield unknown("pack-life-not-known", words, about=name)


def _too_early(line: OrderLine, short: Iterable[date], calendar: SchoolCalendar, today: date) -> list[date]:
    """The days for which an order of today comes too late, of all that this line is for."""
    days = {line.first_use}
    for day in short:
        arrive = max(today, arrive_by(calendar, day))
        late = arrive >= day or order_by(calendar, arrive, line.pack.lead_days or 0) < today
        if late and line.first_use <= day <= line.last_use:
            days.add(day)
    return sorted(days)


def _life_known(policy: AgeingPolicy | None, comes: date) -> bool:
    if policy is None or pack_keeps(policy, comes).why_not:
        return False
    return policy.has_opened_life or not policy.ages
