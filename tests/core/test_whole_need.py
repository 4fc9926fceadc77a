"""What is written alike in a recipe and on a tin is the same whole number, however often it is taken."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.bench_writing import read_written
from service.core.materials import Basis, Form
from service.core.quantities import UNITS, Densities, to_basis
from service.core.whole_need import exact_amount, whole_need

US = ["1 US pint", "8 US fl oz", "1 US gal", "4 US gal", "1 US quart", "1 lb", "2 oz by weight", "1 US cup"]


def in_a_tin(text: str) -> int:
    high = read_written(text).high
    assert high is not None
    return to_basis(high, high.basis, Densities(), form=Form.LIQUID, name="oil").high


@pytest.mark.parametrize("text", US)
def test_what_a_recipe_takes_is_what_the_tin_of_that_size_holds(text: str) -> None:
    high = read_written(text).high
    assert high is not None and whole_need(high.smallest) == in_a_tin(text)


@pytest.mark.parametrize(
    ("part", "times", "whole"),
    [
        ("1/3 US pint", 3, "1 US pint"), ("2/3 US quart", 3, "2 US quarts"), ("1/2 US pint", 16, "1 US gal"),
        ("1 US gal", 5, "5 US gal"), ("1/3 l", 3, "1 l"), ("4 oz by weight", 4, "1 lb"),
        ("1 US qt", 4, "1 US gal"),
    ],
)  # fmt: skip
def test_parts_add_up_to_the_whole_as_written(part: str, times: int, whole: str) -> None:
    kept = in_a_tin(part)
    basis = Basis.MASS if "oz" in part else Basis.VOLUME
    assert whole_need(exact_amount(part, kept, basis) * times) == in_a_tin(whole)


def test_words_that_say_another_amount_are_not_believed() -> None:
    assert exact_amount("1 imperial pint", 473_176, Basis.VOLUME) == 473_176
    assert exact_amount("1 lb", 473_176, Basis.VOLUME) == 473_176
    assert exact_amount("3 parts", 5, Basis.MASS) == 5
    assert exact_amount("", 5, Basis.MASS) == 5


def test_words_are_read_in_the_measures_that_give_the_amount() -> None:
    assert exact_amount("1 pint", 473_177, Basis.VOLUME) == Fraction("473176.473")
    assert exact_amount("1 pint", 568_261, Basis.VOLUME) == Fraction("568261.25")
    assert exact_amount("to suit, at most 1 pint", 473_177, Basis.VOLUME) == Fraction("473176.473")
    assert exact_amount("1 to 2 oz", 56_700, Basis.MASS, Form.POWDER) == Fraction("56699.04625")


@given(st.fractions(min_value=0, max_value=10**12))
def test_a_need_is_understated_by_half_a_unit_at_most_and_only_where_it_is_large(amount: Fraction) -> None:
    whole = whole_need(amount)
    assert amount - Fraction(1, 2) <= whole < amount + 1
    assert amount >= 1000 or whole >= amount - Fraction(1, 10**9)
    assert amount == 0 or whole > 0 or amount <= Fraction(1, 10**9)


@given(st.integers(1, 400), st.integers(1, 12), st.sampled_from(sorted(UNITS)))
def test_a_written_amount_is_found_again_from_what_was_kept_of_it(many: int, part: int, key: str) -> None:
    unit = UNITS[key]
    exact = Fraction(many, part) * Fraction(unit.factor)
    text = f"{many}/{part} {unit.plural}" if part > 1 else f"{many} {unit.plural}"
    if exact < 1000 or (part > 1 and many % part == 0):
        return
    kept = whole_need(exact)
    found = exact_amount(text, kept, unit.basis)
    assert abs(found - kept) < 1 and whole_need(found) == kept
