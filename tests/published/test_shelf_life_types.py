"""Ageing against published rules for shelf life.

Source of the types: US DoD 4140.27-M (Shelf-Life Item Management), as described by the General Services
Administration and Defense Acquisition University: Type I has a definite life that is not extended, Type II
may be extended after inspection or test, code 0 does not deteriorate. Alpha codes C = 3, H = 12, M = 24
months. Peroxide formers: Cornell University, laboratory safety manual, Appendix J. Raw oil: Toch, Permanent
Painting.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd, choose
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import MaterialKind
from service.core.months import add_months
from service.core.sources import Grade
from service.records.knowledge_policies import known_policies

MADE = date(2024, 8, 31)


@pytest.mark.parametrize("months", [3, 12, 24])
@pytest.mark.parametrize("end", [PolicyEnd.EXPIRY, PolicyEnd.RETEST])
def test_type_one_is_not_extended_and_type_two_is(end: PolicyEnd, months: int) -> None:
    policy = AgeingPolicy(end, sealed_months=months, extends_months=6)
    last = add_months(MADE, months)
    facts = LifeFacts(packed_on=MADE, policy=policy, checks=(ConditionCheck(last, CheckOutcome.PASSED),))
    after = judge(facts, last + timedelta(days=1)).standing
    assert after is (Standing.PAST if end is PolicyEnd.EXPIRY else Standing.IN_DATE)
    unchecked = LifeFacts(packed_on=MADE, policy=policy)
    assert judge(unchecked, last).standing is Standing.LOOK_FIRST
    assert judge(unchecked, last + timedelta(days=1)).standing is Standing.PAST


def test_code_zero_does_not_deteriorate() -> None:
    row = choose(known_policies(), MaterialKind.DRY_PIGMENT, None)
    assert row is not None
    assert judge(LifeFacts(packed_on=MADE, policy=row.policy), date(2124, 1, 1)).standing is Standing.IN_DATE


@pytest.mark.parametrize("key", ["isopropanol", "butanol_sec", "methyl_isobutyl_ketone"])
def test_peroxide_formers_follow_the_published_months_and_are_not_extended(key: str) -> None:
    row = choose(known_policies(), MaterialKind.SOLVENT, key)
    assert row is not None and not row.policy.house_policy
    assert (row.policy.sealed_months, row.policy.opened_months) == (18, 12)
    assert row.policy.end is PolicyEnd.EXPIRY and row.policy.extends is None


def test_raw_linseed_oil_is_never_kept_over_five_years() -> None:
    row = choose(known_policies(), MaterialKind.BINDER, "linseed_raw")
    assert row is not None
    checks = tuple(ConditionCheck(add_months(MADE, m), CheckOutcome.PASSED) for m in range(30, 70, 4))
    facts = LifeFacts(packed_on=MADE, policy=row.policy, checks=checks)
    assert judge(facts, add_months(MADE, 60)).standing is Standing.LOOK_FIRST
    assert judge(facts, add_months(MADE, 60) + timedelta(days=1)).standing is Standing.PAST


def test_mixed_hide_glue_lasts_a_week_of_days() -> None:
    row = choose(known_policies(), MaterialKind.GLUE_OR_SIZE, "hide_glue_mixed")
    assert row is not None
    facts = LifeFacts(packed_on=date(2026, 2, 25), opened_on=date(2026, 2, 26), policy=row.policy)
    assert judge(facts, date(2026, 2, 26)).in_date_until == date(2026, 3, 4)


def test_every_row_says_on_whose_word() -> None:
    for row in known_policies():
        assert row.policy.source and row.policy.grade in [g.value for g in Grade], row
        assert row.policy.house_policy or row.policy.grade in ("S", "H", "I"), row
        assert row.policy.end is not PolicyEnd.RETEST or row.policy.extends_months, row


def test_kinds_without_any_figure_stay_not_known() -> None:
    for kind in (
        MaterialKind.DYE,
        MaterialKind.OTHER_CHEMICAL,
        MaterialKind.RESIN,
        MaterialKind.GLUE_OR_SIZE,
    ):
        assert choose(known_policies(), kind, None) is None
