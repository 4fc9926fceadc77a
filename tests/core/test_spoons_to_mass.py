"""Spoons of a recipe grown more than four times are weighed, with their spread; density of a mix."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Severity
from service.core.materials import Form
from service.core.mix_density import PartOfMix, density_of
from service.core.quantities import Densities
from service.core.spoons_to_mass import SpoonLine, spoons_to_mass

LOOSE = Densities(bulk_g_ml=(Decimal("0.32"), Decimal("0.41")), bulk_source="table")
TWO_TSP = SpoonLine(1, "umber", "us-tsp", 9858, 9858, Form.POWDER, LOOSE)


@pytest.mark.parametrize("times", [None, Fraction(1), Fraction(4), Decimal(4)])
def test_up_to_four_times_spoons_are_counted(times: Fraction | Decimal | None) -> None:
    assert spoons_to_mass([TWO_TSP], times) == ()


def test_more_than_four_times_they_are_weighed_with_the_spread_of_the_loose_density() -> None:
    assert len(spoons_to_mass([TWO_TSP], Fraction(401, 100))) == 1
    (found,) = spoons_to_mass([TWO_TSP], Fraction(12))
    # 12 x 9.858 ml is 118.296 ml; at 0.32 and 0.41 g/ml 37.85 and 48.50 g.
    assert (found.low_mg, found.high_mg) == (37_854, 48_502)
    assert found.finding.severity is Severity.NOTE and found.spoons == "24 US tsp"


def test_the_shops_own_weighing_has_one_figure() -> None:
    own = replace(TWO_TSP, densities=Densities(bulk_g_ml=(Decimal("0.4"), Decimal("0.4"))))
    assert spoons_to_mass([own], Fraction(10))[0].words == (
        "umber: about 39.4 g instead of 20 US tsp: weigh it."
    )


def test_to_suit_has_an_upper_end_only() -> None:
    (found,) = spoons_to_mass([replace(TWO_TSP, low=None)], Fraction(12))
    assert found.words == "umber: up to 48.6 g instead of up to 24 US tsp: weigh it."


def test_what_a_spoonful_weighs_nobody_knows_is_said_with_the_mends() -> None:
    (found,) = spoons_to_mass([replace(TWO_TSP, densities=Densities(Decimal("3.2")))], Fraction(12))
    assert found.finding.severity is Severity.UNKNOWN and found.low_mg is None
    assert "ten level spoons" in found.words and "24 US tsp of umber are too many" in found.words


@pytest.mark.parametrize(
    ("unit", "form", "counts"),
    [
        ("drop", Form.LIQUID, True), ("us-tbsp", Form.LIQUID, True), ("us-cup", Form.LIQUID, False),
        ("us-cup", Form.POWDER, True), ("imp-cup", Form.POWDER, True), ("ml", Form.POWDER, False),
        ("us-fl-oz", Form.LIQUID, False), ("metric-tsp", Form.PASTE, True), ("us-tsp", None, True),
    ],
)  # fmt: skip
def test_which_measures_are_spoons(unit: str, form: Form | None, counts: bool) -> None:
    line = replace(TWO_TSP, unit_key=unit, form=form, densities=replace(LOOSE, density_g_ml=Decimal("0.9")))
    assert bool(spoons_to_mass([line], Fraction(5))) is counts


@given(st.integers(1, 10**6), st.integers(5, 10_000), st.integers(32, 41))
def test_whatever_the_spoon_really_weighs_lies_in_the_spread(high: int, times: int, hundredths: int) -> None:
    (found,) = spoons_to_mass([replace(TWO_TSP, low=high, high=high)], Fraction(times))
    real = high * times * Fraction(hundredths, 100)
    assert found.low_mg is not None and found.high_mg is not None and found.low_mg <= real <= found.high_mg


SPAN = st.tuples(st.integers(0, 1000), st.integers(0, 1000)).map(sorted)
PARTS = st.lists(st.tuples(SPAN, st.integers(5, 90)), min_size=1, max_size=6)


@given(PARTS, st.data())
def test_no_mix_is_lighter_or_heavier_than_its_density_says(
    told: list[tuple[list[int], int]], data: st.DataObject
) -> None:
    parts = [PartOfMix(Fraction(low), Fraction(high), Fraction(ten, 10)) for (low, high), ten in told]
    span = density_of(parts)
    masses = [data.draw(st.integers(int(part.low), int(part.high))) for part in parts]
    volume = sum((m / part.g_ml for m, part in zip(masses, parts, strict=True)), Fraction(0))
    if volume:
        assert span is not None and span[0] <= sum(masses) / volume <= span[1]


def test_nothing_has_no_density_and_two_alike_have_theirs() -> None:
    assert density_of([]) is None and density_of([PartOfMix(Fraction(0), Fraction(0), Fraction(1))]) is None
    oil = PartOfMix(Fraction(93), Fraction(93), Fraction("0.93"))
    spirit = PartOfMix(Fraction(78), Fraction(78), Fraction("0.78"))
    assert density_of([oil, spirit]) == (Fraction(171, 200), Fraction(171, 200))
