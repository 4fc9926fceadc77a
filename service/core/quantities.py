"""Amounts with their units, and how mass, volume and pieces meet: only through a density that is known.

Doors: core/bench_writing.py, core/conversion.py, actions/read_amount.py, web/api/calc_convert.py.

The units themselves are in core/units.py and can be had from here too.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, Invalid, unknown
from service.core.materials import Basis, Form
from service.core.units import EXACT, UNITS, Unit, UnitSystem, decimal_of, plain

__all__ = [
    "FINEST_PLACES", "LARGEST", "UNITS", "Amount", "CannotMeet", "Densities", "Quantity", "Unit",
    "UnitSystem", "across", "decimal_of", "from_basis", "meeting_density", "plain", "show_amount", "to_basis",
]  # fmt: skip

LARGEST: Final = 10**12
"""No amount may be above this many smallest units (a thousand tonnes, a million litres)."""
FINEST_PLACES: Final = 24
"""A written amount keeps at most this many decimals: enough for one third to stay one third in use."""


_SMALLEST_WORDS: Final = {Basis.MASS: "mg", Basis.VOLUME: "microlitre", Basis.PIECES: "piece"}
_NATURAL: Final = {Basis.MASS: ("kg", "g", "mg"), Basis.VOLUME: ("l", "ml"), Basis.PIECES: ("piece",)}
_US_MEASURES: Final = ("us-gal", "us-quart", "us-pint", "us-fl-oz")
_MEETING_POINT: Final = {Basis.MASS: "g", Basis.VOLUME: "ml", Basis.PIECES: "piece"}


@dataclass(frozen=True)
class Quantity:
    """An amount and its unit, kept together. At most 10^12 smallest units either way, at most 24 decimals.

    Raises Invalid for what is no amount (not a number, endless, out of bounds), TypeError for a float.
    Adding within one basis is exact; mass and volume are never added.

    >>> str(Quantity(Decimal("1.5"), UNITS["l"]) + Quantity(Decimal(250), UNITS["ml"]))
    '1750 ml'
    """

    amount: Decimal
    unit: Unit

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Decimal):
            raise TypeError("an amount is a Decimal")
        if not self.amount.is_finite():
            raise Invalid("That is not a number.")
        _, digits, exponent = self.amount.as_tuple()
        if self.amount == 0:
            object.__setattr__(self, "amount", Decimal(0))
            return
        # The exponent is looked at first: a Fraction of 1e999999 would fill the memory.
        if self.amount.adjusted() > 15 or len(digits) > 60:
            raise Invalid("That amount is too large to be kept in the book.")
        if int(exponent) < -FINEST_PLACES:
            raise Invalid("That amount is finer than the book keeps.")
        if abs(self.smallest) > LARGEST:
            raise Invalid("That amount is too large to be kept in the book.")

    @property
    def basis(self) -> Basis:
        return self.unit.basis

    @property
    def smallest(self) -> Fraction:
        """The exact amount in mg, microlitres or pieces.

        >>> Quantity(Decimal(2), UNITS["us-fl-oz"]).smallest == Fraction("59147.059125")
        True
        """
        return Fraction(self.amount) * Fraction(self.unit.factor)

    def in_unit(self, unit: Unit) -> Quantity:
        """The same amount in another unit of the same basis, rounded at 24 decimals if it does not end."""
        if unit.basis is not self.basis:
            raise Invalid(f"{self} cannot be written in {unit.plural} without a density.")
        return Quantity(decimal_of(self.smallest / Fraction(unit.factor), FINEST_PLACES), unit)

    def __add__(self, other: Quantity) -> Quantity:
        if other.basis is not self.basis:
            raise Invalid(f"{self} and {other} cannot be added without a density.")
        if other.unit == self.unit:
            return Quantity(EXACT.add(self.amount, other.amount), self.unit)
        unit = UNITS[_MEETING_POINT[self.basis]]
        return Quantity(decimal_of((self.smallest + other.smallest) / int(unit.factor), FINEST_PLACES), unit)

    def __neg__(self) -> Quantity:
        return Quantity(EXACT.minus(self.amount), self.unit)

    def __sub__(self, other: Quantity) -> Quantity:
        return self + -other

    def __mul__(self, times: Decimal | int) -> Quantity:
        factor = Quantity(Decimal(times), UNITS["piece"]).amount  # the same bounds as for an amount
        return Quantity(decimal_of(Fraction(self.amount) * Fraction(factor), FINEST_PLACES), self.unit)

    __rmul__ = __mul__

    def __str__(self) -> str:
        return f"{plain(self.amount)} {self.unit.singular if self.amount == 1 else self.unit.plural}"


@dataclass(frozen=True)
class Densities:
    """What is known of how heavy a material is, in g/ml, each with its source. None is not known.

    ``bulk_g_ml`` is loose powder as a level spoon holds it, lowest and highest; a true density counts the
    grains without the air between them and is never used for a powder measured by volume. Raises Invalid
    outside 0.0001 to 25 g/ml.

    >>> Densities(Decimal("0.93"), "supplier's sheet").density_g_ml
    Decimal('0.93')
    """

    density_g_ml: Decimal | None = None
    density_source: str = ""
    bulk_g_ml: tuple[Decimal, Decimal] | None = None
    bulk_source: str = ""

    def __post_init__(self) -> None:
        given = [d for d in (self.density_g_ml, *(self.bulk_g_ml or ())) if d is not None]
        for figure in given:
            bounded = figure.is_finite() and Decimal("0.0001") <= figure <= 25
            if not bounded or len(figure.as_tuple()[1]) > 30:
                raise Invalid("A density lies between 0.0001 and 25 g/ml.")
        if self.bulk_g_ml and self.bulk_g_ml[0] > self.bulk_g_ml[1]:
            raise Invalid("Write the lower loose density first.")


@dataclass(frozen=True)
class Amount:
    """What a written quantity comes to in whole smallest units of a basis, lowest and highest.

    ``exact`` is True only when nothing was rounded, no range came in and no rough measure was used.
    ``density_used`` is the one density used; a loose density with a range is in ``bulk_used`` instead.
    """

    basis: Basis
    low: int
    high: int
    exact: bool
    density_used: Decimal | None
    how: str
    bulk_used: tuple[Decimal, Decimal] | None = None

    @property
    def middle(self) -> int:
        """The whole number between low and high, for a ledger that books one figure."""
        return (self.low + self.high) // 2


class CannotMeet(Invalid):
    """Mass, volume and pieces do not meet: ``finding`` names the missing fact and what to do about it."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.sentence)
        self.finding = finding


