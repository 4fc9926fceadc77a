"""Reading what the bench writes: all the forms of a shop's recipe book, the doubts, and hostile input."""

from __future__ import annotations

import time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.bench_writing import (
    Ambiguous,
    Written,
    WrittenKind,
    as_written,
    read_figure,
    read_written,
)
from service.core.findings import Invalid, Severity
from service.core.materials import Basis, Form
from service.core.quantities import UNITS, Quantity, UnitSystem

US, IMPERIAL = UnitSystem.US, UnitSystem.IMPERIAL


def ends(written: Written) -> tuple[str, str]:
    return str(written.low), str(written.high)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("1 1/2 tsp", "1.5 US tsp", "1.5 US tsp"),
        ("¼ tsp", "0.25 US tsp", "0.25 US tsp"),
        ("1½ tsp", "1.5 US tsp", "1.5 US tsp"),
        ("1 ½ tsp", "1.5 US tsp", "1.5 US tsp"),
        ("1-1/2 tsp", "1.5 US tsp", "1.5 US tsp"),
        ("3/2 tsp", "1.5 US tsp", "1.5 US tsp"),
        ("1⁄4 tsp", "0.25 US tsp", "0.25 US tsp"),
        ("2 fl oz", "2 US fl oz", "2 US fl oz"),
        ("2 fl. oz.", "2 US fl oz", "2 US fl oz"),
        ("0,5 l", "0.5 l", "0.5 l"),
        ("0,125 l", "0.125 l", "0.125 l"),
        (".5 l", "0.5 l", "0.5 l"),
        ("1 to 1 1/2 fl oz", "1 US fl oz", "1.5 US fl oz"),
        ("1-2 tsp", "1 US tsp", "2 US tsp"),
        ("1 – 2 tsp", "1 US tsp", "2 US tsp"),
        ("½-1 tsp", "0.5 US tsp", "1 US tsp"),
        ("1/4-1/2 tsp", "0.25 US tsp", "0.5 US tsp"),
        ("between 1 and 2 g", "1 g", "2 g"),
        ("250 g to 1 kg", "250 g", "1 kg"),
        ("250g", "250 g", "250 g"),
        ("250 G", "250 g", "250 g"),
        ("2 ML.", "2 ml", "2 ml"),
        ("5 cm³", "5 ml", "5 ml"),
        ("12 pieces", "12 pieces", "12 pieces"),
        ("1 piece", "1 piece", "1 piece"),
        ("1 000 g", "1000 g", "1000 g"),
        ("1\u00a0000\u00a0g", "1000 g", "1000 g"),
        ("1\u202f000\u2009g", "1000 g", "1000 g"),
        ("1 000 000,5 g", "1000000.5 g", "1000000.5 g"),
        ("1,234.5 g", "1234.5 g", "1234.5 g"),
        ("1.234,5 g", "1234.5 g", "1234.5 g"),
        ("1,234,567 g", "1234567 g", "1234567 g"),
        ("2 level tsp", "2 US tsp", "2 US tsp"),
        ("1 lb 4 oz", "20 oz by weight", "20 oz by weight"),
        ("1 kg and 250 g", "1250 g", "1250 g"),
        ("3 drops", "3 drops", "3 drops"),
        ("2 US pints", "2 US pints", "2 US pints"),
        ("2 pints (US)", "2 US pints", "2 US pints"),
        ("2 imp. gal", "2 imperial gal", "2 imperial gal"),
        ("2 UK quarts", "2 imperial quarts", "2 imperial quarts"),
        ("2 u.s. gal", "2 US gal", "2 US gal"),
        ("2 us-pint", "2 US pints", "2 US pints"),
        ("1 metric tbsp", "1 metric tbsp", "1 metric tbsp"),
        ("2 oz by weight", "2 oz by weight", "2 oz by weight"),
        ("500 ml + 10 %", "550 ml", "550 ml"),
        ("0 g", "0 g", "0 g"),
    ],
)  # fmt: skip
def test_amounts_read(text: str, low: str, high: str) -> None:
    written = read_written(text)
    assert written.kind is WrittenKind.AMOUNT
    assert ends(written) == (low, high)
    assert written.text == text
    assert not written.about


