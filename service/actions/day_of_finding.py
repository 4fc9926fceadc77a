"""From which day a finding counts that is written down late."""

from __future__ import annotations

from datetime import date

from service.actions.settle import Act
from service.core.life_facts import CheckOutcome
from service.records.ageing_queries import checks_of
from service.records.stock_queries import Held


def day_of_finding(act: Act, held: Held, outcome: CheckOutcome) -> date:
    """The day a finding counts from. A doubt written down late is not lifted by a glance of a later day."""
    day: date = act.day
    if outcome is not CheckOutcome.DOUBTED:
        return day
    passed = [c.on for c in checks_of(act.session, held.container_id) if c.outcome is CheckOutcome.PASSED]
    return max([day, *passed])
