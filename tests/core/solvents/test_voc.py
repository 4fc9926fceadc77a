"""What must hold of VOC and exposure whatever is mixed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.solvents.composite_pressure import composite_pressure
from service.core.solvents.exposure import Measured, converted, judge_exposure
from service.core.solvents.properties import (
    Component,
    ExposureLimit,
    Known,
    LimitKind,
    LimitUnit,
    Share,
    ShareKind,
)
from service.core.solvents.voc import per_volume_of_solids, work_out
from service.core.solvents.voc_limits import judge_limits
from service.core.solvents.voc_rules import Exemption, ExemptList, Jurisdiction, VocBasis, VocLimit

NOTHING = ExemptList(Jurisdiction.US_FEDERAL)
ML = st.floats(0.01, 1e4)
GRAVITY = st.floats(0.6, 1.6)


def liquid(name: str, ml: float, gravity: float, **more: object) -> Component:
    made = Component(
        name,
        Share(ShareKind.VOLUME_ML, ml, ml),
        cas=name,
        density=Known(gravity, "g/ml"),
        boiling_point=Known(150, "C"),
        volatile=True,
    )
    return replace(made, **more)  # type: ignore[arg-type]


def water(ml: float) -> Component:
    return liquid("water", ml, 1.0, water=True)


def solid(ml: float) -> Component:
    return liquid("resin", ml, 1.1, volatile=False, boiling_point=None)


@st.composite
def mixes(draw: st.DrawFn) -> list[Component]:
    made = [liquid(f"solvent {n}", draw(ML), draw(GRAVITY)) for n in range(draw(st.integers(1, 4)))]
    return [*made, solid(draw(ML)), water(draw(ML))]


def exempting(*names: str) -> ExemptList:
    rows = {name: Exemption(name, name, True, "S", "S") for name in names}
    return ExemptList(Jurisdiction.US_FEDERAL, rows)


def actual(mix: list[Component], exempt: ExemptList = NOTHING) -> float:
    value = work_out(mix, exempt).ready.actual.value
    assert value is not None
    return value


@settings(max_examples=150, deadline=None)
@given(mixes(), ML)
def test_water_never_raises_what_is_there_nor_lowers_what_is_regulated(
    mix: list[Component], more: float
) -> None:
    before, after = work_out(mix, NOTHING).ready, work_out([*mix, water(more)], NOTHING).ready
    assert (after.actual.value or 0) <= (before.actual.value or 0) * (1 + 1e-9)
    assert after.regulatory.value == pytest.approx(before.regulatory.value, rel=1e-6)
    assert (before.regulatory.value or 0) >= (before.actual.value or 0) * (1 - 1e-9)


@settings(max_examples=150, deadline=None)
@given(mixes(), st.integers(0, 3))
def test_exempting_never_raises_what_is_there_and_the_eu_never_looks(
    mix: list[Component], which: int
) -> None:
    plain, less = work_out(mix, NOTHING).ready, work_out(mix, exempting(f"solvent {which}")).ready
    assert (less.actual.value or 0) <= (plain.actual.value or 0) * (1 + 1e-9)
    assert plain.eu.value == less.eu.value
    assert (less.eu.value or 0) >= (less.actual.value or 0) * (1 - 1e-9)
    assert (less.exempt_g_l or 0) + (less.actual.value or 0) == pytest.approx(plain.actual.value)


@settings(max_examples=150, deadline=None)
@given(mixes(), st.floats(0.01, 3), GRAVITY)
def test_thinning_lies_between_the_mix_and_the_thinner(
    mix: list[Component], part: float, gravity: float
) -> None:
    thinner = liquid("thinner", 1, gravity, share=Share(ShareKind.VOLUME_FRACTION, part, part))
    answer = work_out(mix, NOTHING, None, [thinner])
    for name in ("actual", "regulatory", "eu"):
        low, high = sorted([getattr(answer.supplied, name).value, gravity * 1000])
        assert low * (1 - 1e-6) <= getattr(answer.ready, name).value <= high * (1 + 1e-6)


@settings(max_examples=100, deadline=None)
@given(mixes(), ML, GRAVITY)
def test_a_liquid_nobody_knows_never_counts_for_nothing(
    mix: list[Component], ml: float, gravity: float
) -> None:
    mystery = liquid("mystery", ml, gravity, volatile=None, boiling_point=None)
    answer = work_out([*mix, mystery], NOTHING)
    dry = work_out([*mix, replace(mystery, volatile=False)], NOTHING).ready
    wet = work_out([*mix, replace(mystery, water=True)], NOTHING).ready
    gone = work_out([*mix, replace(mystery, volatile=True)], NOTHING).ready
    for name in ("actual", "regulatory", "eu"):
        figure = getattr(answer.ready, name)
        worst = max(getattr(one, name).value for one in (dry, wet, gone))
        assert figure.open and not figure.known and figure.value >= worst * (1 - 1e-6)
        row = VocLimit("k", Jurisdiction.US_FEDERAL, "c", "t", None, "", "", figure.value * 2, VocBasis(name),
                       True, "cited", "S", "S", "read")  # fmt: skip
        judged = judge_limits(answer, (row,), Jurisdiction.US_FEDERAL)
        assert judged.limits[0].met is None


@pytest.mark.parametrize(("over", "met"), [(1 + 1e-6, False), (1.0, True), (1 - 1e-6, True)])
def test_a_limit_just_below_at_and_just_above(over: float, met: bool) -> None:
    answer = work_out([liquid("solvent", 40, 1.0), solid(60)], NOTHING)
    row = VocLimit("k", Jurisdiction.US_FEDERAL, "c", "t", None, "", "", 400 / over, VocBasis.ACTUAL, True,
                   "cited", "S", "S", "read")  # fmt: skip
    (judged,) = judge_limits(answer, (row,), Jurisdiction.US_FEDERAL).limits
    assert (judged.met, judged.word) == (met, "met" if met else "not met")
    remembered = replace(row, grade="memory")
    (judged,) = judge_limits(answer, (remembered,), Jurisdiction.US_FEDERAL).limits
    assert judged.word == ("met, not checked" if met else "not met, not checked")


# 30 TAC 115.423(1): S = C / (1 - C/D), D = 7.36 lb/gal (read); 3.5 gives 6.67 (from memory)
def test_per_volume_of_solids_is_what_the_whole_mix_gives() -> None:
    assert per_volume_of_solids(3.5, 7.36) == pytest.approx(6.67, abs=0.01)
    answer = work_out([liquid("solvent", 30, 0.8), solid(50), water(20)], NOTHING).ready
    assert answer.per_l_solids == pytest.approx(per_volume_of_solids(answer.regulatory.value or 0, 800))
    for wrong in ((7.36, 7.36), (-1, 7.36)):
        with pytest.raises(Invalid):
            per_volume_of_solids(*wrong)


def test_a_composite_pressure_needs_every_figure() -> None:
    one = liquid(
        "solvent", 50, 0.8, molar_mass=Known(80, "g/mol"), vapour_pressures=((Known(4, "kPa"), 20.0),)
    )
    wet = liquid("water", 50, 1.0, water=True, molar_mass=Known(18, "g/mol"))
    moles, of_water = 40 / 80, 50 / 18
    pressure, lacks = composite_pressure([one, wet, solid(50)], NOTHING)
    assert pressure == pytest.approx(4 * moles / (moles + of_water)) and lacks == ()
    for less in (
        replace(one, molar_mass=None),
        replace(one, vapour_pressures=()),
        replace(one, density=None),
    ):
        pressure, lacks = composite_pressure([less, wet], NOTHING)
        assert pressure is None and "solvent" in lacks[0]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 1e4), st.floats(0, 4)), min_size=1, max_size=6), st.floats(0.01, 1e4))
def test_a_higher_measurement_never_lowers_the_index(lines: list[tuple[float, float]], limit: float) -> None:
    def index(factor: float) -> float:
        held = ExposureLimit(limit, LimitUnit.PPM, LimitKind.TWA, "given")
        measured = [Measured(Component("x", None), v * factor, LimitUnit.PPM, h, held) for v, h in lines]
        answer = judge_exposure(measured)
        assert answer.index is not None and answer.index >= 0
        assert answer.over is not False or not answer.index_is_at_least
        return answer.index

    assert index(1) <= index(2) * (1 + 1e-9)


@settings(max_examples=100, deadline=None)
@given(st.floats(1e-6, 1e9), st.floats(1, 1000))
def test_ppm_and_mg_m3_are_each_other(value: float, molar: float) -> None:
    one = Component("x", None, molar_mass=Known(molar, "g/mol"))
    there = converted(value, LimitUnit.PPM, LimitUnit.MG_M3, one)
    assert there is not None
    assert converted(there, LimitUnit.MG_M3, LimitUnit.PPM, one) == pytest.approx(value)
