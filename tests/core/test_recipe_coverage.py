"""How far a litre goes and what an area takes: read, bounded, and never too little."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.bench_writing import Ambiguous
from service.core.findings import Invalid
from service.core.mix_purposes import PURPOSE_HINTS, PURPOSE_WORDS, MixPurpose, hint_of, words_of
from service.core.quantities import UnitSystem
from service.core.recipe_amounts import read_how_much
from service.core.recipe_coverage import Area, Coverage, microlitres_for, read_area, read_coverage

RATE = st.decimals(min_value=Decimal("0.01"), max_value=1000, places=3)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("5 to 9.8 m2/l", "5", "9.8"),
        ("8 m²/l", "8", "8"),
        ("10 m2 per litre", "10", "10"),
        # 200 ft2 is 18.580608 m2, a US gallon 3.785411784 l: 4.908477… and 9.816954…
        ("200 to 400 ft2/US gal", "4.908477", "9.816955"),
        ("400 sq ft per us gallon", "9.816954", "9.816955"),
    ],
)
def test_a_coverage_is_read_and_reads_back(text: str, low: str, high: str) -> None:
    read = read_coverage(text)
    assert read is not None and read.low == Decimal(low)
    assert abs(read.high - Decimal(high)) <= Decimal("0.000001")
    assert read_coverage(read.written) == read


def test_a_gallon_that_may_be_two_is_asked_and_the_shop_settles_it() -> None:
    with pytest.raises(Ambiguous) as caught:
        read_coverage("400 ft2/gal")
    assert set(caught.value.errors) == {"coverage"}
    us, imperial = (read_coverage("400 ft2/gal", system=s) for s in (UnitSystem.US, UnitSystem.IMPERIAL))
    assert us is not None and imperial is not None and us.low > imperial.low
    assert read_coverage("") is None and read_coverage("   ") is None


@pytest.mark.parametrize(
    "text",
    ["5", "m2/l", "5 m2", "5 l", "0 m2/l", "-5 m2/l", "0.001 m2/l", "1001 m2/l", "9 to 5 m2/l", "5 g/l",
     "far", "1e3 m2/l", "∞ m2/l", "5 to 10", "9" * 60 + " m2/l", "to suit m2/l", "5 % m2/l", "5 lb/US gal"],
)  # fmt: skip
def test_what_is_no_coverage(text: str) -> None:
    with pytest.raises(Invalid) as caught:
        read_coverage(text)
    assert "coverage" in caught.value.errors


@pytest.mark.parametrize(
    ("text", "m2", "coats"),
    [
        ("12 m2", Fraction(12), 1), ("12 m²", Fraction(12), 1), ("1.5 sq m", Fraction(3, 2), 1),
        ("10 to 12 m2", Fraction(12), 1), ("40 ft2, 2 coats", 40 * Fraction("0.09290304"), 2),
        ("40 sq ft x 3 coats", 40 * Fraction("0.09290304"), 3), ("12 m2, 1 coat", Fraction(12), 1),
    ],
)  # fmt: skip
def test_an_area_is_read_as_an_amount_to_make(text: str, m2: Fraction, coats: int) -> None:
    area = read_how_much(text).area
    assert area is not None and (area.m2, area.coats) == (m2, coats)
    again = read_how_much(read_how_much(text).written).area
    assert again is not None and (again.m2, again.coats) == (m2, coats)


@pytest.mark.parametrize(
    "text",
    ["0 m2", "-1 m2", "m2", "1000001 m2", "12 m2, 0 coats", "12 m2, 21 coats", "12 m2, 1000 coats", "12 m3",
     "to suit m2", "12 m2, two coats", "1e9 m2", "∞ m2", "base", "0 ml of the base", "3 parts of the base",
     "of the base", "12 of the base"],
)  # fmt: skip
def test_hostile_amounts_are_sentences(text: str) -> None:
    with pytest.raises(Invalid) as caught:
        read_how_much(text)
    assert "amount" in caught.value.errors


@pytest.mark.parametrize("text", ["1 l of the base", "1 l base", "1 l of base", "1 L of the Base."])
def test_so_much_of_the_base(text: str) -> None:
    read = read_how_much(text)
    assert read.base is not None and read.base.smallest == 1_000_000 and read.written == "1 l of the base"


@given(st.integers(1, 10**6), st.integers(1, 20), st.tuples(RATE, RATE))
def test_the_low_end_never_orders_too_little(m2: int, coats: int, rates: tuple[Decimal, Decimal]) -> None:
    coverage = Coverage("", min(rates), max(rates))
    least, most = microlitres_for(Area("", Fraction(m2), coats), coverage)
    # What is ordered covers the whole, even where a litre goes the shortest way.
    assert Fraction(most) / 1_000_000 * Fraction(coverage.low) >= m2 * coats
    assert 0 < least <= most
    twice = microlitres_for(Area("", Fraction(m2 * 2), coats), coverage)[1]
    assert twice <= 2 * most <= twice + 2


@given(st.sampled_from(["m2", "ft2"]), st.integers(1, 1000), st.integers(1, 20))
def test_an_area_reads_back(unit: str, figure: int, coats: int) -> None:
    read = read_area(f"{figure} {unit}, {coats} coats")
    assert read is not None and read_area(read.written) == read


def test_every_purpose_has_words_and_a_hint_and_only_the_oil_stain_speaks_of_hot_rags() -> None:
    assert set(PURPOSE_WORDS) == set(PURPOSE_HINTS) == set(MixPurpose)
    assert {one for one, hint in PURPOSE_HINTS.items() if "heat" in hint} == {MixPurpose.OIL_STAIN}
    assert words_of("touch-up") == "touch-up in shellac" and hint_of("wash") and not words_of(None)
