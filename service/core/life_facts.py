"""What is known about the life of one container: its dates, its condition checks, its policy.

Doors: records/stock.py, core/ageing.py, core/container_life.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from service.core.ageing_policies import AgeingPolicy
from service.core.months import earliest
from service.core.peroxides import PeroxideLife


class CheckOutcome(StrEnum):
    """What followed from a look at the material. A cut skin says nothing about what is under it.

    ``noted`` moves no date either; ``doubted`` asks for a look before each use until a check passes.
    """

    PASSED = "passed"
    FAILED = "failed"
    SKIN_CUT = "skin-cut"
    NOTED = "noted"
    DOUBTED = "doubted"


@dataclass(frozen=True)
class ConditionCheck:
    """One check of the condition, on a shop day; ``found`` as in core.conditions, empty where nobody said.

    ``told``: nobody checked it; somebody saw it by the way and told (`actions/tell_keeper.py`). ``late``: it
    was written down later than it was seen, and ``on`` may be a later day than that. ``elsewhere``: it was
    found in another container, one that went into this, came out of it or is of the same stuff. ``at``
    (aware): when it was made; None = not known. It makes no two checks unlike.
    """

    on: date
    outcome: CheckOutcome
    found: str = ""
    told: bool = False
    late: bool = False
    elsewhere: bool = False
    at: datetime | None = field(default=None, compare=False)


@dataclass(frozen=True)
class LifeFacts:
    """What is known about the life of one container; None = not known (``printed_date``: none printed).

    ``started_by`` / ``opened_by``: its true date is not known, but not later than this (the earliest known of
    what was poured together, or the day it was first seen open). ``inherited_until`` is the earliest end of
    what went into a made mix, ``inherited_gap`` says that something in it was not known. ``former``: it forms
    peroxides, and how long it is kept at most.
    """

    packed_on: date | None = None
    received_on: date | None = None
    opened_on: date | None = None
    opened: bool = False
    printed_date: date | None = None
    checks: tuple[ConditionCheck, ...] = ()
    policy: AgeingPolicy | None = None
    started_by: date | None = None
    opened_by: date | None = None
    inherited_until: date | None = None
    inherited_gap: bool = False
    former: PeroxideLife | None = None

    @property
    def is_open(self) -> bool:
        return self.opened or self.opened_on is not None or self.opened_by is not None

    @property
    def start(self) -> date | None:
        """Where the life starts: the packed date, else the received date."""
        return self.received_on if self.packed_on is None else self.packed_on

    @property
    def started_at_latest(self) -> date | None:
        """The earliest day by which the life had surely begun."""
        return earliest(self.start, self.started_by, self.opened_on, self.opened_by)


def dates_contradict(facts: LifeFacts, today: date) -> bool:
    """Whether it was opened or came in before it was packed, or any of these days has not come yet.

    >>> dates_contradict(LifeFacts(packed_on=date(2025, 1, 2), opened_on=date(2025, 1, 1)), date(2026, 1, 1))
    True
    """
    dates = (facts.packed_on, facts.received_on, facts.opened_on)
    if any(day is not None and day > today for day in dates):
        return True
    packed = facts.packed_on
    return packed is not None and any(day is not None and day < packed for day in dates)
