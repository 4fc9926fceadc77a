"""Amounts with their units: arithmetic, bounds, meeting through a density, and what a page shows."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid, Severity
from service.core.materials import Basis, Form
from service.core.quantities import (
    LARGEST,
    UNITS,
    CannotMeet,
    Densities,
    Quantity,
    Unit,
    decimal_of,
    from_basis,
    plain,
    show_amount,
    to_basis,
)

OIL = Densities(Decimal("0.93"), "sheet")
UMBER = Densities(Decimal("3.2"), "handbook", (Decimal("0.6"), Decimal("0.7")), "own spoons")

units = st.sampled_from(list(UNITS.values()))
amounts = st.decimals(min_value=0, max_value=1000, places=6, allow_nan=False, allow_infinity=False)


def q(amount: str, key: str) -> Quantity:
    return Quantity(Decimal(amount), UNITS[key])


def test_the_list_is_closed_and_cannot_be_changed() -> None:
    assert set(UNITS) == {
        "mg", "g", "kg", "oz", "lb", "ml", "l", "drop", "us-tsp", "us-tbsp", "us-fl-oz", "us-cup", "us-pint",
        "us-quart", "us-gal", "metric-tsp", "metric-tbsp", "imp-fl-oz", "imp-cup", "imp-pint", "imp-quart",
        "imp-gal", "piece",
    }  # fmt: skip
    with pytest.raises(TypeError):
        UNITS["stone"] = UNITS["lb"]  # type: ignore[index]


@pytest.mark.parametrize(
    "odd",
    [
        "NaN",
        "sNaN",
        "Infinity",
        "-Infinity",
        "1e999999",
        "1e999999999999",
        "-1e999",
        "1e-999999",
        "1e16",
        "0." + "3" * 25,
    ],
)
def test_nonsense_is_no_quantity(odd: str) -> None:
    with pytest.raises(Invalid):
        q(odd, "g")


def test_the_largest_amount_is_a_million_million_smallest_units() -> None:
    assert q("1000000", "kg").smallest == LARGEST
    with pytest.raises(Invalid):
        q("1000000.000001", "kg")


def test_a_float_is_refused() -> None:
    with pytest.raises(TypeError):
        Quantity(0.1, UNITS["g"])  # type: ignore[arg-type]


def test_negative_zero_is_zero() -> None:
    assert str(q("-0.00", "g")) == "0 g"


def test_mass_and_volume_are_never_added() -> None:
    with pytest.raises(Invalid):
        q("1", "g") + q("1", "ml")
    with pytest.raises(Invalid):
        q("1", "g") - q("1", "piece")


def test_arithmetic_keeps_the_unit() -> None:
    assert q("1.5", "us-tsp") + q("0.5", "us-tsp") == q("2", "us-tsp")
    assert q("60", "ml") * 20 == q("1200", "ml") == 20 * q("60", "ml")
    assert q("1", "lb") - q("8", "oz") == q("226.796185", "g")
    with pytest.raises(Invalid):
        q("1", "g") * Decimal("Infinity")


@given(a=amounts, b=amounts, u=units, v=units)
def test_adding_is_exact(a: Decimal, b: Decimal, u: Unit, v: Unit) -> None:
    if u.basis is v.basis:
        one, two = Quantity(a, u), Quantity(b, v)
        assert (one + two).smallest == one.smallest + two.smallest
        assert (one + two - two).smallest == one.smallest


@given(a=amounts, b=amounts, u=units)
def test_whole_units_of_a_sum_differ_by_one_at_most(a: Decimal, b: Decimal, u: Unit) -> None:
    def whole(amount: Decimal) -> int:
        return round(Quantity(amount, u).smallest)

    assert abs(whole(a + b) - whole(a) - whole(b)) <= 1


@given(smallest=st.integers(min_value=0, max_value=10**11), unit=units)
def test_there_and_back_is_the_same_whole_number(smallest: int, unit: Unit) -> None:
    low, high = from_basis(smallest, unit.basis, unit, Densities())
    assert low == high
    if smallest:
        assert to_basis(low, unit.basis, Densities(), form=None, name="").low == smallest


@given(
    amount=st.decimals(min_value="0.01", max_value=1000, places=3),
    unit=units,
    target=st.sampled_from(Basis),
    form=st.sampled_from([None, *Form]),
    densities=st.sampled_from([Densities(), OIL, UMBER]),
)
def test_meeting_gives_low_to_high_or_names_what_is_missing(
    amount: Decimal, unit: Unit, target: Basis, form: Form | None, densities: Densities
) -> None:
    try:
        met = to_basis(Quantity(amount, unit), target, densities, form=form, name="umber")
    except CannotMeet as missing:
        assert missing.finding.severity is Severity.UNKNOWN
        assert missing.finding.about == "umber"
        assert unit.basis is not target
    except Invalid:
        # Pieces never come in halves; of anything else only a trace rounds to nothing.
        assert unit.basis is Basis.PIECES or Quantity(amount, unit).smallest < 4
    else:
        assert 0 < met.low <= met.high
        assert met.exact <= (met.low == met.high)


def test_a_liquid_meets_through_its_density() -> None:
    met = to_basis(q("100", "ml"), Basis.MASS, OIL, form=Form.LIQUID, name="oil")
    assert (met.low, met.high, met.density_used, met.exact) == (93_000, 93_000, Decimal("0.93"), True)
    back = to_basis(q("93", "g"), Basis.VOLUME, OIL, form=Form.PASTE, name="oil")
    assert back.low == 100_000
    assert "0.93 g/ml (sheet)" in back.how


def test_a_spooned_powder_uses_its_loose_density_and_never_its_true_one() -> None:
    met = to_basis(q("10", "metric-tsp"), Basis.MASS, UMBER, form=Form.POWDER, name="umber")
    assert (met.low, met.high) == (30_000, 35_000)
    assert met.density_used is None
    assert met.bulk_used == (Decimal("0.6"), Decimal("0.7"))
    assert not met.exact
    assert met.middle == 32_500
    back = to_basis(q("42", "g"), Basis.VOLUME, UMBER, form=Form.POWDER, name="umber")
    assert (back.low, back.high) == (60_000, 70_000)


@pytest.mark.parametrize("form", [Form.POWDER, Form.SOLID])
def test_without_a_loose_density_a_powder_does_not_meet(form: Form) -> None:
    with pytest.raises(CannotMeet) as missing:
        to_basis(q("1", "us-tsp"), Basis.MASS, Densities(Decimal("3.2"), "h"), form=form, name="raw umber")
    assert missing.value.finding.code == "bulk-density-not-known"
    assert "raw umber" in missing.value.sentence
    assert "Weigh it" in missing.value.sentence
    assert "true density" in missing.value.sentence


@pytest.mark.parametrize(
    ("quantity", "basis", "form", "code"),
    [
        (q("1", "ml"), Basis.MASS, Form.LIQUID, "density-not-known"),
        (q("1", "g"), Basis.VOLUME, Form.PASTE, "density-not-known"),
        (q("1", "ml"), Basis.MASS, None, "form-not-known"),
        (q("1", "piece"), Basis.MASS, Form.PIECES, "pieces-do-not-meet"),
        (q("1", "g"), Basis.PIECES, Form.POWDER, "pieces-do-not-meet"),
    ],
)
def test_what_is_missing_is_named(quantity: Quantity, basis: Basis, form: Form | None, code: str) -> None:
    with pytest.raises(CannotMeet) as missing:
        to_basis(quantity, basis, Densities(), form=form, name="")
    assert missing.value.finding.code == code
    assert missing.value.sentence == missing.value.finding.sentence


def test_rounding_to_a_whole_unit_is_said() -> None:
    met = to_basis(q("1", "us-tsp"), Basis.VOLUME, Densities(), form=None, name="")
    assert (met.low, met.exact) == (4929, False)
    assert "rounded" in met.how
    assert to_basis(q("20", "drop"), Basis.VOLUME, Densities(), form=None, name="").exact is False


def test_an_amount_that_rounds_to_nothing_is_refused() -> None:
    with pytest.raises(Invalid):
        to_basis(q("0.4", "mg"), Basis.MASS, Densities(), form=None, name="")
    assert to_basis(q("0", "mg"), Basis.MASS, Densities(), form=None, name="").low == 0


@pytest.mark.parametrize("odd", ["0", "-1", "NaN", "Infinity", "26", "1e-9", "1e400"])
def test_densities_out_of_this_world_are_refused(odd: str) -> None:
    with pytest.raises(Invalid):
        Densities(Decimal(odd))
    with pytest.raises(Invalid):
        Densities(bulk_g_ml=(Decimal("0.5"), Decimal(odd)))


def test_loose_densities_come_lowest_first() -> None:
    with pytest.raises(Invalid):
        Densities(bulk_g_ml=(Decimal(2), Decimal(1)))


@pytest.mark.parametrize(
    ("smallest", "basis", "key", "shown"),
    [
        (None, Basis.MASS, None, "not known"),
        (None, Basis.VOLUME, "us-tsp", "not known"),
        (0, Basis.MASS, None, "0 g"),
        (0, Basis.VOLUME, None, "0 ml"),
        (0, Basis.PIECES, None, "0 pieces"),
        (1_250_000, Basis.VOLUME, None, "1.25 l"),
        (1_234_567, Basis.VOLUME, None, "1234.567 ml"),
        (850_000, Basis.MASS, None, "850 g"),
        (-850_000, Basis.MASS, None, "−850 g"),
        (7, Basis.MASS, None, "7 mg"),
        (500, Basis.VOLUME, None, "0.5 ml"),
        (1, Basis.PIECES, None, "1 piece"),
        (12, Basis.PIECES, None, "12 pieces"),
        (10**12, Basis.MASS, None, "1000000 kg"),
        (7_393, Basis.VOLUME, "us-tsp", "1.5 US tsp"),
        (473_176, Basis.VOLUME, "us-pint", "1 US pint"),
        (18_927_059, Basis.VOLUME, None, "5 US gal"),
        (-709_765, Basis.VOLUME, None, "−1.5 US pints"),
        (14_787, Basis.VOLUME, None, "14.787 ml"),
        (473_177, Basis.VOLUME, None, "473.177 ml"),
        (946_353, Basis.VOLUME, "us-pint", "2 US pints"),
        (1, Basis.VOLUME, "us-gal", "0.0000002642 US gal"),
        (-5_000, Basis.VOLUME, "metric-tsp", "−1 metric tsp"),
        (850_000, Basis.MASS, "us-tsp", "850 g"),
        (850_000, Basis.MASS, "no such unit", "850 g"),
    ],
)
def test_shown_to_people(smallest: int | None, basis: Basis, key: str | None, shown: str) -> None:
    assert show_amount(smallest, basis, key) == shown


@given(smallest=st.integers(min_value=-(10**12), max_value=10**12), basis=st.sampled_from(Basis))
def test_the_usual_unit_shows_the_exact_amount(smallest: int, basis: Basis) -> None:
    figure, name = show_amount(smallest, basis).split(" ", 1)
    unit = next(u for u in UNITS.values() if name in (u.singular, u.plural))
    found = Fraction(figure.replace("−", "-")) * Fraction(unit.factor)
    # A US measure comes to whole microlitres only when rounded, as it was when it was written.
    assert found == smallest or (unit.key.startswith("us-") and round(found) == smallest)


@given(value=st.fractions(min_value=-(10**6), max_value=10**6), places=st.integers(0, 20))
def test_rounding_stays_within_half_a_place(value: Fraction, places: int) -> None:
    rounded = decimal_of(value, places)
    assert abs(Fraction(rounded) - value) <= Fraction(1, 2 * 10**places)
    assert "E" not in plain(rounded)


def test_a_shortage_of_powder_in_spoons_has_two_ends() -> None:
    low, high = from_basis(42_000, Basis.MASS, UNITS["metric-tsp"], UMBER, form=Form.POWDER, name="umber")
    assert (str(low), str(high)) == ("12 metric tsp", "14 metric tsp")