_MENDS: Final = {
    "pieces-do-not-meet": "Pieces of {} have no known weight or volume. Count them; or count some, weigh "
    "those and write down the weight of one.",
    "form-not-known": "Whether {} is a liquid, a paste or a powder is not known, so weight and volume cannot "
    "meet. Say which it is, or weigh it.",
    "density-not-known": "The density of {} is not known. Weigh it; or fill a known volume, weigh that and "
    "write down grams per millilitre.",
    "bulk-density-not-known": "What a level spoonful of {} weighs is not known. Weigh it; or fill a known "
    "volume loosely (ten level spoons), weigh that and write it down.",
}
_TRUE_DENSITY: Final = " Its true density leaves out the air between the grains, so it is not used."


def _cannot(code: str, name: str, more: str = "") -> CannotMeet:
    return CannotMeet(unknown(code, _MENDS[code].format(name or "this material") + more, about=name))


def meeting_density(
    source: Basis, target: Basis, densities: Densities, *, form: Form | None, name: str
) -> tuple[Decimal, Decimal, str]:
    """The density (g/ml), lowest and highest, by which mass and volume of this material meet, and its words.

    Liquids and pastes meet by density, powders and loose solids by loose density only. Raises CannotMeet.

    >>> meeting_density(Basis.VOLUME, Basis.MASS, Densities(Decimal("0.93"), "sheet"),
    ...                 form=Form.LIQUID, name="linseed oil")[2]
    'density 0.93 g/ml (sheet)'
    """
    if Basis.PIECES in (source, target) or form is Form.PIECES:
        raise _cannot("pieces-do-not-meet", name)
    if form is None:
        raise _cannot("form-not-known", name)
    if form in (Form.LIQUID, Form.PASTE):
        if densities.density_g_ml is None:
            raise _cannot("density-not-known", name)
        d = densities.density_g_ml
        return d, d, f"density {plain(d)} g/ml" + _by(densities.density_source)
    if densities.bulk_g_ml is None:
        raise _cannot("bulk-density-not-known", name, _TRUE_DENSITY if densities.density_g_ml else "")
    low, high = densities.bulk_g_ml
    span = plain(low) if low == high else f"{plain(low)} to {plain(high)}"
    return low, high, f"loose density {span} g/ml" + _by(densities.bulk_source)


