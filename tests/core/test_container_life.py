"""A new jar never starts a new life: what decanting and mixing take over."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.container_life import ContainerLife, inherit
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts
from service.core.materials import SelfHeating

POLICY = AgeingPolicy(PolicyEnd.RETEST, sealed_months=36, opened_months=24, hard_months=60, extends_months=6)
TODAY = date(2026, 3, 2)
OLD = ContainerLife(
    LifeFacts(
        packed_on=date(2023, 6, 1), received_on=date(2023, 7, 1), opened_on=date(2025, 1, 1), opened=True
    ),
    SelfHeating.NO, frozenset({"Flam. Liq. 3"}), ("A1",),
)  # fmt: skip
NEW = ContainerLife(
    LifeFacts(packed_on=date(2025, 6, 1), received_on=date(2025, 7, 1)),
    SelfHeating.NO,
    frozenset(),
    ("B2", "A1"),
)


def poured(*sources: ContainerLife, same: bool = True) -> ContainerLife:
    return inherit(sources, POLICY, same_material=same, poured_on=TODAY)


def test_earliest_dates_lots_and_hazards_together() -> None:
    jar = poured(NEW, OLD)
    assert (jar.facts.packed_on, jar.facts.received_on) == (date(2023, 6, 1), date(2023, 7, 1))
    assert jar.facts.opened_on == date(2025, 1, 1) and jar.facts.is_open
    assert jar.lots == ("B2", "A1") and jar.hazards == {"Flam. Liq. 3"}
    assert jar.self_heating is SelfHeating.NO and jar.facts.started_by is jar.facts.opened_by is None


def test_a_sealed_source_is_opened_by_pouring() -> None:
    assert poured(NEW).facts.opened_on == TODAY


@pytest.mark.parametrize("name", ["packed_on", "opened_on"])
def test_one_unknown_date_is_not_known_in_the_jar(name: str) -> None:
    blank = replace(OLD, facts=replace(OLD.facts, **{name: None}))
    assert getattr(poured(NEW, blank).facts, name) is None
    assert getattr(poured(OLD, NEW).facts, name) is not None


def test_an_unknown_packed_date_never_hides_an_earlier_start_of_another() -> None:
    only_received = replace(NEW, facts=replace(NEW.facts, packed_on=None))
    jar = poured(OLD, only_received).facts
    assert jar.packed_on is None and jar.start == date(2023, 6, 1)


def test_a_source_of_unknown_age_leaves_the_known_one_as_a_bound() -> None:
    nobody_knows = ContainerLife(LifeFacts(opened=True))
    jar = poured(OLD, nobody_knows).facts
    assert jar.start is None and jar.started_by == date(2023, 6, 1) and jar.opened_by == date(2025, 1, 1)
    assert judge(jar, TODAY).standing is Standing.NOT_KNOWN
    assert judge(jar, date(2026, 6, 2)).standing is Standing.PAST  # the known part is over by then


@pytest.mark.parametrize(("marks", "worst"), [
    ("no no", "no"), ("no not-known", "not-known"), ("not-known yes", "yes"), ("no yes", "yes"),
])  # fmt: skip
def test_self_heating_is_the_worst_of_them(marks: str, worst: str) -> None:
    jar = poured(*(replace(OLD, self_heating=SelfHeating(m)) for m in marks.split()))
    assert jar.self_heating is SelfHeating(worst)


def test_unknown_hazards_stay_unknown_and_keeper_only_sticks() -> None:
    assert poured(OLD, replace(NEW, hazards=None)).hazards is None
    assert poured(OLD, replace(NEW, keeper_only=True)).keeper_only


def test_checks_carry_over_only_as_far_as_every_source_has_them() -> None:
    passed = ConditionCheck(date(2026, 1, 5), CheckOutcome.PASSED)
    failed = ConditionCheck(date(2026, 1, 6), CheckOutcome.FAILED)
    checked = replace(OLD, facts=replace(OLD.facts, checks=(passed,)))
    assert poured(checked).facts.checks == (passed,)
    assert poured(checked, NEW).facts.checks == ()
    assert poured(checked, same=False).facts.checks == ()
    later = replace(passed, on=date(2026, 2, 1))
    both = poured(checked, replace(NEW, facts=replace(NEW.facts, checks=(later,))))
    assert {c.on for c in both.facts.checks} == {passed.on}
    bad = replace(OLD, facts=replace(OLD.facts, checks=(failed,)))
    for same in (True, False):
        assert judge(poured(NEW, bad, same=same).facts, TODAY).standing is Standing.PAST


def test_a_mix_outlives_nothing_that_went_in() -> None:
    parts = AgeingPolicy(PolicyEnd.PARTS)
    sources = [replace(OLD, in_date_until=date(2026, 6, 1)), replace(NEW, in_date_until=date(2027, 1, 1))]
    mix = inherit(sources, parts, same_material=False, poured_on=TODAY).facts
    assert mix.inherited_until == date(2026, 6, 1) and not mix.inherited_gap
    assert judge(mix, date(2026, 6, 2)).standing is Standing.PAST
    gap = inherit([*sources, replace(NEW, known=False)], parts, same_material=False, poured_on=TODAY).facts
    assert judge(gap, TODAY).standing is Standing.NOT_KNOWN
    poured_on = inherit([ContainerLife(mix), NEW], POLICY, same_material=True, poured_on=TODAY)
    again = poured_on.facts
    assert again.inherited_until == date(2026, 6, 1)  # also poured on into a third jar


def test_nothing_comes_of_nothing() -> None:
    with pytest.raises(ValueError, match="gone in"):
        inherit([], POLICY, same_material=True, poured_on=TODAY)


days = st.dates(date(2021, 1, 1), date(2026, 3, 1))
maybe = st.one_of(st.none(), days)
sources = st.builds(
    ContainerLife,
    st.builds(
        LifeFacts, packed_on=maybe, received_on=maybe, opened_on=maybe, opened=st.booleans(),
        printed_date=maybe, policy=st.just(POLICY), started_by=maybe, opened_by=maybe,
        checks=st.lists(
            st.builds(ConditionCheck, days, st.sampled_from(CheckOutcome)), max_size=2
        ).map(tuple),
    ),
)  # fmt: skip


def test_dates_that_contradict_each_other_are_not_mended_by_pouring_over() -> None:
    """Found by the property below: one source has no packed date, so the jar showed no contradiction."""
    odd = ContainerLife(LifeFacts(packed_on=date(2025, 1, 2), opened_on=date(2025, 1, 1), policy=POLICY))
    other = ContainerLife(LifeFacts(received_on=date(2023, 3, 2), policy=POLICY))
    assert judge(odd.facts, TODAY).standing is Standing.NOT_KNOWN
    assert poured(odd, other).facts.inherited_gap
    assert judge(poured(odd, other).facts, TODAY).standing is Standing.NOT_KNOWN


WORSE = {Standing.IN_DATE: 0, Standing.LOOK_FIRST: 1, Standing.NOT_KNOWN: 2, Standing.PAST: 3}


@given(st.lists(sources, min_size=1, max_size=3), st.dates(TODAY, date(2031, 1, 1)))
@settings(max_examples=400)
def test_a_jar_is_in_date_only_if_all_of_it_was(parts: list[ContainerLife], day: date) -> None:
    jar = inherit(parts, POLICY, same_material=True, poured_on=TODAY).facts
    worst = max((judge(part.facts, day).standing for part in parts), key=WORSE.__getitem__)
    mine = judge(jar, day).standing
    if worst in (Standing.PAST, Standing.NOT_KNOWN):
        assert mine in (Standing.PAST, Standing.NOT_KNOWN), (worst, mine)
    if worst is Standing.PAST:
        assert mine is Standing.PAST
