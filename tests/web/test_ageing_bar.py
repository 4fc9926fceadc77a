"""The bar of a container's life: every day inside the picture, in order, and no standing that is not so."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.web.ageing_bar import CHECK_WORDS, LEFT, RIGHT, WIDTH, ageing_bar
from service.web.render import day

DAYS = st.none() | st.dates(date(2020, 1, 1), date(2032, 12, 31))
OIL = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12, hard_months=60, extends_months=6)
CHECKS = st.lists(
    st.builds(ConditionCheck, st.dates(date(2020, 1, 1), date(2032, 12, 31)), st.sampled_from(CheckOutcome)),
    max_size=9,
).map(tuple)
LIVES = st.builds(
    LifeFacts, packed_on=DAYS, received_on=DAYS, opened_on=DAYS, opened=st.booleans(), printed_date=DAYS,
    checks=CHECKS, policy=st.sampled_from([None, OIL]),
)  # fmt: skip


def test_every_outcome_has_words() -> None:
    assert set(CHECK_WORDS) == set(CheckOutcome)


@given(LIVES, st.dates(date(2021, 1, 1), date(2031, 12, 31)))
def test_any_life_can_be_drawn(facts: LifeFacts, today: date) -> None:
    ageing = judge(facts, today)
    bar = ageing_bar(facts, ageing, today, "Boiled oil")
    if bar is None:
        return
    assert all(LEFT <= mark.x <= RIGHT and mark.y < bar.height for mark in bar.marks)
    assert len({mark.y for mark in bar.marks}) == len(bar.marks), "each has a row of its own"
    assert all(part.width > 0 and part.x + part.width <= WIDTH for part in bar.stretches)
    for first, second in zip(bar.stretches, bar.stretches[1:], strict=False):
        assert abs(first.x + first.width - second.x) < 0.2
    kinds = {part.standing for part in bar.stretches}
    if ageing.standing is Standing.NOT_KNOWN:
        assert kinds == {"not-known"}, "nothing of it is drawn as in date"
    now = next(mark.x for mark in bar.marks if mark.kind == "now")
    here = [part.standing for part in bar.stretches if part.x < now - 0.1 <= part.x + part.width]
    if here and ageing.doubt is not None and ageing.doubt.on < today:
        assert here[0] != "in-date", "what a check doubted is not drawn as in date today"
    if ageing.in_date_until is None:
        assert {"what": "In date until", "on": None} in bar.rows
    assert any(mark.kind == "now" for mark in bar.marks)


def test_a_leap_day_stands_where_it_is() -> None:
    facts = LifeFacts(packed_on=date(2028, 2, 29), policy=OIL)
    ageing = judge(facts, date(2029, 3, 1))
    bar = ageing_bar(facts, ageing, date(2029, 3, 1), "Boiled oil")
    assert bar is not None and ageing.in_date_until == date(2030, 2, 28)
    places = {mark.kind: mark.x for mark in bar.marks}
    assert places["packed"] == LEFT < places["now"] < places["warn"] < places["until"]
    assert [part.standing for part in bar.stretches] == ["in-date", "look-first", "past"]


def test_without_a_day_there_is_no_bar() -> None:
    assert ageing_bar(LifeFacts(), judge(LifeFacts(), date(2026, 1, 1)), date(2026, 1, 1), "x") is None


@pytest.mark.parametrize("policy", [OIL, AgeingPolicy(PolicyEnd.INDEFINITE)])
def test_what_a_check_doubted_is_to_look_at_from_that_day_on(policy: AgeingPolicy) -> None:
    doubt = ConditionCheck(date(2028, 6, 1), CheckOutcome.DOUBTED, "slow-to-dry")
    facts = LifeFacts(packed_on=date(2028, 2, 29), policy=policy, checks=(doubt,))
    today = date(2028, 7, 1)
    ageing = judge(facts, today)
    bar = ageing_bar(facts, ageing, today, "Boiled oil")
    assert bar is not None and ageing.standing is Standing.LOOK_FIRST
    assert [part.standing for part in bar.stretches][:2] == ["in-date", "look-first"]
    assert {"what": "Look first from", "on": day(date(2028, 6, 1))} in bar.rows
    passed = (doubt, ConditionCheck(date(2028, 6, 20), CheckOutcome.PASSED))
    facts = LifeFacts(packed_on=date(2028, 2, 29), policy=policy, checks=passed)
    bar = ageing_bar(facts, judge(facts, today), today, "Boiled oil")
    assert bar is not None and {"what": "Look first from", "on": day(date(2028, 6, 1))} not in bar.rows
