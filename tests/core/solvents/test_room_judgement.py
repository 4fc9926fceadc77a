"""Whether a room's air is enough: nothing unknown ever counts as enough, and what says no says why."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.solvents.dilution import Dilution, dilution_by, read_codes
from service.core.solvents.properties import Component, Known, LimitKind, ShareKind, SolventFamily
from service.core.solvents.room_question import AirQuestion, Emission, EmissionUnit
from tests.core.solvents.liquids import YES, codes, heavy, judged, light, limit, parts, said


def test_a_little_in_much_air_is_enough() -> None:
    answer = judged(light(parts(5)), heavy(parts(1)))
    assert answer.enough is True and answer.verdict.complete
    assert {"average-of-the-room", "calculated"} <= codes(answer)
    assert said(answer, "average-of-the-room") == (
        "This is the average of the room; near the can it is higher; above an open can it can burn."
    )


DROPPED = [
    ("molar_mass", None), ("density", None), ("lower_limit", None), ("limits", ()),
    ("limits", (limit(500, kind=LimitKind.STEL),)), ("curve", None),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), DROPPED)
@pytest.mark.parametrize("which", [0, 1])
def test_what_is_not_known_of_one_part_is_never_enough(field: str, value: object, which: int) -> None:
    mix = [light(parts(5)), heavy(parts(1))]
    mix[which] = replace(mix[which], **{field: value})  # type: ignore[arg-type]
    answer = judged(*mix)
    assert answer.enough is None and not answer.verdict.complete
    assert any(finding.about == mix[which].name for finding in answer.verdict)


@given(st.floats(0.1, 5000), st.floats(0.1, 1e6), st.sampled_from(DROPPED), st.integers(0, 1))
def test_no_amount_of_air_makes_the_unknown_enough(
    millilitres: float, air: float, dropped: tuple[str, object], which: int
) -> None:
    mix = [light(parts(millilitres)), heavy(parts(millilitres))]
    mix[which] = replace(mix[which], **{dropped[0]: dropped[1]})  # type: ignore[arg-type]
    assert judged(*mix, airflow_m3_h=air).enough is not True


@pytest.mark.parametrize("lost", ["volume_m3", "airflow_m3_h"])
def test_a_room_not_told_is_not_known(lost: str) -> None:
    answer = judged(light(parts(5)), **{lost: None})
    assert answer.enough is None and not answer.verdict.complete
    assert answer.worst is not None and answer.worst.peak is None and answer.worst.air_needed is not None
    mend = {"volume_m3": "its size in m³", "airflow_m3_h": "the fresh air it gets"}[lost]
    assert f"Tell {mend}" in " ".join(finding.sentence for finding in answer.verdict)


def test_a_missing_mixing_factor_is_ten_and_said() -> None:
    told, missing = judged(light(parts(5)), mixing_factor=10.0), judged(light(parts(5)), mixing_factor=None)
    assert told.worst == missing.worst
    assert "mixing-taken-as-10" in codes(missing) and "mixing-taken-as-10" not in codes(told)


def test_groups_c_to_e_are_never_enough_and_the_unknown_is_not_known() -> None:
    assert judged(light(parts(1)), dilution=(dilution_by(["H351"]),)).enough is False
    assert judged(light(parts(1)), dilution=(dilution_by(None),)).enough is None
    assert judged(light(parts(1)), dilution=()).enough is None
    assert judged(light(parts(1)), dilution=(dilution_by([]),)).enough is True
    answer = judged(
        light(parts(1)), heavy(parts(1)), dilution=(Dilution(None, "untold"), dilution_by(["H317"]))
    )
    assert answer.enough is False and "H317" in said(answer, "never-by-air-alone")


def test_a_film_former_of_a_bad_group_counts_too() -> None:
    resin = Component("resin", parts(10), density=Known(1.1, "g/ml"), volatile=False)
    assert judged(light(parts(1)), resin, dilution=(YES, dilution_by(["H317"]))).enough is False
    assert judged(light(parts(1)), resin, dilution=(YES, dilution_by(None))).enough is True


@pytest.mark.parametrize("code", ["", "H1", "H3366", "P210", "H336 ", "H302+x"])
def test_what_is_no_code_is_refused(code: str) -> None:
    if code.strip() == "H336":
        assert read_codes([code]) == {"H336"}
        return
    with pytest.raises(Invalid):
        read_codes([code])


def test_amounts_beside_a_level_leave_it_open_whether_they_evaporate() -> None:
    start = {"start_ppm": 10.0, "target_ppm": 1.0, "evaporation_min": None}
    answer = judged(light(parts(500)), **start)
    assert answer.enough is None and "amounts-left-open" in codes(answer)
    assert answer.worst is not None and answer.worst.purge_min is not None
    assert judged(light(parts(1, ShareKind.MOLE_FRACTION)), **start).verdict.codes.isdisjoint(
        {"amounts-left-open"}
    )
    assert judged(light(parts(500)), **start | {"evaporation_min": 5.0}).enough is False


def test_a_room_without_anything_going_into_its_air_is_no_answer() -> None:
    answer = judged(light(parts(1, ShareKind.MOLE_FRACTION)), evaporation_min=None)
    assert answer.enough is None and "release-not-told" in codes(answer)


def test_natural_air_is_never_enough_by_itself() -> None:
    answer = judged(light(parts(1)), airflow_is_natural=True)
    assert answer.enough is None and "only-while-it-blows" in codes(answer)


def test_over_the_limits_and_over_a_quarter_of_the_lower_limit() -> None:
    much = judged(light(parts(20_000)))
    assert much.enough is False
    assert {"over-exposure-limits", "over-quarter-of-limit"} <= codes(much)
    no_limit = judged(light(parts(20_000), limits=()))
    assert no_limit.enough is False, "a quarter of the lower limit alone says no"
    no_lower = judged(light(parts(20_000), lower_limit=None))
    assert no_lower.enough is False, "the exposure limits alone say no"


def test_without_air_work_that_goes_on_rises_for_good() -> None:
    answer = judged(
        light(parts(1)), emission=Emission(10, EmissionUnit.G_H), evaporation_min=None, airflow_m3_h=0.0,
        times_min=(60.0,),
    )  # fmt: skip
    assert answer.enough is False and "rises-for-good" in codes(answer)
    assert answer.worst is not None and answer.worst.peak is None and answer.worst.steady_ppm is None
    assert answer.worst.purge_min is None
    assert answer.worst.series[0].ppm == pytest.approx(10 / 60 * 24.45 / 1000 / 50 * 1e6)


def test_halogen_without_a_limit_is_not_said_not_to_burn() -> None:
    halogen = light(parts(5), name="halogen", lower_limit=None, family=SolventFamily.HALOGENATED)
    answer = judged(halogen, heavy(parts(1)))
    assert "may still burn" in said(answer, "lower-limit-not-known")
    assert answer.worst is not None and answer.worst.lower_limit is None
    assert answer.worst.peak is not None and answer.worst.peak.percent_lel is None
    assert answer.worst.air_for_quarter_lel is None and answer.enough is None
    flashless = judged(light(parts(5), lower_limit=None, no_flash_because="none up to boiling"))
    assert "may still burn" in said(flashless, "lower-limit-not-known")


def test_once_or_always_but_not_both() -> None:
    with pytest.raises(Invalid, match="not both"):
        AirQuestion(components=(), liquid_ml=1.0, emission=Emission(1, EmissionUnit.G_H))


@given(st.floats(1, 2000), st.floats(0, 5000), st.floats(0, 5000))
def test_more_air_never_turns_enough_into_not(millilitres: float, one: float, other: float) -> None:
    less = judged(light(parts(millilitres)), airflow_m3_h=min(one, other))
    more = judged(light(parts(millilitres)), airflow_m3_h=max(one, other))
    assert more.enough is True or less.enough is not True
