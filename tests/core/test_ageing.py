"""The ageing rules of design 5.2, one by one, and what must hold for every set of facts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.core.ageing import alert_dates, judge, may_use
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.months import add_months

IN, LOOK, PAST, UNKNOWN = Standing.IN_DATE, Standing.LOOK_FIRST, Standing.PAST, Standing.NOT_KNOWN
PASSED, FAILED, CUT = CheckOutcome.PASSED, CheckOutcome.FAILED, CheckOutcome.SKIN_CUT
EXPIRY = AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=24, opened_months=12)
RETEST = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12, hard_months=48, extends_months=6)
ALWAYS = AgeingPolicy(PolicyEnd.INDEFINITE)
PACKED = date(2024, 1, 15)


def sealed(policy: AgeingPolicy | None = RETEST, **more: object) -> LifeFacts:
    return replace(LifeFacts(packed_on=PACKED, policy=policy), **more)  # type: ignore[arg-type]


def check(on: date, outcome: CheckOutcome = PASSED) -> tuple[ConditionCheck, ...]:
    return (ConditionCheck(on, outcome),)


# --- where a life starts and which end comes first


def test_the_day_itself_is_still_in_date() -> None:
    end = date(2026, 1, 15)
    assert judge(sealed(), end).standing is LOOK and judge(sealed(), end).in_date_until == end
    assert judge(sealed(), end + timedelta(days=1)).standing is PAST


def test_received_stands_in_for_packed_with_a_note() -> None:
    facts = LifeFacts(received_on=date(2024, 5, 1), policy=RETEST)
    answer = judge(facts, date(2024, 6, 1))
    assert answer.in_date_until == date(2026, 5, 1)
    assert "from-received" in {r.code for r in answer.because}
    both = replace(facts, packed_on=PACKED)
    assert judge(both, date(2024, 6, 1)).in_date_until == date(2026, 1, 15)


@pytest.mark.parametrize(("facts", "until"), [
    (sealed(), date(2026, 1, 15)),
    (sealed(printed_date=date(2025, 6, 30)), date(2025, 6, 30)),
    (sealed(printed_date=date(2029, 1, 1)), date(2026, 1, 15)),
    (sealed(opened_on=date(2024, 2, 29)), date(2025, 2, 28)),
    (sealed(opened_on=date(2025, 12, 1)), date(2026, 1, 15)),  # opening late never lengthens a life
])  # fmt: skip
def test_the_earliest_end_counts(facts: LifeFacts, until: date) -> None:
    assert judge(facts, date(2024, 3, 1)).in_date_until in (until, None)
    assert judge(facts, max(PACKED, facts.opened_on or PACKED)).in_date_until == until


def test_look_first_from_four_fifths_on() -> None:
    facts = LifeFacts(packed_on=date(2026, 3, 1), policy=AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=10))
    assert judge(facts, date(2026, 3, 8)).standing is IN
    assert judge(facts, date(2026, 3, 9)).standing is LOOK  # 80 % of 10 days
    assert judge(facts, date(2026, 3, 9), Decimal("0.9")).standing is IN
    week = LifeFacts(packed_on=date(2026, 3, 1), policy=AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=7))
    assert judge(week, date(2026, 3, 1)).warn_from == date(2026, 3, 7)  # 5.6 days are over on the sixth


# --- checks


def test_a_passed_check_moves_a_retest_item_to_the_earlier_of_both() -> None:
    assert judge(sealed(checks=check(date(2026, 1, 10))), date(2026, 1, 20)).in_date_until == date(
        2026, 7, 10
    )
    late = sealed(checks=check(date(2027, 12, 1)))
    assert judge(late, date(2027, 12, 2)).in_date_until == date(2028, 1, 15)  # start + hard
    assert judge(late, date(2027, 12, 2)).hard_stop == date(2028, 1, 15)


def test_it_moves_nothing_of_an_expiry_item() -> None:
    facts = sealed(EXPIRY, checks=check(date(2026, 1, 10)))
    assert judge(facts, date(2026, 1, 16)).standing is PAST
    with_figure = replace(EXPIRY, extends_months=6)
    assert judge(replace(facts, policy=with_figure), date(2026, 1, 16)).standing is PAST


def test_a_passed_check_never_brings_a_date_forward() -> None:
    assert judge(sealed(checks=check(date(2024, 3, 1))), date(2024, 4, 1)).in_date_until == date(2026, 1, 15)


def test_a_check_before_the_lid_was_lifted_says_nothing_about_the_opened_life() -> None:
    policy = replace(RETEST, opened_months=3)
    facts = sealed(policy, checks=check(date(2026, 1, 10)), opened_on=date(2026, 1, 20))
    assert judge(facts, date(2026, 2, 1)).in_date_until == date(2026, 4, 20)  # not 10 July


def test_failed_ends_it_now_and_for_good() -> None:
    day = date(2024, 6, 1)
    facts = sealed(checks=check(day, FAILED))
    assert judge(facts, day).standing is PAST and judge(facts, day - timedelta(days=1)).standing is IN
    again = replace(facts, checks=(*facts.checks, *check(day + timedelta(days=1))))
    assert judge(again, day + timedelta(days=2)).standing is PAST
    assert judge(sealed(None, checks=check(day, FAILED)), day).standing is PAST
    assert judge(sealed(ALWAYS, checks=check(day, FAILED)), day).standing is PAST


def test_a_cut_skin_moves_nothing() -> None:
    facts = sealed(checks=check(date(2026, 1, 10), CUT))
    assert judge(facts, date(2026, 1, 20)).standing is PAST
    assert "skin-cut" in {r.code for r in judge(facts, date(2026, 1, 20)).because}


def test_the_number_of_extensions_is_kept() -> None:
    checks = check(date(2026, 1, 10)) + check(date(2026, 7, 1))
    today = date(2026, 7, 5)
    assert judge(sealed(checks=checks), today).in_date_until == date(2027, 1, 1)
    once = sealed(replace(RETEST, max_extensions=1), checks=checks)
    assert judge(once, today).in_date_until == date(2026, 7, 10)
    never = sealed(replace(RETEST, max_extensions=0), checks=checks)
    assert judge(never, today).standing is PAST
    early = check(date(2024, 2, 1)) + checks  # a check that gave no time used no extension
    assert judge(replace(once, checks=early), today).in_date_until == date(2026, 7, 10)


def test_a_check_tomorrow_moves_nothing_today() -> None:
    facts = sealed(checks=check(date(2026, 1, 20)))
    assert judge(facts, date(2026, 1, 16)).standing is PAST
    assert judge(facts, date(2026, 1, 20)).standing is IN


# --- what is not known


@pytest.mark.parametrize(("facts", "code"), [
    (sealed(None), "no-policy"),
    (LifeFacts(policy=RETEST), "start-not-known"),
    (sealed(opened=True), "opening-not-known"),
    (sealed(replace(RETEST, opened_months=None), opened_on=date(2024, 2, 1)), "no-opened-figure"),
    (sealed(replace(RETEST, sealed_months=None)), "no-sealed-figure"),
    (sealed(opened_on=date(2023, 12, 1)), "dates-contradict"),
    (sealed(packed_on=date(2024, 5, 1)), "dates-contradict"),
    (sealed(inherited_gap=True), "inherited-gap"),
    (sealed(AgeingPolicy(PolicyEnd.PARTS)), "parts-not-known"),
    (LifeFacts(policy=ALWAYS, printed_date=date(2030, 1, 1)), "start-not-known"),
])  # fmt: skip
def test_each_gap_makes_it_not_known(facts: LifeFacts, code: str) -> None:
    answer = judge(facts, date(2024, 3, 1))
    assert answer.standing is UNKNOWN and code in answer.verdict.codes
    assert answer.in_date_until is None and not answer.verdict.complete


@pytest.mark.parametrize("facts", [
    LifeFacts(printed_date=date(2024, 2, 28)),  # no policy, no start, but printed
    LifeFacts(policy=RETEST, opened_on=date(2023, 1, 1)),
    sealed(opened=True, opened_by=date(2023, 1, 1)),
    LifeFacts(policy=RETEST, started_by=date(2020, 1, 1)),
    LifeFacts(inherited_until=date(2024, 2, 28), inherited_gap=True),
    LifeFacts(checks=check(date(2024, 3, 1), FAILED)),
])  # fmt: skip
def test_what_is_surely_over_is_past_whatever_else_is_missing(facts: LifeFacts) -> None:
    answer = judge(facts, date(2024, 3, 1))
    assert answer.standing is PAST and answer.verdict.blocking


def test_dry_pigments_do_not_age_but_a_printed_date_counts() -> None:
    assert judge(LifeFacts(policy=ALWAYS, opened=True), date(2060, 1, 1)).standing is IN
    dated = LifeFacts(packed_on=PACKED, policy=ALWAYS, printed_date=date(2030, 1, 1))
    assert judge(dated, date(2030, 1, 2)).standing is PAST


def test_a_mix_is_in_date_as_long_as_what_went_in() -> None:
    mix = LifeFacts(packed_on=PACKED, policy=AgeingPolicy(PolicyEnd.PARTS), inherited_until=date(2025, 1, 1))
    assert judge(mix, date(2024, 2, 1)).standing is IN
    assert judge(mix, date(2025, 1, 2)).standing is PAST


# --- using it


def test_past_refuses_every_draw_but_not_its_end() -> None:
    past = judge(sealed(), date(2030, 1, 1))
    for act in (MovementKind.DRAW, MovementKind.DECANT_OUT, MovementKind.DECANT_IN):
        assert may_use(past, act).blocking
        assert not may_use(past, act, late=True).blocking and "past" in may_use(past, act, late=True).codes
    for act in (
        MovementKind.DISCARD,
        MovementKind.LOSS,
        MovementKind.COUNT_DIFFERENCE,
        MovementKind.REVERSAL,
    ):
        assert not may_use(past, act).blocking
    not_known = may_use(judge(sealed(None), PACKED), MovementKind.DRAW)
    assert not not_known.blocking and not not_known.complete


# --- for all facts

days = st.dates(date(2020, 1, 1), date(2030, 12, 31))
maybe = st.one_of(st.none(), days)
months = st.one_of(st.none(), st.integers(0, 60))
policies = st.builds(
    AgeingPolicy, st.sampled_from(PolicyEnd), sealed_months=months, opened_months=months, hard_months=months,
    extends_months=months, max_extensions=st.one_of(st.none(), st.integers(0, 3)),
)  # fmt: skip
some_checks = st.lists(st.builds(ConditionCheck, days, st.sampled_from(CheckOutcome)), max_size=4).map(tuple)
lives = st.builds(
    LifeFacts, packed_on=maybe, received_on=maybe, opened_on=maybe, opened=st.booleans(), printed_date=maybe,
    checks=some_checks, policy=st.one_of(st.none(), policies), started_by=maybe, opened_by=maybe,
    inherited_until=maybe, inherited_gap=st.booleans(),
)  # fmt: skip
WORSE = {IN: 0, LOOK: 1, UNKNOWN: 2, PAST: 3}


@given(lives, days, st.sampled_from(["start", "opened_on", "policy", "gap"]))
@settings(max_examples=400)
def test_one_more_unknown_never_ends_in_date(facts: LifeFacts, today: date, what: str) -> None:
    less = {
        "start": replace(facts, packed_on=None, received_on=None),
        "opened_on": replace(facts, opened_on=None, opened=True),
        "policy": replace(facts, policy=None),
        "gap": replace(facts, inherited_gap=True),
    }[what]
    assume(facts.policy is None or facts.policy.ages)
    before, after = judge(facts, today), judge(less, today)
    assert after.standing in (UNKNOWN, PAST)
    assert WORSE[after.standing] >= min(WORSE[before.standing], WORSE[UNKNOWN])


@given(lives, days, days)
@settings(max_examples=400)
def test_one_more_limit_never_makes_it_milder(facts: LifeFacts, today: date, limit: date) -> None:
    before = judge(replace(facts, checks=()), today).standing
    for name in ("printed_date", "started_by", "opened_by", "inherited_until"):
        old = getattr(facts, name)
        if name == "inherited_until" and old is None and facts.policy and facts.policy.end is PolicyEnd.PARTS:
            continue  # there the limit is the missing fact itself
        tighter = replace(facts, checks=(), **{name: limit if old is None else min(old, limit)})
        assert WORSE[judge(tighter, today).standing] >= WORSE[before]


@given(lives, days)
@settings(max_examples=400)
def test_no_check_passes_the_hard_stop_and_nothing_is_in_date_after_its_date(
    facts: LifeFacts, today: date
) -> None:
    answer = judge(facts, today)
    if facts.policy and facts.policy.hard_months is not None and facts.start and answer.at_latest:
        assert answer.at_latest <= add_months(facts.start, facts.policy.hard_months)
    if answer.in_date_until is not None:
        assert (answer.standing is PAST) == (answer.in_date_until < today)
    if answer.standing in (IN, LOOK):
        assert answer.verdict.complete and not answer.verdict.blocking
        assert (answer.standing is LOOK) == (answer.warn_from is not None and answer.warn_from <= today)
    assert answer.verdict.blocking == (answer.standing is PAST)


@given(lives, days, st.dates(date(2020, 1, 1), date(2030, 12, 31)))
@settings(max_examples=400)
def test_a_passed_check_extends_at_most_by_its_months(facts: LifeFacts, today: date, on: date) -> None:
    more = replace(facts, checks=(*facts.checks, ConditionCheck(on, PASSED)))
    before, after = judge(facts, today), judge(more, today)
    if facts.policy is None or facts.policy.end is not PolicyEnd.RETEST or on > today:
        assert after.standing is before.standing
    elif after.at_latest and before.at_latest and facts.policy.max_extensions is None:
        assert after.at_latest >= before.at_latest
        latest = add_months(max(on, *(c.on for c in more.checks)), facts.policy.extends_months or 0)
        assert after.at_latest <= max(before.at_latest, latest)


@given(lives)
@settings(max_examples=15, deadline=None)
def test_the_standing_changes_only_on_alert_dates(facts: LifeFacts) -> None:
    found = set(alert_dates(facts))
    first = date(2019, 12, 31)
    standing = judge(facts, first).standing
    for ahead in range(1, 365 * 17):
        day = first + timedelta(days=ahead)
        now = judge(facts, day).standing
        assert (now is not standing) == (day in found), day
        standing = now


def test_dates_at_the_end_of_the_calendar_do_not_crash() -> None:
    far = LifeFacts(packed_on=date.max, opened_on=date.max, printed_date=date.max, policy=RETEST)
    assert judge(far, date.max).standing is not PAST and alert_dates(far) is not None
    near = LifeFacts(packed_on=date.min, printed_date=date.min, checks=check(date.min, FAILED), policy=RETEST)
    assert judge(near, date.max).standing is PAST and alert_dates(near) is not None