def _by(source: str) -> str:
    return f" ({source})" if source else ""


def to_basis(
    quantity: Quantity, basis: Basis, densities: Densities, *, form: Form | None, name: str
) -> Amount:
    """What the quantity comes to in whole mg, microlitres or pieces.

    One figure is rounded to the nearest whole; a range of loose densities gives the lowest rounded down
    and the highest rounded up. Raises CannotMeet (an Invalid) where a density or the form is missing, and
    Invalid for an amount so small that it would round to nothing.

    >>> to_basis(Quantity(Decimal(2), UNITS["us-tsp"]), Basis.MASS,
    ...          Densities(bulk_g_ml=(Decimal("0.6"), Decimal("0.7"))), form=Form.POWDER, name="umber").high
    6901
    """
    exact_low = exact_high = quantity.smallest
    used: Decimal | None = None
    bulk: tuple[Decimal, Decimal] | None = None
    how = f"{quantity} as written"
    if quantity.unit.convention:
        how += f"; {quantity.unit.convention}"
    if quantity.basis is not basis:
        low, high, words = meeting_density(quantity.basis, basis, densities, form=form, name=name)
        exact_low, exact_high = across(exact_low, basis, low, high)
        used, bulk = (low, None) if low == high else (None, (low, high))
        how += f", by {words}"
    if bulk is None:
        whole_low = whole_high = round(exact_low)
    else:
        whole_low, whole_high = exact_low.__floor__(), exact_high.__ceil__()
    if exact_high and not whole_low:
        raise Invalid(f"{quantity} is less than one {_SMALLEST_WORDS[basis]}, the least the book keeps.")
    if max(abs(whole_low), abs(whole_high)) > LARGEST:
        raise Invalid("That amount is too large to be kept in the book.")
    exact = whole_low == exact_low == exact_high == whole_high and not quantity.unit.rough
    if whole_low == whole_high and whole_low != exact_low:
        how += f", rounded to a whole {_SMALLEST_WORDS[basis]}"
    return Amount(basis, whole_low, whole_high, exact, used, how + ".", bulk)


def across(smallest: Fraction, target: Basis, low: Decimal, high: Decimal) -> tuple[Fraction, Fraction]:
    """Microlitres as mg or mg as microlitres, through a density in g/ml (the same as mg per microlitre).

    >>> across(Fraction(1000), Basis.MASS, Decimal("0.5"), Decimal("0.8"))
    (Fraction(500, 1), Fraction(800, 1))
    """
    d_low, d_high = Fraction(low), Fraction(high)
    if target is Basis.VOLUME:
        d_low, d_high = 1 / d_high, 1 / d_low
    pair = smallest * d_low, smallest * d_high
    return min(pair), max(pair)


