"""A mix in the air: its readings, both bases, water and resin, and the same by another route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from service.core.solvents.activity import Variant
from service.core.solvents.properties import Component, Known, LimitKind, LimitUnit, ShareKind
from service.core.solvents.room_judgement import judge_air
from service.core.solvents.room_question import AirQuestion, Emission, EmissionUnit
from service.core.solvents.vapour_activity import unifac
from service.core.solvents.vapour_of_mix import Basis, pressure_kpa
from tests.core.solvents.liquids import ROOM, YES, codes, grouped, heavy, judged, light, limit, parts, said


def test_both_bases_are_worked_out_and_the_worse_stands() -> None:
    answer = judged(light(parts(50)), heavy(parts(50)))
    by = {one.basis: one for one in answer.by_basis}
    assert set(by) == set(Basis) and answer.worst is not None and answer.worst.lower_limit is not None
    assert answer.worst.lower_limit == min(one.lower_limit or 0 for one in by.values())
    assert answer.worst.steady_ppm == max(one.steady_ppm or 0 for one in by.values())
    assert answer.worst.air_needed == max(one.air_needed or 0 for one in by.values())
    asked = judged(light(parts(50)), heavy(parts(50)), basis=Basis.SATURATED)
    assert asked.worst == by[Basis.SATURATED] and len(asked.by_basis) == 2


def test_without_a_vapour_pressure_the_other_basis_stands_and_is_not_enough() -> None:
    answer = judged(light(parts(5), curve=None), heavy(parts(1)))
    assert answer.worst is not None and answer.worst.peak is not None and answer.enough is None
    assert "vapour-pressure-not-known" in codes(answer)
    only = judged(light(parts(5), curve=None), heavy(parts(1)), basis=Basis.SATURATED)
    assert only.worst is None and only.enough is None
    other = judged(light(parts(5), curve=None), heavy(parts(1)), basis=Basis.ALL_EVAPORATES)
    assert other.enough is True, "asked for this basis alone, the other does not count"
    assert judged(light(parts(5), curve=None)).enough is True, "one liquid alone has one composition"


def test_activity_coefficients_are_taken_when_they_are_given() -> None:
    mix = (light(parts(50)), heavy(parts(50)))
    asked = AirQuestion(
        components=mix, evaporation_min=60.0, basis=Basis.SATURATED, dilution=(YES, YES), **ROOM
    )

    def strong(liquids: Sequence[Component], x: Sequence[float], celsius: float) -> list[float]:
        assert celsius == 25 and sum(x) == pytest.approx(1)
        return [1.0, 30.0]

    ideal, given_ = judge_air(asked, []), judge_air(asked, [strong])
    assert ideal.worst is not None and given_.worst is not None
    assert (given_.worst.lower_limit or 0) < (ideal.worst.lower_limit or 0), (
        "more of the heavy one, burns sooner"
    )
    assert "ideal-mixing" in codes(ideal) and "ideal-mixing" not in codes(given_)
    above = {one.name: one.ppm for one in given_.above}
    assert above["heavy"] == pytest.approx(30 * {one.name: one.ppm for one in ideal.above}["heavy"])
    unknown = judge_air(asked, [lambda liquids, x, celsius: None])
    assert unknown.worst == ideal.worst and unknown.enough is None and not unknown.verdict.complete


def test_both_variants_are_used_and_the_worse_counts() -> None:
    mix = (light(parts(50)), heavy(parts(50)))
    asked = AirQuestion(
        components=mix, evaporation_min=60.0, basis=Basis.SATURATED, dilution=(YES, YES), **ROOM
    )
    both, ideal = judge_air(asked), judge_air(asked, [])
    alone = [judge_air(asked, [unifac(variant)]) for variant in Variant]
    assert both.worst is not None and "ideal-mixing" not in codes(both)
    for name in ("steady_ppm", "air_for_limits", "air_needed"):
        assert getattr(both.worst, name) == max(getattr(one.worst, name) for one in alone), name
    above = [sum(vapour.ppm for vapour in one.above) for one in (both, *alone, ideal)]
    assert above[0] >= max(above[1:3]) > above[3], "ketone in an alkane gives off more than an ideal mix"
    ungrouped = judged(light(parts(5), **grouped(None)), heavy(parts(1)))
    assert "ideal-mixing" in codes(ungrouped) and ungrouped.enough is None


@pytest.mark.parametrize("basis", list(Basis))
def test_a_trace_of_the_other_reaches_the_pure_value(basis: Basis) -> None:
    pure = judged(light(parts(10)), basis=basis).worst
    trace = judged(light(parts(10)), heavy(parts(1e-9)), basis=basis).worst
    assert pure is not None and trace is not None and pure.peak is not None and trace.peak is not None
    for name in ("vapour_l_per_l", "lower_limit", "steady_ppm", "air_for_limits", "mean_mg_m3"):
        assert getattr(trace, name) == pytest.approx(getattr(pure, name), rel=1e-6), name
    assert trace.peak.exposure_index == pytest.approx(pure.peak.exposure_index, rel=1e-6)
    none = judged(light(parts(10)), heavy(parts(0)), basis=basis).worst
    assert none == pure


def test_another_route_for_a_mix() -> None:
    """30 ml of each in an hour, on paper: moles, Le Chatelier, the balance of the room, limits added up."""
    answer = judged(light(parts(30)), heavy(parts(30)), basis=Basis.ALL_EVAPORATES).worst
    assert answer is not None and answer.peak is not None
    n1, n2 = 30 * 0.8 / 60, 30 * 0.75 / 140
    flow = (n1 + n2) * 24.45 / 1000
    worth = 500 / 3
    risen = 1 - 2.718281828459045 ** (-worth / 50)
    top = flow / worth * 1e6 * risen
    assert answer.vapour_l_per_l == pytest.approx((n1 + n2) * 24.45 / 0.060)
    assert answer.lower_limit == pytest.approx((n1 + n2) / (n1 / 2.5 + n2 / 0.7))
    assert answer.peak.ppm == pytest.approx(top) and answer.peak.min == 60
    milligrams = (24 + 22.5) * 1000 / worth * risen
    assert answer.peak.mg_m3 == pytest.approx(milligrams)
    index = top * n1 / (n1 + n2) / 500 + 22.5 * 1000 / worth * risen / 350
    assert answer.peak.exposure_index == pytest.approx(index)
    assert answer.air_for_limits == pytest.approx(3 * (n1 * 24.45e-3 * 1e6 / 500 + 22.5 * 1000 / 350))
    assert answer.ppm_if_no_air == pytest.approx(flow / 50 * 1e6)


def test_a_range_is_as_bad_as_its_worst_end() -> None:
    low, high = judged(light(parts(5)), heavy(parts(20))), judged(light(parts(5)), heavy(parts(60)))
    both = judged(light(parts(5)), heavy(parts(20, high=60)))
    assert low.worst and high.worst and both.worst
    for name in ("steady_ppm", "air_for_limits", "air_needed", "mean_mg_m3", "purge_min"):
        ends = getattr(low.worst, name), getattr(high.worst, name)
        assert getattr(both.worst, name) == max(ends), name
    assert both.worst.lower_limit == min(low.worst.lower_limit or 0, high.worst.lower_limit or 0)
    assert judged(light(parts(5)), heavy(parts(1, high=5_000))).enough is False


def test_a_part_nobody_told_of_leaves_everything_open() -> None:
    percent = ShareKind.PERCENT
    answer = judged(light(parts(60, percent)), heavy(parts(20, percent)), liquid_ml=10.0)
    assert answer.worst is None and answer.enough is None and "20 %" in said(answer, "share-not-told")


def test_resin_stays_and_water_is_no_vapour() -> None:
    oil = Component("oil", parts(50), density=Known(0.93, "g/ml"), volatile=False)
    bare, thinned = judged(light(parts(50))).worst, judged(light(parts(50)), oil).worst
    assert bare and thinned and bare.vapour_l_per_l and thinned.vapour_l_per_l
    assert thinned.vapour_l_per_l == pytest.approx(bare.vapour_l_per_l / 2)
    assert thinned.peak == bare.peak
    water = Component(
        "water", parts(50), molar_mass=Known(18.015, "g/mol"), density=Known(1, "g/ml"), water=True
    )
    wet = judged(light(parts(50)), water, basis=Basis.ALL_EVAPORATES).worst
    assert wet is not None and wet.peak is not None and bare.peak is not None
    assert wet.peak.ppm == pytest.approx(bare.peak.ppm) and wet.lower_limit == bare.lower_limit
    dry = judged(water, dilution=(YES,))
    assert dry.worst is None and dry.enough is None and "nothing-evaporates" in codes(dry)


def test_a_liquid_by_volume_and_its_parts_by_amount_are_one() -> None:
    whole = judged(light(parts(50)), heavy(parts(30))).worst
    fractions = judged(
        light(parts(0.625, ShareKind.VOLUME_FRACTION)), heavy(parts(0.375, ShareKind.VOLUME_FRACTION)),
        liquid_ml=80.0,
    ).worst  # fmt: skip
    assert whole and fractions and whole.peak and fractions.peak
    assert fractions.peak.ppm == pytest.approx(whole.peak.ppm)
    by_weight = judged(light(parts(50)), emission=Emission(40, EmissionUnit.G_H), evaporation_min=60.0).worst
    alone = judged(light(parts(50))).worst
    by_volume = judged(light(parts(1)), emission=Emission(50 / 60, EmissionUnit.ML_MIN)).worst
    as_vapour = judged(light(parts(1)), emission=Emission(40 / 60 * 24.45 / 1000, EmissionUnit.M3_H)).worst
    assert alone and alone.peak
    for one in (by_weight, by_volume, as_vapour):
        assert one and one.peak and one.peak.ppm == pytest.approx(alone.peak.ppm)


def test_the_lowest_limit_counts_and_cuts_keep_mg() -> None:
    many = (limit(1000), limit(250), limit(400, kind=LimitKind.CEILING), limit(590, LimitUnit.MG_M3))
    top = judged(light(parts(5), limits=many)).worst
    assert top and top.peak and top.peak.ppm
    assert top.peak.exposure_index == pytest.approx(top.peak.ppm * 60 / 24.45 / 590), "590 mg/m3 is 240 ppm"
    cut = judged(heavy(parts(5)), celsius=35.0).worst
    assert cut and cut.peak and cut.peak.mg_m3
    assert cut.peak.exposure_index == pytest.approx(cut.peak.mg_m3 / 350)


def test_a_limit_from_memory_is_flagged_and_a_short_one_is_not_enough() -> None:
    memory = replace(limit(500), grade="memory", body="a body")
    assert "not checked" in said(judged(light(parts(1), limits=(memory,))), "limit-not-checked")
    short = judged(light(parts(1), limits=(limit(500, kind=LimitKind.STEL),)))
    assert short.worst and short.worst.peak and short.worst.peak.index_is_at_least
    assert short.worst.peak.exposure_index and short.worst.air_for_limits is None
    mixed = (limit(500), limit(900, LimitUnit.MG_M3))
    apart = judged(light(parts(1, ShareKind.MOLE_FRACTION), limits=mixed, molar_mass=None),
                   emission=Emission(0.001, EmissionUnit.M3_H))  # fmt: skip
    assert "limits-not-comparable" in codes(apart) and apart.enough is None


def test_warmth_lowers_the_limit_and_cold_does_not_raise_it() -> None:
    at = {celsius: judged(light(parts(5)), celsius=celsius).worst for celsius in (0.0, 25.0, 45.0)}
    assert [one.lower_limit if one else None for one in at.values()] == [2.5, 2.5, pytest.approx(2.46395)]


def test_more_than_the_air_holds_is_said() -> None:
    answer = judged(heavy(parts(50_000)), airflow_m3_h=0.0)
    assert "more-than-air-holds" in codes(answer) and answer.enough is False


def test_a_curve_speaks_only_where_its_source_does() -> None:
    assert pressure_kpa(light(parts(1)), 25) == pytest.approx(29.0, abs=0.5)
    assert pressure_kpa(light(parts(1)), 200) is None
    pointed = light(parts(1), curve=None, vapour_pressures=((Known(24.0, "kPa"), 20.0),))
    assert pressure_kpa(pointed, 20) == 24.0 and pressure_kpa(pointed, 25) is None
