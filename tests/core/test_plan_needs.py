"""What planned jobs need: upper ends, whole units, and what nobody wrote."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.plan_needs import PlannedJob, on_dates, plan_needs, times_of
from service.core.recipe import Recipe, RecipeLine
from service.core.whole_need import whole_need

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)
UMBER = RecipeLine(1, "raw umber", 5, 10, Basis.MASS, unit_written="g")
OIL = RecipeLine(2, "boiled oil", 100, 120, Basis.VOLUME)
WATER = RecipeLine(3, "tap water", 50, 50, Basis.VOLUME, stocked=False)
TO_SUIT = RecipeLine(4, "drier", None, None, None)
STAIN = Recipe("stain", (UMBER, OIL, WATER), makes=500)


def job(number: int, on: date, times: Fraction | None, *lines: RecipeLine) -> PlannedJob:
    return PlannedJob(number, f"job {number}", on, Recipe("stain", lines or STAIN.lines, 500), times)


def test_heads_times_amount_and_spare() -> None:
    assert times_of(STAIN, 20, each=60, spare=Fraction(1, 10)) == Fraction(1320, 500)
    assert times_of(STAIN, 3, each_times=Fraction(1, 3)) == 1
    assert times_of(Recipe("stain", STAIN.lines), 20, each=60) is None
    assert times_of(STAIN, 20) is None


@pytest.mark.parametrize(
    ("heads", "more", "field"),
    [
        (0, {"each": 1}, "heads"),
        (10_001, {"each": 1}, "heads"),
        (1, {"each": 0}, "each"),
        (1, {"each_times": Fraction(-1)}, "each"),
        (1, {"each": 1, "each_times": Fraction(1)}, "each"),
        (1, {"each": 1, "spare": Fraction(-1, 10)}, "spare"),
        (1, {"each": 1, "spare": Fraction(51, 10)}, "spare"),
    ],
)
def test_what_cannot_be_planned_names_the_field(heads: int, more: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        times_of(STAIN, heads, **more)  # type: ignore[arg-type]
    assert set(refused.value.errors) == {field}


def test_the_upper_end_counts_and_water_from_the_tap_is_no_need() -> None:
    plan = plan_needs([job(1, MONDAY, Fraction(5, 2))])
    assert [(n.material, n.low, n.high, n.unit_written) for n in plan.needs] == [
        ("raw umber", 13, 25, "g"), ("boiled oil", 250, 300, ""),
    ]  # fmt: skip
    assert plan.verdict.complete


def test_by_day_then_by_job() -> None:
    plan = plan_needs([job(3, TUESDAY, Fraction(1), OIL), job(2, TUESDAY, Fraction(1), OIL),
                       *on_dates(job(9, TUESDAY, Fraction(1), OIL), [MONDAY])])  # fmt: skip
    assert [(n.on, n.job) for n in plan.needs] == [(MONDAY, 9), (TUESDAY, 2), (TUESDAY, 3)]


def test_what_nobody_wrote_is_not_known_and_never_nothing() -> None:
    plan = plan_needs([job(1, MONDAY, Fraction(1), OIL, TO_SUIT), job(2, MONDAY, None, UMBER)])
    assert [(n.material, n.high) for n in plan.needs] == [
        ("boiled oil", 120), ("drier", None), ("raw umber", None),
    ]  # fmt: skip
    assert plan.verdict.codes == {"need-not-known", "times-not-known"} and not plan.verdict.complete


def test_by_mass_in_one_recipe_and_by_volume_in_another_is_a_stop() -> None:
    weighed = RecipeLine(2, "boiled oil", 90, 90, Basis.MASS)
    plan = plan_needs([job(1, MONDAY, Fraction(1), OIL, UMBER), job(2, TUESDAY, Fraction(1), weighed)])
    assert plan.verdict.blocking and "two-bases" in plan.verdict.codes
    assert [(n.material, n.high) for n in plan.needs] == [
        ("boiled oil", None), ("raw umber", 10), ("boiled oil", None),
    ]  # fmt: skip


@given(
    heads=st.integers(1, 40),
    each=st.integers(1, 10**6),
    spare=st.fractions(0, 1, max_denominator=100),
    makes=st.integers(1, 10**7),
    high=st.integers(0, 10**7),
)
def test_the_need_is_exact_and_rounded_once(
    heads: int, each: int, spare: Fraction, makes: int, high: int
) -> None:
    recipe = Recipe("stain", (RecipeLine(1, "umber", 0, high, Basis.MASS),), makes)
    times = times_of(recipe, heads, each=each, spare=spare)
    (need,) = plan_needs([PlannedJob(1, "job", MONDAY, recipe, times)]).needs
    assert need.high == whole_need(Fraction(heads * each * high, makes) * (1 + spare))
