"""How much room what is in a container takes, and what it weighs, by the density that is known of it.

Doors: actions/clock_of_air.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from service.core.film_ranges import Span
from service.core.materials import Basis, Form
from service.core.quantities import CannotMeet, Densities, across, meeting_density

UL_IN_L: Final = 1_000_000
MG_IN_G: Final = 1000


@dataclass(frozen=True)
class MeasuredAs:
    """In what a material is counted, and what turns weight and volume into each other."""

    basis: Basis | None
    form: Form | None
    densities: Densities
    name: str = ""


def volume_ul(amount: int | None, measured: MeasuredAs) -> Span | None:
    """Microlitres, least and most; None where the amount or the density is not known.

    >>> from decimal import Decimal
    >>> paste = MeasuredAs(Basis.MASS, Form.PASTE, Densities(Decimal(2)))
    >>> volume_ul(1000, paste), volume_ul(None, paste)
    ((500.0, 500.0), None)
    """
    return _as(Basis.VOLUME, amount, measured)


def mass_mg(amount: int | None, measured: MeasuredAs) -> Span | None:
    """Milligrams, least and most; None where the amount or the density is not known."""
    return _as(Basis.MASS, amount, measured)


def why_no_volume(measured: MeasuredAs) -> str:
    """The sentence about the density that is missing; empty where weight and volume meet, or need not."""
    if measured.basis in (None, Basis.VOLUME):
        return ""
    try:
        meeting_density(
            measured.basis, Basis.VOLUME, measured.densities, form=measured.form, name=measured.name
        )
    except CannotMeet as wrong:
        return wrong.sentence
    return ""


def _as(basis: Basis, amount: int | None, measured: MeasuredAs) -> Span | None:
    if amount is None or measured.basis is None:
        return None
    if measured.basis is basis:
        return float(amount), float(amount)
    try:
        low, high, _ = meeting_density(
            measured.basis, basis, measured.densities, form=measured.form, name=measured.name
        )
    except CannotMeet:
        return None
    least, most = across(Fraction(amount), basis, low, high)
    return float(least), float(most)
