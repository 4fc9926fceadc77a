"""What a seeded store holds: the same at every run, whatever its size.

Twenty containers to a material, four in ten opened. How many want attention does not grow with the store
(1,900 containers and 100 materials with a missing fact), so that a search can be held against one over a
hundred times as many containers. Besides, 18 in 1,000 change their standing within the next 30 days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Final

from service.core.ageing import Ageing, alert_dates, judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.life_facts import LifeFacts

SEED: Final = 3
"""Version of what is seeded: raise it with every change here or in the schema."""
SEEDED_AT: Final = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
NOW: Final = datetime(2026, 3, 12, 9, 30, tzinfo=UTC)
"""When the measured shop lives: ten days after the last entry that was seeded."""
SEED_DAY: Final = date(2026, 3, 2)
TODAY: Final = date(2026, 3, 12)
ZONE: Final = "Europe/Berlin"
POLICY: Final = AgeingPolicy(PolicyEnd.RETEST, sealed_months=60, opened_months=24)
PER_MATERIAL: Final = 20
PER_DELIVERY: Final = 10
FULL: Final = 1_000_000
"""One kilogram in milligrams, or one litre in microlitres."""


@dataclass(frozen=True)
class Plan:
    """A store of ``containers``."""

    containers: int

    @property
    def materials(self) -> int:
        return max(12, self.containers // PER_MATERIAL)

    @property
    def wanting(self) -> int:
        """Containers that are past, not known, or have changed their standing since they were written."""
        return min(1_900, self.containers // 5)

    @property
    def lacking(self) -> int:
        """Materials nobody found the flash point of."""
        return min(100, self.materials // 5)

    @property
    def soon(self) -> int:
        return self.containers * 18 // 1000

    @property
    def log_entries(self) -> int:
        return max(1_000, self.containers // 10)


@dataclass(frozen=True)
class Life:
    """One container of the plan: its dates, and what they come to on the day it was written."""

    packed_on: date
    received_on: date
    opened_on: date | None
    opened: bool
    printed_date: date | None
    at: Ageing
    next_alert_on: date | None


def life(plan: Plan, number: int) -> Life:
    """The life of container ``number`` (0 up); what wants attention is spread evenly over the store."""
    received = SEED_DAY - timedelta(days=400 - 300 * number // plan.containers)
    packed = received - timedelta(days=30)
    turn = number * plan.wanting // plan.containers
    wants = (number + 1) * plan.wanting // plan.containers > turn
    opened_on = SEED_DAY - timedelta(days=1 + 99 * (plan.containers - number) // plan.containers)
    if wants:
        return _wanting(turn, packed, received, opened_on)
    if (number + 7) * plan.soon // plan.containers > (number + 6) * plan.soon // plan.containers:
        warn_in = (TODAY - packed).days + 2 + number % 28
        return _life(packed, received, None, False, packed + timedelta(days=warn_in * 5 // 4))
    if number % 10 < 4:
        return _life(packed, received, opened_on, True, None)
    return _life(packed, received, None, False, None)


def _wanting(turn: int, packed: date, received: date, opened_on: date) -> Life:
    match turn % 3:
        case 0:  # past already when it was written
            return _life(packed, received, None, False, SEED_DAY - timedelta(days=1 + turn % 20))
        case 1:  # has gone past since, and nobody wrote it down
            return _life(packed, received, None, False, SEED_DAY + timedelta(days=turn % 9))
        case _:  # open, and nobody knows since when
            return _life(packed, received, None, True, None, opened_by=opened_on)


@cache
def _life(
    packed: date, received: date, opened_on: date | None, opened: bool, printed: date | None,
    opened_by: date | None = None,
) -> Life:  # fmt: skip
    facts = LifeFacts(
        packed_on=packed, received_on=received, opened_on=opened_on, opened=opened, printed_date=printed,
        policy=POLICY, opened_by=opened_by,
    )  # fmt: skip
    later = next((day for day in alert_dates(facts) if day > SEED_DAY), None)
    return Life(packed, received, opened_on or opened_by, opened, printed, judge(facts, SEED_DAY), later)


def not_known(one: Life) -> bool:
    """Whether it is open since nobody knows when; ``opened_on`` is then the day it was first seen open."""
    return one.opened and one.at.standing is Standing.NOT_KNOWN
