"""A jar reckoned anew is never milder than what went into it, and never for want of a fact."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.reckon_anew import PartOfJar, reckoned_anew

OIL = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12, extends_months=6)
SALT = AgeingPolicy(PolicyEnd.INDEFINITE)
NO_FIGURE = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24)
MADE = date(2026, 3, 1)
TODAY = date(2026, 6, 1)
TIN = LifeFacts(packed_on=date(2025, 10, 1), opened_on=date(2026, 1, 10), policy=OIL)
GAP = LifeFacts(packed_on=date(2025, 10, 1), opened_on=MADE, inherited_gap=True)

DAYS = st.none() | st.dates(date(2023, 1, 1), date(2026, 12, 31))
LIVES = st.builds(
    LifeFacts, packed_on=DAYS, received_on=DAYS, opened_on=DAYS, opened=st.booleans(), printed_date=DAYS,
    checks=st.lists(
        st.builds(ConditionCheck, st.dates(date(2024, 1, 1), TODAY), st.sampled_from(CheckOutcome)),
        max_size=4,
    ).map(tuple),
    policy=st.sampled_from([None, OIL, SALT, NO_FIGURE]), inherited_until=DAYS, inherited_gap=st.booleans(),
)  # fmt: skip
PARTS = st.lists(
    st.builds(PartOfJar, LIVES, st.dates(date(2025, 1, 1), TODAY), st.booleans()), max_size=4
)


@given(st.builds(LifeFacts, packed_on=DAYS, inherited_until=DAYS, inherited_gap=st.booleans()), PARTS)
def test_it_is_never_milder_than_any_part_as_it_stands_now(jar: LifeFacts, parts: list[PartOfJar]) -> None:
    after = reckoned_anew(jar, parts, TODAY)
    assert replace(after, inherited_until=None, inherited_gap=False) == replace(
        jar, inherited_until=None, inherited_gap=False
    ), "only the end of what went in is reckoned"
    if after == jar:
        return
    assert parts and not after.inherited_gap
    for part in parts:
        assert not part.facts.inherited_gap
        limits = [part.facts.inherited_until]
        if part.mixed:
            now = judge(part.facts, TODAY)
            assert now.standing is not Standing.NOT_KNOWN
            limits.append(now.in_date_until)
        for limit in limits:
            assert limit is None or (after.inherited_until is not None and after.inherited_until <= limit)


@given(PARTS)
def test_a_jar_whose_end_is_known_never_gets_worse_by_it(parts: list[PartOfJar]) -> None:
    jar = LifeFacts(inherited_until=date(2026, 9, 1))
    after = reckoned_anew(jar, parts, TODAY)
    assert after.inherited_until is None or after.inherited_until >= date(2026, 9, 1)


def test_the_end_comes_back_with_the_policy() -> None:
    wrong = PartOfJar(replace(TIN, policy=NO_FIGURE), MADE, mixed=True)
    assert reckoned_anew(GAP, [wrong], TODAY) == GAP
    after = reckoned_anew(GAP, [PartOfJar(TIN, MADE, mixed=True)], TODAY)
    assert (after.inherited_gap, after.inherited_until) == (False, date(2027, 1, 10))


@pytest.mark.parametrize(
    ("on", "outcome", "until"),
    [
        (date(2026, 2, 1), CheckOutcome.PASSED, "later"),
        (MADE, CheckOutcome.PASSED, "same"),
        (date(2026, 5, 1), CheckOutcome.PASSED, "same"),
        (date(2026, 5, 1), CheckOutcome.FAILED, "earlier"),
    ],
)
def test_only_a_check_before_the_day_it_went_in_speaks_for_the_jar(
    on: date, outcome: CheckOutcome, until: str
) -> None:
    old = replace(TIN, packed_on=date(2024, 7, 20), opened_on=date(2025, 7, 10))
    plain = reckoned_anew(GAP, [PartOfJar(old, MADE, mixed=True)], TODAY).inherited_until
    checked = replace(old, checks=(ConditionCheck(on, outcome),))
    found = reckoned_anew(GAP, [PartOfJar(checked, MADE, mixed=True)], TODAY).inherited_until
    assert plain is not None and found is not None
    assert {"later": found > plain, "same": found == plain, "earlier": found < plain}[until]


def test_without_a_part_or_with_one_that_contradicts_itself_nothing_changes() -> None:
    assert reckoned_anew(GAP, [], TODAY) == GAP
    odd = replace(TIN, opened_on=date(2025, 9, 1))
    assert reckoned_anew(GAP, [PartOfJar(odd, MADE, mixed=False)], TODAY) == GAP
    ring = PartOfJar(replace(TIN, inherited_gap=True), MADE, mixed=False)
    assert reckoned_anew(GAP, [ring], TODAY) == GAP
