"""What dies unused before the term ends, and which planned job could take it.

Doors: core/term_plan.py.

The plan already takes what goes soonest, so what is left dies before the next job that needs it: such a job
could be brought forward. What nobody knows the age of could be looked at and then cover a shortage.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.core.plan_needs import MINIMUM
from service.core.plan_stock import Covered, LeftIn, StockPlan


class Rescue(StrEnum):
    """What would have to happen; with ``NO_JOB`` no planned job is known to take it."""

    BRING_FORWARD = "bring-forward"
    NO_JOB = "no-job"
    LOOK = "look"


@dataclass(frozen=True)
class Taker:
    """A planned job that could take ``amount`` (smallest units) of it."""

    job: int
    job_name: str
    on: date
    amount: int


@dataclass(frozen=True)
class DiesUnused:
    """``amount`` in smallest units. ``last_day``: use it by then; None with ``Rescue.LOOK``,
    where nobody knows. ``takers`` by day: brought forward, or with a shortage on their day."""

    container_id: int
    code: str
    material_id: int
    amount: int
    last_day: date | None
    rescue: Rescue
    takers: tuple[Taker, ...]


def dies_unused(plan: StockPlan, until: date) -> tuple[DiesUnused, ...]:
    """What the plan leaves to die before the last day of the term, soonest first, then what needs a look.

    A job is named for no more than it needs; what holds an amount nobody knows is not among them.

    >>> from service.core.findings import Verdict
    >>> from service.core.life_facts import LifeFacts
    >>> from service.core.plan_needs import DayNeed
    >>> from service.core.plan_outlook import Outlook, ShelfContainer
    >>> late = Covered(DayNeed(7, "staining", date(2026, 5, 4), 1, "oil", None, 300, 300), (), 300)
    >>> tin = LeftIn(ShelfContainer(1, "R4F34T", 1, 500, LifeFacts()), Outlook(date(2026, 4, 1)), 500)
    >>> one = dies_unused(StockPlan((late,), (), (tin,), Verdict()), date(2026, 6, 30))[0]
    >>> one.amount, one.takers[0].job, one.takers[0].amount
    (500, 7, 300)
    """
    rows = [one for one in plan.covered if one.missing is not None and one.need.job != MINIMUM]
    # What may still be offered to each need: all of it when it is brought forward, its shortage after a look.
    whole = [one.need.high or 0 for one in rows]
    short = [one.missing or 0 for one in rows]
    of: dict[int, list[int]] = defaultdict(list)
    for n, one in enumerate(rows):
        of[one.need.material_id].append(n)
    found = []
    for left in sorted(plan.left, key=_soonest):
        ahead, amount = left.outlook, left.left
        if not amount:
            continue
        mine = of[left.container.material_id]
        if ahead.look or (ahead.life_not_known and ahead.until is not None):
            found.append(_dies(left, amount, None, _offer(amount, mine, rows, short)))
        elif not ahead.why_not and ahead.until is not None and ahead.until < until:
            later = [n for n in mine if rows[n].need.on > ahead.until]
            found.append(_dies(left, amount, ahead.until, _offer(amount, later, rows, whole)))
    return tuple(found)


def _soonest(left: LeftIn) -> tuple[bool, date, str]:
    return left.outlook.look, left.outlook.until or date.max, left.container.code


def _offer(
    amount: int, able: Sequence[int], rows: Sequence[Covered], open_to: list[int]
) -> tuple[Taker, ...]:
    takers = []
    for n in able:
        taken = min(amount, open_to[n])
        if taken:
            need = rows[n].need
            takers.append(Taker(need.job, need.job_name, need.on, taken))
            open_to[n] -= taken
            amount -= taken
    return tuple(takers)


def _dies(left: LeftIn, amount: int, last_day: date | None, takers: tuple[Taker, ...]) -> DiesUnused:
    one = left.container
    by_day = Rescue.BRING_FORWARD if takers else Rescue.NO_JOB
    rescue = Rescue.LOOK if last_day is None else by_day
    return DiesUnused(one.container_id, one.code, one.material_id, amount, last_day, rescue, takers)
