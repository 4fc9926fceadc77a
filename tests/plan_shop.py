"""Random shops for the tests of planning: policies, containers, needs, pack sizes, all of them small."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import AmountKnown, Condition, ContainerState
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import Basis
from service.core.pack_choice import PackSize
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import ShelfContainer
from service.core.school_calendar import SchoolCalendar
from service.core.shelf_codes import make_code

TODAY = date(2026, 2, 16)
UNTIL = date(2026, 7, 3)
TERM = SchoolCalendar(date(2026, 2, 2), UNTIL, country="DE", part="SN")
CODES = sorted(make_code(n * 7919) for n in range(60))
LONG_AGO, SOON = TODAY - timedelta(days=200), TODAY + timedelta(days=150)


def need(day: date, high: int | None, *, job: int = 1, material: int = 1) -> DayNeed:
    return DayNeed(job, f"job {job}", day, material, f"material {material}", Basis.VOLUME, high, high)


def policies() -> st.SearchStrategy[AgeingPolicy | None]:
    dated = st.builds(
        AgeingPolicy,
        end=st.sampled_from([PolicyEnd.EXPIRY, PolicyEnd.RETEST]),
        sealed_days=st.none() | st.integers(3, 400),
        opened_days=st.none() | st.integers(0, 90),
        extends_months=st.none() | st.integers(1, 6),
        hard_months=st.none() | st.integers(6, 24),
    )
    return st.none() | st.just(AgeingPolicy(PolicyEnd.INDEFINITE)) | dated | dated | dated


def past_days() -> st.SearchStrategy[date]:
    return st.dates(LONG_AGO, TODAY)


@st.composite
def containers(draw: st.DrawFn, most: int = 5) -> list[ShelfContainer]:
    found = []
    for n in range(draw(st.integers(0, most))):
        is_open = draw(st.booleans())
        checks = draw(
            st.lists(st.builds(ConditionCheck, past_days(), st.sampled_from(list(CheckOutcome))), max_size=1)
        )
        facts = LifeFacts(
            packed_on=draw(st.none() | past_days()),
            received_on=draw(past_days()),
            printed_date=draw(st.none() | st.dates(TODAY - timedelta(days=5), SOON)),
            policy=draw(policies()),
            checks=tuple(checks),
        )
        if is_open:
            facts = replace(facts, opened=True, opened_on=draw(st.none() | past_days()))
        found.append(
            ShelfContainer(
                n,
                CODES[n],
                draw(st.integers(1, 2)),
                draw(st.none() | st.integers(0, 40)),
                facts,
                ContainerState.OPEN if is_open else ContainerState.SEALED,
                draw(st.sampled_from([AmountKnown.MEASURED, AmountKnown.MEASURED, AmountKnown.ESTIMATED])),
                promised=draw(st.sampled_from([0, 0, 0, 5, 60])),
                condition=draw(st.sampled_from([Condition.SOUND, Condition.SOUND, Condition.LEAKING])),
                handed_out=draw(st.sampled_from([False, False, False, True])),
            )
        )
    return found


@st.composite
def day_needs(draw: st.DrawFn, most: int = 7) -> list[DayNeed]:
    days = draw(st.lists(st.dates(TODAY, UNTIL), max_size=most))
    return [
        need(day, draw(st.integers(0, 35)), job=n, material=draw(st.integers(1, 2)))
        for n, day in enumerate(days)
    ]


@st.composite
def smaller(draw: st.DrawFn, needs: list[DayNeed]) -> list[DayNeed]:
    """The same plan with some jobs taken out and others made smaller."""
    kept = []
    for one in needs:
        high = one.high or 0
        new = draw(st.sampled_from([None, high, high, 0]) | st.integers(0, high))
        if new is not None:
            kept.append(replace(one, low=new, high=new))
    return kept


def pack_sizes(most: int = 3) -> st.SearchStrategy[list[PackSize]]:
    prices = st.none() | st.integers(0, 30).map(Decimal)
    one = st.tuples(
        st.integers(4, 30) | st.sampled_from([4, 8, 12, 16, 20]), prices, st.none() | st.integers(0, 10)
    )
    return st.lists(one, min_size=1, max_size=most, unique_by=lambda each: each[0]).map(
        lambda kept: [PackSize(n, amount, price, "", lead) for n, (amount, price, lead) in enumerate(kept)]
    )
