"""How much a planned job makes in all, by what each gets as it was written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Final

from service.core.bench_numbers import unmistakable
from service.core.findings import Invalid
from service.core.materials import Basis
from service.core.quantities import FINEST_PLACES, UNITS, Quantity, decimal_of, plain
from service.core.recipe_amounts import HowMuch, read_how_much
from service.core.whole_need import exact_amount
from service.records.plans import PlannedJobRow

_UNIT: Final = {Basis.MASS: "g", Basis.VOLUME: "ml", Basis.PIECES: "piece"}
KEPT_PLACES: Final = 12
"""Decimals of "so many times" as they are kept."""
_PLACES: Final = 12
"""Decimals of an amount in the text of a check: what they leave out rounds no need to another unit."""
_TIMES_PLACES: Final = 9
_LONG: Final = re.compile(r"([0-9]{1,5}\.[0-9]{13,24}) times?", re.ASCII)
_SHOWN: Final = 4
"""Signs of a number of times that a person reads."""


@dataclass(frozen=True)
class Each:
    """What each person gets: an amount in smallest units, or so many times the recipe."""

    written: str
    amount: int | None = None
    basis: Basis | None = None
    times: Decimal | None = None


def wanted_of(row: PlannedJobRow) -> HowMuch:
    """How much is to be made in all, by what each gets as it was written.

    Raises Invalid where that is more than the book can keep.

    >>> from service.records.plans import PlannedJobRow
    >>> job = PlannedJobRow(heads=20, each_amount=60_000, each_basis=Basis.VOLUME, spare_percent=10)
    >>> str(wanted_of(job).wanted)
    '1320 ml'
    """
    each = Each(row.each_written, row.each_amount, row.each_basis, row.each_times)
    return in_all(row.heads, each, row.spare_percent)


def in_all(heads: int, each: Each, spare_percent: int) -> HowMuch:
    """So much for each of so many people, and the spare. Raises Invalid as `wanted_of`."""
    factor = heads * (1 + Fraction(spare_percent, 100))
    spare = f" + {spare_percent} %" if spare_percent else ""
    written = f"{heads} heads x {each.written}{spare}"
    if each.times is not None:
        return HowMuch(written, times=exact_times(each.written, each.times) * factor)
    assert each.amount is not None and each.basis is not None
    unit = UNITS[_UNIT[each.basis]]
    smallest = exact_amount(each.written, each.amount, each.basis) * factor
    exact = decimal_of(smallest / Fraction(unit.factor), FINEST_PLACES)
    return HowMuch(written, wanted=Quantity(exact, unit))


@lru_cache(maxsize=4096)
def exact_times(written: str, kept: Decimal) -> Fraction:
    """The exact number of times of which ``kept`` was kept, by the words that were written: three times a
    third is one.

    >>> exact_times("1/3 times", Decimal("0.333333333333")), exact_times("often", Decimal("0.5"))
    (Fraction(1, 3), Fraction(1, 2))
    """
    try:
        again = read_how_much(written).times
    except Invalid:
        # Fractions were once kept as decimals longer than any that is read.
        long = _LONG.fullmatch(written)
        again = Fraction(long[1]) if long else None
    if again is None or decimal_of(again, KEPT_PLACES) != kept:
        return Fraction(kept)
    simple = again.limit_denominator(999)
    return simple if abs(simple - again) < Fraction(1, 10**15) else again


def amount_of(planned: PlannedJobRow) -> str:
    """What is planned, as the bench writes it for a check. Raises Invalid as `wanted_of`.

    >>> amount_of(PlannedJobRow(heads=20, each_amount=60_000, each_basis=Basis.VOLUME, spare_percent=10))
    '1320 ml'
    >>> amount_of(PlannedJobRow(heads=3, each_written="0.375 times", each_times=Decimal("0.375")))
    '1.1250 times'
    """
    how = wanted_of(planned)
    if how.times is None:
        assert how.wanted is not None
        exact, unit = decimal_of(Fraction(how.wanted.amount), _PLACES), how.wanted.unit
        return f"{unmistakable(exact)} {unit.singular if exact == 1 else unit.plural}"
    return _so_many(how.times)


def amount_or_why(planned: PlannedJobRow) -> tuple[str | None, str]:
    """What is planned, or None and why it is not known: for who only reads."""
    try:
        return amount_of(planned), ""
    except Invalid as wrong:
        return None, wrong.sentence


def each_written(row: PlannedJobRow) -> str:
    """What each gets, so that it reads back to the same thing; a third is written as one.

    >>> each_written(PlannedJobRow(each_written="0.333333333333333333333333 times",
    ...                            each_times=Decimal("0.333333333333")))
    '1/3 times'
    """
    if row.each_times is None:
        return row.each_written
    exact = exact_times(row.each_written, row.each_times)
    return _so_many(exact) if _is_fraction(exact) else row.each_written


def times_words(times: Fraction) -> str:
    """A number of times as a person reads it, in no more than four signs.

    >>> times_words(Fraction(11, 3)), times_words(Fraction("0.123456")), times_words(Fraction(1))
    ('3 2/3 times', 'about 0.1235 times', '1 time')
    """
    if _is_fraction(times):
        return _so_many(times)
    exact = decimal_of(times, FINEST_PLACES)
    signs = len(plain(exact).replace(".", "").strip("0"))
    if signs <= _SHOWN:
        return f"{plain(exact)} {'time' if exact == 1 else 'times'}"
    short = decimal_of(times, max(0, _SHOWN - 1 - exact.adjusted()))
    return f"about {plain(short)} times"


def _is_fraction(times: Fraction) -> bool:
    return "/" in unmistakable(decimal_of(times, FINEST_PLACES))


def _so_many(times: Fraction) -> str:
    places = FINEST_PLACES if _is_fraction(times) else _TIMES_PLACES
    exact = decimal_of(times, places)
    return f"{unmistakable(exact)} {'time' if exact == 1 else 'times'}"
