"""How much to make, "to suit, at most …", and shares: what is read, what is asked, what is refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.bench_writing import Ambiguous
from service.core.findings import Invalid
from service.core.quantities import UnitSystem
from service.core.recipe_amounts import (
    most_to_suit,
    read_how_much,
    shares_of_parts,
    shares_of_percent,
)

PART = st.decimals(min_value=Decimal("0.1"), max_value=1000, places=2)


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("1 time", 1), ("3 times", 3), ("2.5 times", Fraction(5, 2)), ("2 1/2 times", Fraction(5, 2)),
        ("½ times", Fraction(1, 2)), ("2x", 2), ("2 x", 2), ("3 × ", 3), ("0,5 times", Fraction(1, 2)),
        ("4 times the recipe", 4),
    ],
)  # fmt: skip
def test_so_many_times(text: str, times: Fraction) -> None:
    read = read_how_much(text)
    assert read.times == times and read_how_much(read.written).times == times


@pytest.mark.parametrize(
    ("text", "ml"),
    [("500 ml", 500), ("about 2 l", 2000), ("1 to 2 l", 2000), ("20 heads x 60 ml + 10 %", 1320)],
)
def test_so_much_in_all_takes_the_upper_end(text: str, ml: int) -> None:
    read = read_how_much(text)
    assert read.wanted is not None and read.wanted.smallest == ml * 1000
    again = read_how_much(read.written)
    assert again.wanted is not None and again.wanted.smallest == read.wanted.smallest


def test_a_us_pint_reads_back_whatever_the_shop_uses() -> None:
    read = read_how_much("2 pints", system=UnitSystem.US)
    again = read_how_much(read.written, system=UnitSystem.IMPERIAL)
    assert again.wanted == read.wanted


@pytest.mark.parametrize(
    "text", ["", "times", "0 times", "-1 times", "1 to 2 times", "10001 times", "3 parts", "10 %", "to suit",
             "0 ml", "12", "½", "x", "12 x 12", "1e3 times", "∞ times", "١ times"]
)  # fmt: skip
def test_what_is_no_amount_to_make(text: str) -> None:
    with pytest.raises(Invalid) as caught:
        read_how_much(text)
    assert caught.value.errors["amount"]


def test_doubt_is_asked() -> None:
    for text in ("2 pints", "1,000 ml", "1,000 times"):
        with pytest.raises(Ambiguous):
            read_how_much(text)
    with pytest.raises(Invalid) as caught:
        read_how_much("2,5")
    assert [r.text for r in caught.value.readings] == ["2.5 times"]


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        read = read_how_much(text)
    except Invalid as wrong:
        assert wrong.errors
    else:
        assert (read.times is None) is not (read.wanted is None)


@pytest.mark.parametrize(
    ("text", "most"),
    [
        ("to suit, at most 2 tsp", "2 tsp"), ("To suit: up to 5 ml", "5 ml"), ("q.s. max 2 ml", "2 ml"),
        ("as needed  no more than 1 to 2 tsp", "1 to 2 tsp"), ("to suit", None), ("at most 2 tsp", None),
        ("to suit, at most", None),
    ],
)  # fmt: skip
def test_the_most_of_to_suit(text: str, most: str | None) -> None:
    assert most_to_suit(text) == most


@given(st.lists(PART, min_size=1, max_size=12))
def test_fixed_parts_share_the_whole_exactly(parts: list[Decimal]) -> None:
    shares = shares_of_parts([(part, part) for part in parts])
    assert sum(low for low, _ in shares) == 1 and all(low == high for low, high in shares)


@given(st.lists(st.tuples(PART, PART).map(lambda p: (min(p), max(p))), min_size=1, max_size=8), st.data())
def test_no_choice_within_the_ranges_leaves_the_bounds(
    parts: list[tuple[Decimal, Decimal]], data: st.DataObject
) -> None:
    chosen = [data.draw(st.sampled_from(pair)) for pair in parts]
    whole = sum(Fraction(one) for one in chosen)
    for one, (low, high) in zip(chosen, shares_of_parts(parts), strict=True):
        assert low <= Fraction(one) / whole <= high


def test_nothing_cannot_be_shared() -> None:
    with pytest.raises(Invalid):
        shares_of_parts([(Decimal(0), Decimal(5))])
    with pytest.raises(Invalid, match="make 90, not 100"):
        shares_of_percent([(Decimal(90), Decimal(90))])
    with pytest.raises(Invalid, match="make 101 to 105, not 100"):
        shares_of_percent([(Decimal(101), Decimal(105))])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("-1 times", "without a sign"), ("−2 times", "without a sign"), ("+2 x", "without a sign"),
        ("about 2 times", "without “about”"), ("~2 times", "without “about”"),
        ("Ca. 2 times", "without “about”"), ("-12 m2", "without a sign"),
        ("-1 l of the base", "without a sign"),
        ("1e9 times", "“1e9” is no number of times"), ("two times", "“two” is no number of times"),
        ("99999 times", "at most 10000"),
    ],
)  # fmt: skip
def test_what_is_no_number_of_times_is_said_as_times(text: str, words: str) -> None:
    with pytest.raises(Invalid) as caught:
        read_how_much(text)
    assert words in caught.value.errors["amount"] and "tsp" not in caught.value.sentence
