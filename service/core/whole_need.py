"""A need in whole smallest units, rounded so that what was written alike in a recipe and on a tin is equal.

Doors: core/recipe.py, actions/grow_recipe.py, actions/read_recipe.py, web/plan_amounts.py.

A tin of 1 US pint (473176.473 microlitres) is in the book as 473176; a need of one rounded up would want one
microlitre more than the tin holds, and a second tin would be bought for it.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import Final

from service.core.bench_writing import read_written
from service.core.findings import Invalid
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, show_amount
from service.core.recipe_amounts import most_to_suit
from service.core.units import UnitSystem

FINE: Final = 1000
"""From a gram or a millilitre on half a smallest unit is far below what any bench measures."""
_DUST: Final = Fraction(1, 10**9)
"""What two thirds kept as a decimal come to above two thirds; it is no further unit."""
METRIC: Final = frozenset({"mg", "g", "kg", "ml", "l", "piece"})
_SYSTEMS: Final = (None, UnitSystem.US, UnitSystem.IMPERIAL)


def whole_need(amount: Fraction) -> int:
    """An amount (smallest units, not below zero) as a whole number of them.

    What is whole stays. Below `FINE` it is rounded up; from there on to the nearest as `to_basis` rounds what
    is in a tin, so it is understated by half a unit at most.

    >>> whole_need(Fraction("473176.473")), whole_need(Fraction("3785411.784")), whole_need(Fraction("3.1"))
    (473176, 3785412, 4)
    """
    return round(amount) if amount >= FINE else ceil(amount - _DUST)


def left_out(amount: Fraction, unit: str) -> Fraction:
    """What `whole_need` leaves out of an amount, for a plan that adds up many days.

    Nothing of what the bench wrote in a US or imperial measure (``unit``: its key): a tin of that measure is
    in the book short of the same part of a unit.

    >>> left_out(Fraction("1500.4"), "mg"), left_out(Fraction("473176.473"), "us-pint")
    (Fraction(2, 5), Fraction(0, 1))
    """
    return max(amount - whole_need(amount), Fraction(0)) if not unit or unit in METRIC else Fraction(0)


def rounded_up(amount: Fraction) -> int:
    """The next whole number; a third kept as a decimal is no further unit.

    >>> rounded_up(Fraction("0.4")), rounded_up(Fraction(3) + Fraction(1, 10**12))
    (1, 3)
    """
    return ceil(amount - _DUST)


@lru_cache(maxsize=4096)
def exact_amount(written: str, whole: int, basis: Basis, form: Form | None = None) -> Fraction:
    """The exact amount of which ``whole`` smallest units were kept, by the words that were ``written``.

    Multiplied, a third of a pint is then three times a third, and what older recipes kept rounded up is no
    longer too much. ``whole`` itself where the words say nothing that is less than one unit away from it:
    with another shop's pint, or where they are not an amount at all.

    >>> exact_amount("1/3 US pint", 157_725, Basis.VOLUME) * 3 == Fraction("473176.473")
    True
    >>> exact_amount("a little", 5000, Basis.VOLUME)
    Fraction(5000, 1)
    """
    again = as_it_was_written(written, whole, basis, form)
    # Without what is lost where a third is kept as a decimal.
    return Fraction(whole) if again is None else again.smallest.limit_denominator(10**12)


@lru_cache(maxsize=4096)
def as_it_was_written(written: str, whole: int, basis: Basis, form: Form | None = None) -> Quantity | None:
    """The figure and unit of which ``whole`` smallest units were kept; None where the words tell no such.

    >>> str(as_it_was_written("1 pint", 473_176, Basis.VOLUME))
    '1 US pint'
    """
    text = most_to_suit(written) or written
    near = [end for system in _SYSTEMS for end in _ends(text, basis, form, system)]
    near = [end for end in near if abs(end.smallest - whole) < 1]
    return min(near, key=lambda end: abs(end.smallest - whole), default=None)


def show_pack(amount: int, basis: Basis, written: str) -> str:
    """A pack in the measure that is printed on it: in litres and kilograms as ever, else in its own unit.

    >>> show_pack(473_176, Basis.VOLUME, "1 pint"), show_pack(1_000_000, Basis.VOLUME, "1000 ml")
    ('1 US pint', '1 l')

    What was written by weight of what is counted by volume, or the other way, keeps its own words.

    >>> show_pack(641_026, Basis.VOLUME, "500 g")
    '500 g (641.026 ml)'
    """
    again = as_it_was_written(written, amount, basis)
    if again is None and (said := _in_another_way(written, basis)):
        return f"{said} ({show_amount(amount, basis)})"
    key = again.unit.key if again is not None else ""
    return show_amount(amount, basis, None if key in METRIC else key)


def _in_another_way(written: str, basis: Basis) -> str:
    """The words themselves where they are one amount of another basis, else nothing."""
    try:
        read = read_written(written)
    except Invalid:
        return ""
    whole = read.high is not None and read.low == read.high and read.high.basis is not basis
    return " ".join(written.split()) if whole else ""


def _ends(text: str, basis: Basis, form: Form | None, system: UnitSystem | None) -> list[Quantity]:
    try:
        read = read_written(text, form=form, system=system)
    except Invalid:
        return []
    return [end for end in (read.low, read.high) if end is not None and end.basis is basis]
