"""A tin that a batch will open for its day lives its opened life from then on, for all later days."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import col, delete

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.life_facts import LifeFacts
from service.core.materials import Basis
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import ShelfContainer
from service.core.plan_stock import plan_stock
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow
from tests.actions.test_plan_tells import said
from tests.actions.test_plan_unsettled import begin, hold, missing, wash
from tests.actions.test_term_plan_stored import Planned, make_planned
from tests.builders import TODAY

SOON, LATER = TODAY + timedelta(days=3), TODAY + timedelta(days=20)
LIFE: dict[str, Any] = {"end": "expiry", "sealed_months": 24, "opened_days": 7}


@pytest.fixture
def planned(database: Database) -> Planned:
    made = make_planned(database)
    number = made.mix.ids["spirit"]
    with database.writing() as session:
        session.execute(delete(AgeingPolicyRow).where(col(AgeingPolicyRow.material_id) == number))
        session.add(AgeingPolicyRow(material_id=number, set_at=made.mix.now, **LIFE))
    return made


def sealed(planned: Planned) -> str:
    code = planned.mix.can("spirit", 1_000_000, is_open=False, packed_on=TODAY - timedelta(days=30))
    return str(code)


def test_what_a_set_aside_batch_opens_is_past_for_a_later_day(planned: Planned) -> None:
    sealed(planned)
    soon = planned.job(SOON, recipe_id=wash(planned))
    planned.job(LATER, recipe_id=wash(planned, name="Late wash"))
    assert missing(planned, LATER) == 300_000, "opened for the first day it is past on the second"
    hold(planned, soon)
    assert missing(planned, SOON) == 0 and missing(planned, LATER) == 300_000
    assert any("is past after" in one for one in said(planned, "past-by-then"))


def test_what_a_running_batch_may_still_open_is_past_for_a_later_day(planned: Planned) -> None:
    sealed(planned)
    planned.job(LATER, recipe_id=wash(planned, name="Late wash"))
    begin(planned, planned.job(TODAY, recipe_id=wash(planned)))
    assert missing(planned, LATER) == 300_000


def test_a_second_batch_in_the_same_tin_is_lost_where_the_first_opens_it(planned: Planned) -> None:
    sealed(planned)
    soon = planned.job(SOON, recipe_id=wash(planned))
    late = planned.job(LATER, recipe_id=wash(planned, name="Late wash"))
    hold(planned, late)
    assert missing(planned, LATER) == 0 and missing(planned, SOON) == 0
    hold(planned, soon)
    assert missing(planned, LATER) == 300_000
    (sentence,) = said(planned, "set-aside-lost")
    assert "another batch opens on" in sentence and "past by then" in sentence
    assert said(planned, "set-aside-opened-before") == []


def test_within_its_opened_life_the_rest_counts(planned: Planned) -> None:
    sealed(planned)
    near = SOON + timedelta(days=5)
    hold(planned, planned.job(SOON, recipe_id=wash(planned)))
    planned.job(near, recipe_id=wash(planned, name="Near wash"))
    assert missing(planned, near) == 0


def test_a_job_before_the_batch_opens_it_earlier_still() -> None:
    """Invented figures: opened life 30 days; a batch opens it on the 9th, a job on the 3rd already."""
    oil = AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=24, opened_days=30)
    facts = LifeFacts(packed_on=date(2026, 2, 1), policy=oil)
    tin = ShelfContainer(1, "R4F34T", 1, 900, facts, opens_on=date(2026, 3, 9))

    def need(day: date) -> DayNeed:
        return DayNeed(day.toordinal(), "stain", day, 1, "oil", Basis.VOLUME, 300, 300)

    days = [date(2026, 3, 3), date(2026, 4, 2), date(2026, 4, 5)]
    plan = plan_stock([need(day) for day in days], [tin], date(2026, 3, 2))
    assert [one.missing for one in plan.covered] == [0, 0, 300]
    assert plan.covered[0].promises[0].opens and plan.left[0].opened_on == date(2026, 3, 3)
    without = plan_stock([need(day) for day in days[1:]], [tin], date(2026, 3, 2))
    assert [one.missing for one in without.covered] == [0, 0] and without.left[0].opened_on == tin.opens_on
    past = plan_stock([need(date(2026, 4, 9))], [tin], date(2026, 3, 2))
    assert [one.missing for one in past.covered] == [300]
