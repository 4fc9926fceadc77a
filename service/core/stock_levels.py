"""How much of a material is on the shelf over the term: deliveries, jobs, what dies and when (for a picture).

Doors: web/stock_picture.py.

Only what may be planned with is counted: containers not known, or past, are on no line.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.core.months import add_days
from service.core.order_list import MaterialOrder
from service.core.plan_needs import MINIMUM
from service.core.plan_stock import StockPlan


class Step(StrEnum):
    """Why the level changes. On one day what died is gone first, then deliveries come, then jobs take."""

    START = "start"
    DIES = "dies"
    DELIVERY = "delivery"
    JOB = "job"


_TURN = {step: n for n, step in enumerate(Step)}


@dataclass(frozen=True)
class LevelStep:
    """One change, in smallest units, and the level after it. ``about``: a container code or a job's name."""

    on: date
    step: Step
    change: int
    level: int
    about: str = ""


def stock_levels(
    plan: StockPlan, order: MaterialOrder | None, material_id: int, today: date, until: date,
    own: Collection[int] | None = None,
) -> tuple[LevelStep, ...]:  # fmt: skip
    """The level from ``today`` to ``until``, with the order, or without one (None: as if nothing was bought).

    ``own``: the jobs the order is for, None = all; what others lack is bought by their own plans.

    >>> from service.core.findings import Verdict
    >>> empty = StockPlan((), (), (), Verdict())
    >>> [step.level for step in stock_levels(empty, None, 1, date(2026, 3, 2), date(2026, 7, 1))]
    [0]
    """
    start, changes = 0, []
    for one in plan.left:
        if one.container.material_id != material_id or one.outlook.why_not:
            continue
        left = one.left or 0
        if one.container.comes is None:
            start += one.container.free
        else:
            changes.append((one.container.comes, Step.DELIVERY, one.container.free, one.container.code))
        if one.outlook.until is not None:
            changes.append((add_days(one.outlook.until, 1), Step.DIES, -left, one.container.code))
    bought = order is not None and order.chosen
    for need in plan.covered:
        # What is only to be left on the shelf is taken by nobody.
        if need.need.material_id != material_id or need.need.job == MINIMUM:
            continue
        buys = bought and (own is None or need.need.job in own)
        taken = sum(promise.amount for promise in need.promises) + (need.missing or 0 if buys else 0)
        changes.append((need.need.on, Step.JOB, -taken, need.need.job_name))
    if order is not None:
        changes += [(line.arrive, Step.DELIVERY, line.amount, line.pack.supplier) for line in order.lines]
        changes += [
            (add_days(one.until, 1), Step.DIES, -one.left, one.pack.supplier)
            for one in order.opened
            if one.until is not None
        ]
    return _added(start, changes, today, until)


def first_below(steps: Sequence[LevelStep], least: int) -> date | None:
    """The first day on which less than ``least`` is there when the day is over; None: never.

    >>> first_below([LevelStep(date(2026, 3, 2), Step.START, 0, 5)], 6)
    datetime.date(2026, 3, 2)
    """
    at_the_end = {step.on: step.level for step in steps}
    return next((day for day, level in sorted(at_the_end.items()) if level < least), None)


def unsure_from(plan: StockPlan, material_id: int, today: date) -> date | None:
    """From which day on there may be less than the levels say; None: they hold as far as the book goes.

    Some job takes an amount nobody knows, or a planned day is gone and nobody said whether it was made.

    >>> from service.core.findings import Verdict
    >>> unsure_from(StockPlan((), (), (), Verdict()), 1, date(2026, 3, 2)) is None
    True
    """
    if any(need.material_id == material_id for need in plan.gone):
        return today
    mine = (one for one in plan.covered if one.need.material_id == material_id)
    return min((one.need.on for one in mine if one.missing is None or not one.sure), default=None)


def _added(
    start: int, changes: Iterable[tuple[date, Step, int, str]], today: date, until: date
) -> tuple[LevelStep, ...]:
    steps, level = [LevelStep(today, Step.START, start, start)], start
    for day, step, change, about in sorted(changes, key=lambda one: (one[0], _TURN[one[1]], one[3])):
        if change and day <= until:
            level += change
            steps.append(LevelStep(day, step, change, level, about))
    return tuple(steps)