def from_basis(
    smallest: int, basis: Basis, unit: Unit, densities: Densities, *, form: Form | None = None, name: str = ""
) -> tuple[Quantity, Quantity]:
    """Whole smallest units in the unit the bench used, lowest and highest (alike unless densities span).

    Rounded at nine decimals, so that turning it back gives the same whole number. Raises CannotMeet.

    >>> str(from_basis(946_353, Basis.VOLUME, UNITS["us-quart"], Densities())[0])
    '1.000000057 US quarts'
    """
    low = high = Fraction(smallest)
    if unit.basis is not basis:
        d_low, d_high, _ = meeting_density(basis, unit.basis, densities, form=form, name=name)
        low, high = across(low, unit.basis, d_low, d_high)
    factor = Fraction(unit.factor)
    return Quantity(decimal_of(low / factor, 9), unit), Quantity(decimal_of(high / factor, 9), unit)


def _natural_unit(size: int, basis: Basis) -> Unit:
    for key in _NATURAL[basis]:
        unit = UNITS[key]
        if size >= unit.factor and size * 1000 % int(unit.factor) == 0:
            return unit
    return UNITS[_NATURAL[basis][-1] if size else _MEETING_POINT[basis]]


def _in_us_measure(size: int, basis: Basis) -> tuple[Decimal, Unit] | None:
    """Eighths of a US measure that come to just so many microlitres and to no whole millilitre, or None.

    Five gallons are 18 927.059 ml and nothing else anybody would pour: they read as they were written.
    """
    if basis is not Basis.VOLUME or size % int(UNITS["ml"].factor) == 0:
        return None
    for key in _US_MEASURES:
        unit = UNITS[key]
        eighths = round(size * 8 / Fraction(unit.factor))
        if eighths >= 8 and round(Fraction(eighths, 8) * Fraction(unit.factor)) == size:
            return decimal_of(Fraction(eighths, 8), 3), unit
    return None


def show_estimate(smallest: int, basis: Basis) -> str:
    """An estimated amount with "about", to three figures: more would look measured.

    >>> show_estimate(17_061, Basis.MASS), show_estimate(1_254_000, Basis.VOLUME)
    ('about 17.1 g', 'about 1.25 l')
    """
    step = 10 ** max(0, len(str(abs(smallest))) - 3)
    return f"about {show_amount(round(Fraction(smallest, step)) * step, basis)}"


def show_amount(smallest: int | None, basis: Basis, unit_key: str | None = None) -> str:
    """The amount as a page says it. None is "not known", never nothing.

    Without a unit the largest of kg, g, mg or l, ml that needs at most three decimals is used, or the US
    measure of which it is a number of eighths, and the figure is exact. With ``unit_key`` it is shown in that
    unit to at least four figures; a unit of another basis cannot show it, so the usual unit is used.

    >>> show_amount(1_250_000, Basis.VOLUME), show_amount(-850_000, Basis.MASS), show_amount(None, Basis.MASS)
    ('1.25 l', '−850 g', 'not known')
    >>> show_amount(7_393, Basis.VOLUME, "us-tsp"), show_amount(18_927_059, Basis.VOLUME)
    ('1.5 US tsp', '5 US gal')
    """
    if smallest is None:
        return "not known"
    size = abs(smallest)
    unit = UNITS.get(unit_key or "")
    if unit is None or unit.basis is not basis:
        if (measured := _in_us_measure(size, basis)) is not None:
            value, unit = measured
        else:
            unit = _natural_unit(size, basis)
            value = decimal_of(Fraction(size) / Fraction(unit.factor), 12)
    else:
        exact = Fraction(size) / Fraction(unit.factor)
        places = 3
        while size and places < 12 and exact * 10**places < 1000:
            places += 1
        value = decimal_of(exact, places)
    sign = "−" if smallest < 0 else ""
    return f"{sign}{plain(value)} {unit.singular if value == 1 else unit.plural}"
