"""Costs: exact sums, one rounding, "at least" never rounded up; prices and currencies as they are typed."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.costs import Used, cost_of, judge_price, per_measure, read_currency, rounded, say_cost
from service.core.findings import Invalid
from service.core.materials import Basis

amounts = st.integers(0, 10**9)
prices = st.decimals(0, 10_000, places=2)
used = st.builds(
    Used, st.just("oil"), st.sampled_from(["K7Q F2B", ""]), st.none() | amounts,
    st.none() | st.integers(0, 10**9), st.none() | prices,
)  # fmt: skip


@given(st.lists(used, max_size=8))
def test_what_is_not_known_is_said_and_no_sum_is_above_all_prices(several: list[Used]) -> None:
    told = cost_of(several)
    known = [
        u for u in several
        if u.taken == 0 or (u.code and u.price is not None and u.taken and u.received)
    ]  # fmt: skip
    assert told.at_least == (len(known) < len(several))
    assert 0 <= told.exact <= sum(Fraction(u.price) for u in several if u.price is not None)


@given(st.fractions(0, 10**6), st.sampled_from(["EUR", "JPY", "KWD", None]))
def test_at_least_is_never_more_than_the_sum(exact: Fraction, currency: str | None) -> None:
    assert Fraction(rounded(exact, currency, at_least=True)) <= exact
    assert abs(Fraction(rounded(exact, currency)) - exact) <= Fraction(1, 2)


def test_thirds_add_up_before_they_are_rounded() -> None:
    third = Used("oil", "K7Q F2B", 1, 3, Decimal("0.01"))
    assert rounded(cost_of([third, third, third]).exact, "EUR") == Decimal("0.01")
    assert say_cost(cost_of([third]).exact, "EUR") == "0.00 EUR"
    assert say_cost(Fraction(1999, 2), "JPY") == "1000 JPY"


def test_nothing_taken_costs_nothing_whatever_it_cost() -> None:
    assert cost_of([Used("oil", "K7Q F2B", 0, None, None)]).at_least is False


@pytest.mark.parametrize(
    ("basis", "made", "expected"),
    [
        (Basis.VOLUME, 250_000, (Fraction(40), "l")),
        (Basis.MASS, 2_000_000, (Fraction(5), "kg")),
        (Basis.PIECES, 4, (Fraction(5, 2), "piece")),
        (Basis.VOLUME, 0, None),
    ],
)
def test_the_cost_of_a_measure(basis: Basis, made: int, expected: object) -> None:
    assert per_measure(Fraction(10), made, basis) == expected


@pytest.mark.parametrize("text", ["EU", "EURO", "E1R", "€", "ＥＵＲ"])
def test_a_currency_is_three_letters(text: str) -> None:
    with pytest.raises(Invalid):
        read_currency(text)


@pytest.mark.parametrize("price", ["-0.01", "1E+7", "0.00001", "NaN", "sNaN", "-Infinity"])
def test_what_is_no_price(price: str) -> None:
    with pytest.raises(Invalid):
        judge_price(Decimal(price))
