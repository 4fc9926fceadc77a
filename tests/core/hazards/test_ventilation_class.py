"""Control banding: what holds for every material and mix, and what is not known never makes it milder."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.core.hazards.amount_band import AmountBand, litres_or_kilos
from service.core.hazards.dustiness import Dustiness, dustiness_of
from service.core.hazards.hazard_band import GROUP_OF_STATEMENT, Group, Scheme, Statements, band
from service.core.hazards.mix import MixForm
from service.core.hazards.risk_phrases import GROUP_OF_PHRASE
from service.core.hazards.ventilation_class import Task, VentilationClass, ventilation_class
from service.core.hazards.ventilation_matrix import MATRIX, Column, cell
from service.core.hazards.ventilation_parts import Part
from service.core.hazards.volatility import Volatility, by_boiling_point, by_pressure
from service.core.solvents.properties import Component, Known, Share, ShareKind

CODES = st.sampled_from([*sorted(GROUP_OF_STATEMENT), "H225", "H226", "H410", "H361d", "H350i", "EUH019"])
TASKS = st.builds(
    Task,
    litres=st.floats(0.001, 5000),
    operating_c=st.floats(-10, 120),
    spray=st.booleans(),
    wetted_m2=st.none() | st.floats(0, 20),
    scheme=st.sampled_from(Scheme),
)


@st.composite
def parts(draw: st.DrawFn) -> Part:
    number = draw(st.integers(0, 10**6))
    solid = draw(st.booleans())
    boiling = draw(st.floats(-20, 400))
    millilitres = draw(st.floats(0.01, 2000))
    component = Component(
        f"part {number}",
        Share(ShareKind.VOLUME_ML, millilitres, millilitres),
        boiling_point=None if solid else Known(boiling, "C"),
    )
    said = Statements(tuple(draw(st.lists(CODES, max_size=4, unique=True))))
    dusty = draw(st.sampled_from(Dustiness)) if solid else None
    return Part(component, said, MixForm.SOLID if solid else MixForm.LIQUID, dustiness=dusty)


MIXES = st.lists(parts(), min_size=1, max_size=4)


def judge(mix: list[Part], task: Task) -> VentilationClass:
    dry = all(one.form is MixForm.SOLID for one in mix)
    judged = ventilation_class(mix, task, MixForm.SOLID if dry else MixForm.LIQUID)
    assert judged.because
    assert judged.number in (None, judged.at_least)
    return judged


def test_every_cell_is_monotone() -> None:
    volatile = (Column.LOW, Column.MEDIUM_VOLATILITY, Column.HIGH)
    dusty = (Column.LOW, Column.MEDIUM_DUSTINESS, Column.HIGH)
    for group, amount in product(Group, AmountBand):
        for columns in (volatile, dusty):
            row = [cell(group, amount, column) for column in columns]
            assert row == sorted(row)
    for column in Column:
        for amount in AmountBand:
            down = [cell(group, amount, column) for group in Group]
            assert down == sorted(down)
        for group in Group:
            across = [cell(group, amount, column) for amount in AmountBand]
            assert across == sorted(across)
    assert {n for rows in MATRIX.values() for row in rows.values() for n in row} == {1, 2, 3, 4}


@settings(max_examples=150, deadline=None)
@given(MIXES, TASKS, CODES, st.integers(0, 3))
def test_a_further_statement_never_lowers_the_class(mix: list[Part], task: Task, code: str, at: int) -> None:
    before = judge(mix, task)
    one = mix[at % len(mix)]
    assert one.said is not None
    more = replace(one, said=replace(one.said, codes=(*one.said.codes, code)))
    after = judge([more if part is one else part for part in mix], task)
    assert after.at_least >= before.at_least


@settings(max_examples=150, deadline=None)
@given(MIXES, TASKS, st.floats(1, 50), st.floats(0, 60), st.floats(0, 200), st.integers(0, 3))
def test_more_of_it_warmer_or_boiling_earlier_never_lowers_the_class(
    mix: list[Part], task: Task, times: float, warmer: float, earlier: float, at: int
) -> None:
    before = judge(mix, task)
    assert task.litres is not None and task.operating_c is not None
    assert judge(mix, replace(task, litres=task.litres * times)).at_least >= before.at_least
    assert judge(mix, replace(task, operating_c=task.operating_c + warmer)).at_least >= before.at_least
    one = mix[at % len(mix)]
    if one.component.boiling_point is not None:
        lower = Known(one.component.boiling_point.value - earlier, "C")
        lighter = replace(one, component=replace(one.component, boiling_point=lower))
        after = judge([lighter if part is one else part for part in mix], task)
        assert after.at_least >= before.at_least


@settings(max_examples=150, deadline=None)
@given(MIXES, TASKS, parts())
def test_a_further_component_never_lowers_the_class(mix: list[Part], task: Task, more: Part) -> None:
    # Litres of powder alone count as many kilograms; with a liquid among them they are litres.
    assume(more.form is MixForm.SOLID or any(one.form is MixForm.LIQUID for one in mix))
    assert judge([*mix, more], task).at_least >= judge(mix, task).at_least


@settings(max_examples=150, deadline=None)
@given(MIXES, TASKS, parts(), st.floats(0.01, 30), st.lists(st.floats(0.01, 10), min_size=4, max_size=4))
def test_a_component_in_place_of_what_harms_nobody_never_lowers_the_class(
    mix: list[Part], task: Task, more: Part, share: float, shares: list[float]
) -> None:
    """With shares by mass, so that cut-offs and the floor of 1 % count."""
    filler = Part(Component("filler", None, volatile=False), Statements())
    told = [replace(part, percent=by) for part, by in zip(mix, shares, strict=False)]
    before = judge([*told, replace(filler, percent=100 - sum(shares))], task)
    after = judge(
        [*told, replace(more, percent=share), replace(filler, percent=100 - sum(shares) - share)], task
    )
    assert after.at_least >= before.at_least


@settings(max_examples=100, deadline=None)
@given(MIXES, TASKS, st.randoms(use_true_random=False))
def test_order_never_matters(mix: list[Part], task: Task, dice: object) -> None:
    before = judge(mix, task)
    shuffled = [
        replace(one, said=replace(one.said, codes=tuple(reversed(one.said.codes)))) if one.said else one
        for one in mix
    ]
    dice.shuffle(shuffled)  # type: ignore[attr-defined]
    after = judge(shuffled, task)
    told = ("number", "at_least", "group", "skin", "volatility", "dustiness", "amount")
    assert [getattr(after, name) for name in told] == [getattr(before, name) for name in told]


@settings(max_examples=150, deadline=None)
@given(MIXES, TASKS, st.integers(0, 3), st.sampled_from(["hazards", "volatility", "dustiness", "amount"]))
def test_what_is_not_known_never_gives_a_milder_class_than_any_known_value(
    mix: list[Part], task: Task, at: int, what: str
) -> None:
    known = judge(mix, task)
    one = mix[at % len(mix)]
    less, lesser = one, task
    if what == "hazards":
        less = replace(one, said=None)
    elif what == "dustiness" and one.form is MixForm.SOLID:
        less = replace(one, dustiness=None)
    elif what == "volatility" and one.form is MixForm.LIQUID:
        less = replace(one, component=replace(one.component, boiling_point=None))
    elif what == "amount":
        mix = [replace(part, component=replace(part.component, share=None)) for part in mix]
        less, lesser = mix[at % len(mix)], replace(task, litres=None)
        one = less
    else:
        return
    judged = judge([less if part is one else part for part in mix], lesser)
    assert judged.number is None or judged.number >= known.at_least or known.volatility == "not_applicable"
    if judged.number is None or judged.number < 4:
        assert not judged.verdict.complete or judged.number == known.number
    alone = judge([less], lesser)
    assert alone.number != 1


def test_one_liquid_of_which_nothing_is_known() -> None:
    judged = judge([Part(Component("riddle", None), None)], Task())
    assert (judged.number, judged.at_least, judged.group, judged.skin) == (None, 2, None, None)
    assert {"hazards-not-known", "amount-not-told", "volatility-not-known"} <= judged.verdict.codes


@pytest.mark.parametrize(
    ("codes", "litres", "number", "at_least"),
    [
        ((), 0.5, None, 2),
        ((), 5, 2, 2),
        (("H317",), 0.5, 2, 2),
        (("H317",), 5, 3, 3),
        (("H350",), 0.01, 4, 4),
    ],
)
def test_unknown_volatility_counts_as_high_and_is_never_general(
    codes: tuple[str, ...], litres: float, number: int | None, at_least: int
) -> None:
    riddle = Part(Component("riddle", None), Statements(codes))
    judged = judge([riddle], Task(litres=litres, operating_c=20))
    assert (judged.number, judged.at_least, judged.volatility) == (number, at_least, None)
    assert not judged.verdict.complete
    # Heated it might be above its boiling point: then the highest cell is not the worst there is.
    hot = judge([riddle], Task(litres=litres, operating_c=60))
    assert hot.number == (4 if "H350" in codes else None)


def test_a_mix_with_an_unknown_part_has_no_class_and_one_with_a_carcinogen_is_specialist() -> None:
    oil = Part(Component("oil", Share(ShareKind.VOLUME_ML, 900, 900), volatile=False), Statements())
    riddle = Part(
        Component("riddle", Share(ShareKind.VOLUME_ML, 50, 50), boiling_point=Known(150, "C")), None
    )
    bad = Part(
        Component("oxime", Share(ShareKind.VOLUME_ML, 5, 5), boiling_point=Known(152, "C")),
        Statements(("H350",)),
    )
    assert judge([oil, riddle], Task(operating_c=20)).number is None
    assert judge([oil, riddle], Task(operating_c=20)).at_least == 2
    assert judge([oil, riddle, bad], Task(operating_c=20)).number == 4


def test_cut_offs_and_the_floor_count_by_mass() -> None:
    oil = Part(Component("oil", None, volatile=False), Statements(), percent=99.0)
    drier = Part(
        Component("drier", None, boiling_point=Known(150, "C")), Statements(("H302", "H361f")), percent=0.05
    )
    task = Task(litres=0.5, operating_c=20)
    assert judge([oil, drier], task).group is Group.A
    assert judge([oil, replace(drier, percent=0.1)], task).group is Group.D
    assert judge([oil, replace(drier, percent=None)], task).group is Group.D
    acetone = Part(Component("acetone", None, boiling_point=Known(56.1, "C")), Statements(), percent=0.9)
    assert judge([oil, acetone], replace(task, litres=5)).volatility is Volatility.LOW
    assert (
        judge([oil, replace(acetone, percent=1.0)], replace(task, litres=5)).volatility is Volatility.MEDIUM
    )


def test_the_own_statements_of_a_mix_come_before_those_of_its_parts() -> None:
    thinner = Part(
        Component("thinner", None, boiling_point=Known(150, "C")), Statements(("H372",)), percent=30
    )
    oil = Part(Component("oil", None, volatile=False), Statements(), percent=70)
    task = Task(litres=0.5, operating_c=20)
    judged = ventilation_class([thinner, oil], task, MixForm.LIQUID, own=Statements(("H373",)))
    assert (judged.group, judged.number) == (Group.C, 2)
    measured = Component("the mix", None, boiling_point=Known(45, "C"))
    lighter = ventilation_class([thinner, oil], task, MixForm.LIQUID, own=Statements(), whole=measured)
    assert lighter.volatility is Volatility.HIGH


@pytest.mark.parametrize("name", ["lead white", "Red lead", "minium", "litharge", "sanding dust", "asbestos"])
def test_what_has_a_law_of_its_own_never_gets_a_mild_class(name: str) -> None:
    judged = judge(
        [Part(Component(name, None), Statements(), MixForm.SOLID, dustiness=Dustiness.LOW)], Task(kilos=0.1)
    )
    assert judged.number in (None, 4)
    assert judged.not_covered and not judged.verdict.complete


def test_spraying_is_never_general_and_a_wetted_panel_is_no_small_amount() -> None:
    oil = Part(Component("oil", None, boiling_point=Known(350, "C")), Statements())
    assert judge([oil], Task(litres=0.1, operating_c=20)).number == 1
    assert judge([oil], Task(litres=0.1, operating_c=20, spray=True)).number == 2
    for area, found in ((1.0, AmountBand.SMALL), (1.01, AmountBand.MEDIUM)):
        assert judge([oil], Task(litres=0.1, operating_c=20, wetted_m2=area)).amount is found


def test_bands_meet_without_a_gap() -> None:
    rising = [by_pressure(kpa) for kpa in (0.0, 0.4999, 0.5, 25.0, 25.0001, 101.325)]
    order = list(Volatility)
    assert [order.index(one) for one in rising] == sorted(order.index(one) for one in rising)
    for tenths in range(-100, 1200):
        operating = tenths / 10
        assert by_boiling_point(5 * operating + 50, operating) is not Volatility.LOW
        if operating > -10:
            assert by_boiling_point(2 * operating + 10, operating) in (
                Volatility.HIGH,
                Volatility.NOT_APPLICABLE,
            )


def test_an_amount_without_a_density_counts_as_the_larger_it_can_be() -> None:
    assert litres_or_kilos(None, 0.7, liquid=True, density=None) == (
        pytest.approx(0.7 / 0.6),
        "0.7 kg at 0.6 kg/l",
    )
    assert litres_or_kilos(0.1, None, liquid=False, density=None) == (
        pytest.approx(1.14),
        "0.1 l at 11.4 kg/l",
    )
    assert litres_or_kilos(2.0, 1.0, liquid=True, density=0.8) == (2.0, "2 l")
    assert litres_or_kilos(None, None, liquid=True, density=0.8) is None


def test_dustiness_by_name_never_takes_a_ground_thing_for_lumps() -> None:
    assert dustiness_of("an unheard-of stuff") is None
    for name in ("beeswax pellets", "rabbit-skin glue", "dammar"):
        found, ground = dustiness_of(name), dustiness_of(f"{name}, ground")
        assert found is not None and found[0] is Dustiness.LOW
        assert ground is not None and ground[0] is Dustiness.HIGH


def test_every_r_phrase_and_statement_maps_and_worse_is_the_worse() -> None:
    for code in GROUP_OF_STATEMENT:
        groups = [band(Statements((code,)), scheme, "it").at_least for scheme in Scheme]
        assert groups[2] == max(groups[:2])
    for phrase, group in GROUP_OF_PHRASE.items():
        assert band(Statements((), (phrase,)), Scheme.HSE_2017, "it").group == Group(group)


def test_a_statement_of_no_table_is_not_harmless() -> None:
    found = band(Statements(("EUH380",)), Scheme.WORSE, "it")
    assert (found.group, found.at_least) == (None, Group.C)
    assert [one.code for one in found.findings] == ["statement-not-banded"]


def test_amount_bands_rise() -> None:
    task = Task(operating_c=20)
    part = Part(Component("it", None, boiling_point=Known(100, "C")), Statements(("H317",)))
    classes = [judge([part], replace(task, amount=one)).at_least for one in AmountBand]
    assert classes == [2, 3, 4]
    assert all(one <= more for one, more in pairwise(classes))