@pytest.mark.parametrize(
    "text", ["about 2 tsp", "approx. 2 tsp", "ca. 2 tsp", "~2 tsp", "≈ 2 tsp", "About 2 Tsp"]
)
def test_about(text: str) -> None:
    written = read_written(text)
    assert written.about
    assert ends(written) == ("2 US tsp", "2 US tsp")


@pytest.mark.parametrize("text", ["to suit", "To suit.", "q.s.", "as needed"])
def test_to_suit(text: str) -> None:
    written = read_written(text)
    assert written.kind is WrittenKind.TO_SUIT
    assert written.low is None
    assert written.high is None


def test_parts_and_percent_are_shares_and_no_amounts() -> None:
    parts = read_written("3 parts")
    assert (parts.kind, parts.number_low, parts.low) == (WrittenKind.PARTS, Decimal(3), None)
    span = read_written("2 to 2 1/2 parts by volume")
    assert (span.number_low, span.number_high, span.by) == (Decimal(2), Decimal("2.5"), Basis.VOLUME)
    share = read_written("5-10%")
    assert (share.kind, share.number_low, share.number_high) == (WrittenKind.PERCENT, Decimal(5), Decimal(10))
    assert read_written("10 per cent w/w").by is Basis.MASS


def test_heads_times_an_amount_with_spare() -> None:
    written = read_written("20 heads x 60 ml + 10 %")
    assert written.kind is WrittenKind.HEADS
    assert (written.heads, str(written.each), written.spare_percent) == (20, "60 ml", Decimal(10))
    assert ends(written) == ("1320 ml", "1320 ml")
    assert ends(read_written("20 × 60 ml")) == ("1200 ml", "1200 ml")
    assert ends(read_written("20x60ml")) == ("1200 ml", "1200 ml")
    assert ends(read_written("60 ml x 20 students")) == ("1200 ml", "1200 ml")
    assert ends(read_written("20 heads x .5 l")) == ("10 l", "10 l")
    assert ends(read_written("30 people x 1 to 1 1/2 fl oz")) == ("30 US fl oz", "45 US fl oz")


@pytest.mark.parametrize("word", ["heaped", "heaping", "rounded", "scant"])
def test_a_heaped_spoon_is_about_and_says_so(word: str) -> None:
    written = read_written(f"2 {word} tsp")
    assert written.about
    assert [f.severity for f in written.findings if f.code == "heaped-spoon"] == [Severity.WARN]
    with pytest.raises(Invalid):
        read_written(f"2 {word} ml")


def readings(text: str, **known: object) -> list[str]:
    with pytest.raises(Ambiguous) as doubt:
        read_written(text, **known)  # type: ignore[arg-type]
    assert set(doubt.value.remember) == {reading.text for reading in doubt.value.readings}
    return [reading.text for reading in doubt.value.readings]


@pytest.mark.parametrize("form", [None, Form.LIQUID, Form.PASTE])
def test_a_bare_ounce_is_asked_unless_it_is_a_powder(form: Form | None) -> None:
    assert readings("2 oz", form=form) == ["2 oz by weight", "2 US fl oz", "2 imperial fl oz"]
    assert readings("2 oz", form=form, system=IMPERIAL) == ["2 oz by weight", "2 imperial fl oz"]
    assert ends(read_written("2 oz", form=Form.POWDER)) == ("2 oz by weight", "2 oz by weight")
    assert ends(read_written("2 oz", form=Form.SOLID)) == ("2 oz by weight", "2 oz by weight")


@pytest.mark.parametrize("unit", ["cup", "pint", "quart", "gal"])
def test_large_measures_without_a_system_are_asked(unit: str) -> None:
    with pytest.raises(Ambiguous) as doubt:
        read_written(f"2 {unit}")
    found = [read_written(reading.text).low for reading in doubt.value.readings]
    assert [quantity.unit.key for quantity in found if quantity] == [f"us-{unit}", f"imp-{unit}"]
    us, imperial = read_written(f"2 {unit}", system=US).low, read_written(f"2 {unit}", system=IMPERIAL).low
    assert found == [us, imperial]


