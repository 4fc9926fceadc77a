"""Scaling a recipe to needs: the upper end counts, always rounded up, unknown stays unknown."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.recipe import Recipe, RecipeLine, needs, times_for

UMBER = RecipeLine(1, "raw umber", 1000, 1500, Basis.MASS, "1 to 1 1/2 g", "g")
OIL = RecipeLine(2, "boiled oil", 7, 7, Basis.VOLUME, "7 ul", "ml")
DRIER = RecipeLine(3, "drier", None, None, None, "to suit")
WATER = RecipeLine(4, "tap water", 500, 500, Basis.VOLUME, stocked=False)


def test_the_upper_end_is_needed_and_rounded_up() -> None:
    found = needs(Recipe("stain", (UMBER, OIL)), Fraction(1, 3))
    assert [(n.low, n.high) for n in found.needs] == [(334, 500), (3, 3)]
    assert found.verdict.complete and found.needs[0].unit_written == "g"


def test_to_suit_is_unknown_and_never_nothing() -> None:
    found = needs(Recipe("stain", (UMBER, DRIER)), 2)
    assert found.needs[1].high is None and not found.verdict.complete
    assert found.verdict.codes == {"no-upper-amount"}


def test_the_same_material_twice_is_one_need_and_an_unknown_line_makes_it_unknown() -> None:
    twice = needs(Recipe("stain", (UMBER, UMBER)), 1).needs
    assert [(n.low, n.high) for n in twice] == [(2000, 3000)]
    open_end = RecipeLine(1, "raw umber", 5, None, Basis.MASS)
    assert needs(Recipe("stain", (UMBER, open_end)), 1).needs[0].high is None


def test_mass_and_volume_of_one_material_do_not_add_up() -> None:
    by_volume = RecipeLine(1, "raw umber", 5, 5, Basis.VOLUME)
    assert needs(Recipe("stain", (UMBER, by_volume)), 1).verdict.codes == {"two-bases"}


def test_tap_water_is_not_looked_for() -> None:
    assert needs(Recipe("stain", (WATER,)), 1).needs == ()


def test_how_many_times() -> None:
    assert times_for(Recipe("stain", (), makes=600), 1000) == Fraction(5, 3)
    for recipe, wanted in ((Recipe("stain", ()), 5), (Recipe("stain", (), makes=600), 0)):
        with pytest.raises(Invalid) as caught:
            times_for(recipe, wanted)
        assert "amount" in caught.value.errors
    for times in (0, -1, Decimal("-0.5")):
        with pytest.raises(Invalid):
            needs(Recipe("stain", (UMBER,)), times)


@given(st.integers(0, 10**12), st.fractions(min_value=Fraction(1, 10**6), max_value=10**6))
def test_never_less_than_asked_and_less_than_one_unit_more(amount: int, times: Fraction) -> None:
    """From a thousand smallest units on to the nearest, as a tin is: half a unit is no tin more."""
    line = RecipeLine(1, "ochre", amount, amount, Basis.MASS)
    high = needs(Recipe("stain", (line,)), times).needs[0].high
    exact = amount * times
    assert high is not None and exact - Fraction(1, 2) <= high < exact + 1
    if exact < 1000:
        assert high > exact - Fraction(1, 10**6)
    if exact.denominator == 1:
        assert high == exact
