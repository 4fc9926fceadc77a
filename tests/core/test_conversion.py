"""Conversions: amounts through densities, rates, temperatures, vapours; what is asked and what is refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.bench_writing import Ambiguous
from service.core.conversion import Conversion, Converted, convert
from service.core.findings import Invalid
from service.core.materials import Form
from service.core.quantities import CannotMeet, UnitSystem

US, IMPERIAL = UnitSystem.US, UnitSystem.IMPERIAL


def ask(amount: str, to: str, **known: Any) -> Converted:
    return convert(Conversion(amount, to, **known))


@pytest.mark.parametrize(
    ("amount", "to", "known", "value", "unit", "exact"),
    [
        ("1 gal", "ml", {"system": US}, "3785.411784", "ml", True),
        ("1 gal", "l", {"system": IMPERIAL}, "4.54609", "l", True),
        ("1 gal", "qt", {"system": US}, "4", "US quarts", True),
        ("2 US cups", "us-pint", {}, "1", "US pints", True),
        ("1 US gal", "imperial gal", {}, "0.832674184628989", "imperial gal", False),
        ("1 kg", "lb", {}, "2.204622621848776", "lb", False),
        ("1.000 kg", "g", {}, "1000", "g", True),
        ("20 heads x 60 ml + 10 %", "l", {}, "1.32", "l", True),
        ("3 drops", "ml", {}, "0.15", "ml", False),
        ("about 2 l", "ml", {}, "2000", "ml", False),
        ("1 to 2 l", "ml", {}, "1000 to 2000", "ml", False),
        ("1 tsp", "ml", {"system": IMPERIAL}, "5", "ml", True),
        ("12 pieces", "pieces", {}, "12", "pieces", True),
        ("0.000001 mg", "us-gal", {"density_g_ml": Decimal(1)}, "0.000000000000264172052", "US gal", False),
        ("5 oz", "g", {"form": Form.POWDER}, "141.747615625", "g", True),
        ("1 qt", "g", {"system": US, "density_g_ml": Decimal("0.93")}, "880.10823978", "g", True),
        ("93 g", "ml", {"form": Form.PASTE, "density_g_ml": Decimal("0.93")}, "100", "ml", True),
        ("1 lb/gal", "g/l", {"system": US}, "119.826427316896629", "g/l", False),
        ("1 lb/US gal", "g/l", {}, "119.826427316896629", "g/l", False),
        ("50 g/l", "g/l", {}, "50", "g/l", True),
        ("75 °F", "°C", {}, "23.888888888888889", "°C", False),
        ("−40 °C", "F", {}, "-40", "°F", True),
        ("212 deg F", "C", {}, "100", "°C", True),
        ("-17.5 C", "°C", {}, "-17.5", "°C", True),
        ("1000 cfm", "m³/h", {}, "1699.01079552", "m³/h", True),
        ("1.69901079552 m3/h", "cfm", {}, "1", "cfm", True),
        ("200 to 400 ft²/US gal", "m²/l", {}, "4.908477349422231 to 9.816954698844463", "m²/l", False),
    ],
)  # fmt: skip
def test_converts(amount: str, to: str, known: dict[str, Any], value: str, unit: str, exact: bool) -> None:
    answer = ask(amount, to, **known)
    assert (answer.value, answer.unit, answer.exact) == (value, unit, exact)
    assert answer.how.endswith(".")


def test_a_powder_by_the_spoon_gives_a_range() -> None:
    loose = {
        "form": Form.POWDER,
        "bulk_g_ml": (Decimal("0.6"), Decimal("0.7")),
        "density_g_ml": Decimal("3.2"),
    }
    answer = ask("2 metric tsp", "g", **loose)
    assert (answer.value, answer.low, answer.high, answer.exact) == ("6 to 7", "6", "7", False)
    assert [used.value for used in answer.data_used] == [Decimal("0.6"), Decimal("0.7")]
    back = ask("6 to 7 g", "metric tsp", **loose)
    assert Decimal(back.low) < 2 < Decimal(back.high)
    with pytest.raises(CannotMeet):
        ask("2 metric tsp", "g", form=Form.POWDER, density_g_ml=Decimal("3.2"))


def test_without_a_form_the_kind_of_density_decides_and_it_is_said() -> None:
    assert [f.code for f in ask("1 l", "kg", density_g_ml=Decimal(1)).findings] == ["taken-as-liquid"]
    both = (Decimal(1), Decimal(1))
    assert [f.code for f in ask("1 l", "kg", bulk_g_ml=both).findings] == ["taken-as-powder"]
    with pytest.raises(CannotMeet):
        ask("1 l", "kg", density_g_ml=Decimal(3), bulk_g_ml=both)
    with pytest.raises(CannotMeet, match="density of a liquid or paste, or the loose density"):
        ask("1 l", "kg")
    with pytest.raises(CannotMeet, match="Pieces"):
        ask("1 piece", "kg")


def test_per_cent_by_volume_is_ten_thousand_ppm() -> None:
    assert ask("0.33 vol%", "ppm").value == "3300"  # 10 % of the LEL of ethanol: NIOSH Pocket Guide npgd0262
    assert ask("3300 ppm", "vol%").exact and ask("3300 ppm", "% by volume").value == "0.33"
    molar = {"molar_mass_g_mol": Decimal("92.14")}
    assert ask("0.01 vol%", "mg/m³", **molar).value == ask("100 ppm", "mg/m³", **molar).value
    assert ask("376.851 mg/m3", "vol%", **molar).value == "0.01"
    with pytest.raises(Invalid, match="molar mass"):
        ask("1 vol%", "mg/m³")


def test_degrees_api_and_specific_gravity_fall_as_the_other_rises() -> None:
    assert ask("10 °API", "SG").value == "1" and ask("1 SG", "°API").value == "10"  # the definition
    assert ask("49.9 API", "SG").value.startswith("0.78004")
    span = ask("40 to 50 °API", "SG")
    assert Decimal(span.low) < Decimal(span.high) and not span.exact
    for wrong in ("0 SG", "10 °API"):
        with pytest.raises(Invalid):
            ask(wrong, "°API" if wrong == "0 SG" else "g/l")


def test_vapour_meets_by_molar_mass_and_says_at_what_temperature() -> None:
    answer = ask("100 ppm", "mg/m³", molar_mass_g_mol=Decimal("92.14"))
    assert answer.value == "376.851"
    assert not answer.exact
    assert "24.45" in answer.how
    assert "25 °C" in answer.how
    assert ask("376.851 mg/m3", "ppm", molar_mass_g_mol=Decimal("92.14")).value == "100"
    assert ask("100 ppm", "ppm").exact
    with pytest.raises(Invalid, match="molar mass"):
        ask("100 ppm", "mg/m³")


@pytest.mark.parametrize(
    ("amount", "to", "known", "expected"),
    [
        ("1 lb/gal", "g/l", {}, ["1 lb/US gal", "1 lb/imperial gal"]),
        ("100 g/l", "lb/gal", {}, ["lb/US gal", "lb/imperial gal"]),
        ("5 pints", "l", {}, ["5 US pints", "5 imperial pints"]),
        ("1 l", "pint", {}, ["US pints", "imperial pints"]),
        ("1 l", "oz", {"form": Form.LIQUID, "system": US}, ["oz by weight", "US fl oz"]),
        ("1,000 ppm", "mg/m3", {"molar_mass_g_mol": Decimal(92)}, ["1 ppm", "1000 ppm"]),
        ("-1,000 °F", "°C", {}, ["-1 °F", "-1000 °F"]),
        ("1,000 ml", "l", {}, ["1 ml", "1000 ml"]),
    ],
)
def test_what_is_in_doubt_is_asked(amount: str, to: str, known: dict[str, Any], expected: list[str]) -> None:
    with pytest.raises(Ambiguous) as doubt:
        ask(amount, to, **known)
    assert [reading.text for reading in doubt.value.readings] == expected
    known = {"density_g_ml": Decimal(1), **known}
    for text in expected:  # each reading can be sent back in the place of what was in doubt
        if text == "-1000 °F":
            continue
        ask(text if text[0] in "-0123456789" else amount, to if text[0] in "-0123456789" else text, **known)


@pytest.mark.parametrize(
    ("amount", "to"),
    [
        ("24 °C", "ml"), ("5 ml", "°C"), ("5 ppm", "g/l"), ("-5 g/l", "lb/US gal"), ("g/l", "g/l"),
        ("°C", "°F"),
        ("-300 °C", "°F"), ("-500 °F", "°C"), ("-5 to 5 °C", "°F"), ("3 parts", "g"), ("10 %", "ml"),
        ("to suit", "g"), ("5 g", "parts"), ("5 g", "furlongs"), ("5 g", ""), ("", "g"), ("250 cc", "°C"),
        ("5 g", "\x00"), ("NaN °C", "°F"), ("1e999 °C", "°F"), ("٣ °C", "°F"), ("1e999 g/l", "g/l"),
        ("5", "g"),
        ("5 g", "ml" * 200), ("5 x 3 °C", "°F"),
    ],
)  # fmt: skip
def test_what_cannot_be_done_is_refused(amount: str, to: str) -> None:
    with pytest.raises(Invalid) as refusal:
        ask(amount, to)
    assert refusal.value.sentence.endswith((".", ")."))


@pytest.mark.parametrize("odd", ["0", "-1", "NaN", "Infinity", "1e9"])
def test_a_molar_mass_out_of_this_world_is_refused(odd: str) -> None:
    with pytest.raises(Invalid):
        ask("1 ppm", "mg/m3", molar_mass_g_mol=Decimal(odd))


UNIT_WORDS = [
    "mg",
    "g",
    "kg",
    "oz by weight",
    "lb",
    "ml",
    "l",
    "drops",
    "us-tsp",
    "us-gal",
    "imp-pint",
    "pieces",
]
RATE_WORDS = [
    "g/l",
    "lb/us gal",
    "lb/imp gal",
    "°C",
    "°F",
    "m²/l",
    "ft²/us gal",
    "m³/h",
    "cfm",
    "ppm",
    "mg/m³",
]
words = st.sampled_from(UNIT_WORDS + RATE_WORDS)
plain_figures = st.decimals(min_value="0.001", max_value=9999, places=3).filter(lambda d: d > 0)


@settings(max_examples=400)
@given(figure=plain_figures, start=words, to=words)
def test_there_and_back_again(figure: Decimal, start: str, to: str) -> None:
    known = {"density_g_ml": Decimal("0.93"), "molar_mass_g_mol": Decimal("92.14"), "form": Form.LIQUID}
    try:
        there = ask(f"{figure} {start}", to, **known)
    except Invalid:
        assert start != to
        return
    places = Decimal(there.value).quantize(Decimal("1e-12"))
    if places == 0 or (there.value.startswith("-") and "°" not in to):
        return
    back = ask(f"{places:f} {to}", start, **known)
    off = abs(Fraction(back.value) - Fraction(figure))
    assert off <= Fraction(1, 10**4) * (1 + Fraction(figure)) + Fraction(1, abs(Fraction(places)) * 10**6)
    if there.exact and back.exact and Fraction(there.value) == Fraction(places):
        assert off == 0


@settings(max_examples=400, deadline=None)
@given(
    amount=st.text(max_size=30), to=st.text(max_size=12), figure=st.sampled_from(["", "1 ", "1,000 ", "-1 "])
)
def test_hostile_text_raises_nothing_but_invalid(amount: str, to: str, figure: str) -> None:
    for asked in (
        (amount, to),
        (figure + amount, "g"),
        (figure + "°C", to),
        (figure + amount + "g/l", "g/l"),
    ):
        try:
            ask(*asked)
        except Invalid as refusal:
            assert refusal.sentence