@pytest.mark.parametrize("unit", ["tsp", "tbsp", "fl oz"])
def test_small_measures_without_a_system_are_us_and_say_so(unit: str) -> None:
    written = read_written(f"1 {unit}")
    assert written.low is not None
    assert written.low.unit.key.startswith("us-")
    assert [f.code for f in written.findings] == ["us-measure-taken"]
    assert read_written(f"1 {unit}", system=US).findings == ()


def test_an_imperial_spoon_is_the_metric_spoon_and_says_so() -> None:
    written = read_written("1 tsp", system=IMPERIAL)
    assert written.low == Quantity(Decimal(1), UNITS["metric-tsp"])
    assert [f.code for f in written.findings] == ["spoon-convention"]


def test_a_comma_or_point_before_three_figures_is_asked() -> None:
    assert readings("1,000 g") == ["1 g", "1000 g"]
    assert readings("1.000 g") == ["1 g", "1000 g"]
    assert readings("1,125 kg") == ["1.1250 kg", "1125 kg"]
    assert readings("1,000 to 2,000 g") == ["1 to 2 g", "1000 to 2000 g"]
    assert ends(read_written("1.125 kg", point_is_decimal=True)) == ("1.125 kg", "1.125 kg")
    assert readings("1,125 kg", point_is_decimal=True) == ["1.1250 kg", "1125 kg"]


def test_two_doubts_give_every_reading_once() -> None:
    assert readings("1,000 pints") == ["1 US pint", "1 imperial pint", "1000 US pints", "1000 imperial pints"]


def test_a_fraction_with_its_space_lost_is_asked() -> None:
    assert readings("11/2 g") == ["1.5 g", "5.5 g"]


def test_pts_may_be_parts_or_pints() -> None:
    assert readings("3 pts", system=US) == ["3 parts", "3 US pints"]


def test_what_was_chosen_before_is_not_asked_again() -> None:
    with pytest.raises(Ambiguous) as doubt:
        read_written("1,5 to 2 oz", form=Form.LIQUID)
    kept = doubt.value.remember["1.5 to 2 US fl oz"]
    assert kept == {"oz": "us-fl-oz"}
    assert ends(read_written("3 oz", form=Form.LIQUID, remembered=kept)) == ("3 US fl oz", "3 US fl oz")
    assert readings("3 oz", form=Form.LIQUID, system=IMPERIAL, remembered=kept)  # no reading of that system
    assert readings("3 oz", remembered={"oz": "nonsense"})
    assert ends(read_written("1,000 g", remembered={",": "thousands"})) == ("1000 g", "1000 g")


