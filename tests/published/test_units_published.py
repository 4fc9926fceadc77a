"""Our units against published factors and against an independent units library.

Factors: NIST Special Publication 811, Appendix B.8 (seven figures), and NIST Handbook 44, Appendix C; both
written down from memory. Kitchen card: NIST Special Publication 430 (2004), "approximate" column, as read.
Coverage: USDA Wood Handbook, chapter on finishing, as read. Independent library: pint.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pint
import pytest

from service.core.conversion import Conversion, convert
from service.core.materials import Basis
from service.core.quantities import UNITS, UnitSystem

# NIST SP 811 B.8, from memory: litres or kilograms in one, to seven figures.
SP_811 = {
    "us-gal": "3.785412",
    "us-quart": "0.9463529",
    "us-pint": "0.4731765",
    "us-cup": "0.2365882",
    "us-fl-oz": "0.02957353",
    "us-tbsp": "0.01478676",
    "us-tsp": "0.004928922",
    "imp-gal": "4.54609",
    "imp-fl-oz": "0.02841306",
    "oz": "0.02834952",
    "lb": "0.4535924",
}
# NIST Handbook 44 Appendix C, from memory: exact definitions, in ml and g.
HB_44 = {
    "us-gal": "3785.411784",
    "us-quart": "946.352946",
    "us-pint": "473.176473",
    "us-cup": "236.5882365",
    "us-fl-oz": "29.5735295625",
    "us-tbsp": "14.78676478125",
    "us-tsp": "4.92892159375",
    "oz": "28.349523125",
    "lb": "453.59237",
}
# NIST SP 430 kitchen card: rounded millilitres.
SP_430 = {"us-tsp": 5, "us-tbsp": 15, "us-fl-oz": 30, "us-cup": 240, "us-pint": 470, "us-quart": 950}

PINT_NAMES = {
    "mg": "milligram", "g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound", "ml": "milliliter",
    "l": "liter", "us-tsp": "teaspoon", "us-tbsp": "tablespoon", "us-fl-oz": "fluid_ounce", "us-cup": "cup",
    "us-pint": "pint", "us-quart": "quart", "us-gal": "gallon", "imp-fl-oz": "imperial_fluid_ounce",
    "imp-cup": "imperial_cup", "imp-pint": "imperial_pint", "imp-quart": "imperial_quart",
    "imp-gal": "imperial_gallon",
}  # fmt: skip
# Not in the library, being conventions: 20 drops to the millilitre, spoons of 5 and 15 ml (common practice,
# no source); a piece is a piece.
CONVENTIONS = {"drop": Fraction(50), "metric-tsp": Fraction(5000), "metric-tbsp": Fraction(15000)}


@pytest.fixture(scope="module")
def library() -> Any:
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize("key", SP_811)
def test_sp_811_to_all_its_figures(key: str) -> None:
    published = Decimal(SP_811[key])
    exponent = published.as_tuple().exponent
    assert isinstance(exponent, int)
    ours = UNITS[key].factor / 1_000_000
    assert abs(ours - published) <= Decimal(5).scaleb(exponent - 1)


@pytest.mark.parametrize("key", HB_44)
def test_handbook_44_exactly(key: str) -> None:
    assert UNITS[key].factor == Decimal(HB_44[key]) * 1000


@pytest.mark.parametrize("key", SP_430)
def test_the_kitchen_card_within_its_rounding(key: str) -> None:
    assert abs(UNITS[key].factor / 1000 / SP_430[key] - 1) < Decimal("0.015")


def test_every_unit_is_checked_somewhere() -> None:
    assert set(PINT_NAMES) | set(CONVENTIONS) | {"piece"} == set(UNITS)
    assert UNITS["piece"].factor == 1
    assert {key: Fraction(UNITS[key].factor) for key in CONVENTIONS} == CONVENTIONS


@pytest.mark.parametrize("key", PINT_NAMES)
def test_the_library_agrees_exactly(key: str, library: Any) -> None:
    base = "milligram" if UNITS[key].basis is Basis.MASS else "microliter"
    theirs = library.Quantity(Fraction(1), PINT_NAMES[key]).to(base).magnitude
    assert Fraction(theirs) == Fraction(UNITS[key].factor)


@pytest.mark.parametrize(
    ("amount", "to", "theirs"),
    [
        ("1 lb/US gal", "g/l", "pound/gallon -> gram/liter"),
        ("1 lb/imperial gal", "g/l", "pound/imperial_gallon -> gram/liter"),
        ("1 g/l", "lb/US gal", "gram/liter -> pound/gallon"),
        ("1 ft²/US gal", "m²/l", "foot**2/gallon -> meter**2/liter"),
        ("1 ft²/imperial gal", "m²/l", "foot**2/imperial_gallon -> meter**2/liter"),
        ("1 m²/l", "ft²/US gal", "meter**2/liter -> foot**2/gallon"),
        ("1 cfm", "m³/h", "foot**3/minute -> meter**3/hour"),
        ("1 m³/h", "cfm", "meter**3/hour -> foot**3/minute"),
        ("75 °F", "°C", "75 degF -> degC"),
        ("-40 °C", "°F", "-40 degC -> degF"),
    ],
)
def test_the_library_agrees_on_rates(amount: str, to: str, theirs: str, library: Any) -> None:
    start, end = theirs.split(" -> ")
    figure, _, unit = start.rpartition(" ")
    value = library.Quantity(Fraction(figure or 1), unit).to(end).magnitude
    assert abs(Fraction(convert(Conversion(amount, to)).value) - Fraction(value)) < Fraction(1, 10**12)


@pytest.mark.parametrize(
    ("amount", "to", "published"),
    [
        # NIST SP 811 B.8, from memory.
        ("1 lb/US gal", "g/l", "119.8264"),
        ("1 lb/imperial gal", "g/l", "99.77637"),
        # ft³/min is 4.719474E-04 m³/s there, 3600 times that an hour.
        ("1 cfm", "m³/h", "1.699011"),
    ],
)
def test_published_rates(amount: str, to: str, published: str) -> None:
    ours = Decimal(convert(Conversion(amount, to)).value)
    exponent = Decimal(published).as_tuple().exponent
    assert isinstance(exponent, int)
    assert abs(ours - Decimal(published)) <= Decimal(5).scaleb(exponent - 1)


def test_wood_handbook_coverage_of_smooth_wood() -> None:
    """200 to 400 ft²/gal is printed beside 4.9 to 9.8 m²/l."""
    answer = convert(Conversion("200 to 400 ft²/gal", "m²/l", system=UnitSystem.US))
    assert (round(Decimal(answer.low), 1), round(Decimal(answer.high), 1)) == (Decimal("4.9"), Decimal("9.8"))


@pytest.mark.parametrize(
    # Pairs of whole degrees as trade leaflets print them side by side.
    ("fahrenheit", "celsius"),
    [(75, 24), (110, 43), (140, 60), (225, 107), (400, 204), (32, 0), (212, 100)],
)
def test_temperatures_as_printed_side_by_side(fahrenheit: int, celsius: int) -> None:
    assert round(Decimal(convert(Conversion(f"{fahrenheit} °F", "°C")).value)) == celsius


def test_toluene_ppm_as_hygiene_handbooks_print_it() -> None:
    """Toluene, 92.14 g/mol: 200 ppm is about 753 mg/m³ (occupational exposure tables, from memory)."""
    answer = convert(Conversion("200 ppm", "mg/m³", molar_mass_g_mol=Decimal("92.14")))
    assert abs(Decimal(answer.value) - 753) < 2