@pytest.mark.parametrize(
    "text",
    [
        "", "   ", "12", "g", "pint", "NaN", "nan g", "inf g", "Infinity", "1e999", "1e999 g", "1e3 g",
        "-5 g", "−5 g", "+5 g", "5\x00 g", "5 g\x00", "\ud800 g", "٣ g", "３ g", "五 g", "5² g", "1/0 g",
        "1/ g", "1/2/3 g", "1,2,3 g", "1,00,000 g", "1.2.3 g", "2 to 1 g", "1 to 2 to 3 g", "1 g to 2 ml",
        "to g", "1 - g", "- g", "20 heads", "x 60 ml", "20 heads x", "20 heads x 60", "1.5 heads x 60 ml",
        "0 heads x 60 ml", "20000 heads x 1 ml", "2 x 3 x 4 ml", "3 parts + 10 %", "20 heads x 3 parts",
        "1 tsp of umber", "1 t", "1 T", "2 gr", "1 pinch", "ca.5 l", "1 lb,4 oz", "1 oz 4 lb", "1 lb 4 ml",
        "2 ml by weight", "99999999999999 g", "1000001 kg", "5%%", "1 001/2 g", "½5 ml", "½½ g",
        "1 metric pint", "=1+1", "<b>5 g</b>", "5 g; drop table", "2000 %", "%", "+", "x", "to", "(",
        "1 g\u202e", "1 g\u200b", "between 1 g", "about", "about about",
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(Invalid) as refusal:
        read_written(text)
    assert not isinstance(refusal.value, Ambiguous)
    assert refusal.value.sentence.endswith(".")
    for word in ("invalid", "please", "oops", "good", "safe"):
        assert word not in refusal.value.sentence.lower()


def test_bare_figures_are_pieces_where_pieces_are_counted() -> None:
    assert str(read_written("12", form=Form.PIECES).low) == "12 pieces"


def test_a_text_of_a_hundred_thousand_signs_is_refused_at_once() -> None:
    for hostile in ("1 " * 50_000, "1/" * 50_000, "9" * 100_000, "(" * 100_000, "1,000 " * 17_000):
        start = time.perf_counter()
        with pytest.raises(Invalid, match="200"):
            read_written(hostile)
        assert time.perf_counter() - start < 0.05
    for hostile in ("1 " * 100, "1/" * 100, "9" * 200, "1 000" * 40, "1,000 oz " * 22, "½" * 200, "1-" * 100):
        start = time.perf_counter()
        with pytest.raises(Invalid):
            read_written(hostile)
        assert time.perf_counter() - start < 0.2


ALPHABET = "0123456789 .,/-–+x×%~½¼⅓()\u00a0\u202f" + "abcdefghijklmnopqrstuvwxyz"
WORDS = [
    "1", "2,5", "1,000", "1.000", "1/2", "½", "11/2", " ", "-", "to", "x", "+", "%", "about", "heads",
    "oz", "pint", "pts", "gal", "us", "imperial", "tsp", "heaped", "level", "parts", "by", "weight", "lb",
    "g", "ml", "between", "and", "to suit", "metric", "fl",
]  # fmt: skip
texts = st.one_of(
    st.text(max_size=60),
    st.text(ALPHABET, max_size=40),
    st.lists(st.sampled_from(WORDS), max_size=9).map(" ".join),
)
forms = st.sampled_from([None, *Form])
systems = st.sampled_from([None, *UnitSystem])


@settings(max_examples=600, deadline=None)
@given(text=texts, form=forms, system=systems)
def test_reading_raises_nothing_but_invalid_and_its_readings_are_plain(
    text: str, form: Form | None, system: UnitSystem | None
) -> None:
    try:
        written = read_written(text, form=form, system=system)
    except Ambiguous as doubt:
        assert doubt.readings
        for reading in doubt.readings:  # a reading is never itself in doubt
            read_written(reading.text, form=form, system=system)
        return
    except Invalid:
        return
    again = read_written(as_written(written), form=form, system=system)
    assert (again.kind, again.low, again.high) == (written.kind, written.low, written.high)
    assert (again.number_low, again.number_high, again.by) == (
        written.number_low,
        written.number_high,
        written.by,
    )
    if written.low and written.high:
        assert 0 <= written.low.smallest <= written.high.smallest


@given(
    amount=st.decimals(min_value=0, max_value=9999, places=4),
    key=st.sampled_from(list(UNITS)),
    form=forms,
    system=systems,
)
def test_every_quantity_reads_back(
    amount: Decimal, key: str, form: Form | None, system: UnitSystem | None
) -> None:
    quantity = Quantity(amount, UNITS[key])
    written = Written("", WrittenKind.AMOUNT, quantity, quantity, each=quantity, each_high=quantity)
    assert read_written(as_written(written), form=form, system=system).low == quantity


@settings(max_examples=300, deadline=None)
@given(text=texts)
def test_bare_figures_raise_nothing_but_invalid(text: str) -> None:
    try:
        low, high = read_figure(text)
    except Invalid:
        return
    assert 0 <= low <= high


def test_bare_figures() -> None:
    assert read_figure("4.9 to 9.8") == (Decimal("4.9"), Decimal("9.8"))
    for odd in ("-5", "5 g", "", "to 5", "5 to", "about 5"):
        with pytest.raises(Invalid):
            read_figure(odd)
