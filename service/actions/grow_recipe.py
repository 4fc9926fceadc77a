"""The lines of a recipe grown to an amount, each in the basis its material is counted in."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import floor

from service.actions.read_amount import basis_for, densities_of
from service.core.findings import Finding, Invalid
from service.core.materials import Basis, Form
from service.core.quantities import (
    LARGEST,
    UNITS,
    CannotMeet,
    Quantity,
    across,
    meeting_density,
    show_amount,
)
from service.core.recipe import Recipe as RecipeFacts
from service.core.recipe import RecipeLine, times_for
from service.core.recipe_amounts import HowMuch, shares_of_parts, shares_of_percent
from service.core.whole_need import exact_amount, left_out, whole_need
from service.records.materials import Material
from service.records.mixing import RecipeLineRow, RecipeVersion

Line = tuple[RecipeLineRow, Material]


def grow(
    rows: Sequence[Line], version: RecipeVersion, how_much: HowMuch, *, planned_in: str = ""
) -> tuple[tuple[RecipeLine, ...], Fraction | None, list[Finding]]:
    """The recipe's lines grown to the amount asked for, each in its material's own basis.

    ``planned_in``: the unit in which the amount is written; by it is judged what rounding leaves out of
    lines in parts.

    Returns the lines, how many times the recipe that is (None for parts alone), and the missing densities;
    a line that cannot meet its material's basis has an amount that is not known.

    Raises:
        Invalid: field `amount`: the recipe does not say what it makes, or measures it otherwise.
    """
    shares = shares_in(rows)
    times = _times(rows, version, how_much, bool(shares))
    total = _total(version, how_much) if shares else None
    found: list[Finding] = []
    lines = []
    for row, material in rows:
        basis, low, high = absolute(row, material.form, version, times, total, shares.get(row.position))
        grown, why = _grown(row, basis, low, high), ""
        unit = row.unit_key if row.unit_key in UNITS else ""
        if basis is not None and not material.not_stocked:
            try:
                basis, low, high = _to_shelf(material, basis, low, high)
            except CannotMeet as lack:
                found.append(lack.finding)
                why = lack.finding.sentence
                basis, low, high = None, None, None
        lines.append(
            RecipeLine(
                material_id=row.material_id,
                name=material.name,
                low=None if low is None else floor(low),
                high=None if high is None else whole_need(high),
                basis=basis,
                written=row.written,
                unit_written=unit,
                about=row.about,
                stocked=not material.not_stocked,
                to_suit=row.to_suit,
                why=why,
                grown=grown,
                over=Fraction(0) if high is None else left_out(high, unit or planned_in),
            )
        )
    if any(line.high is not None and line.high > LARGEST for line in lines):
        words = "That is more than the book can hold. Make less at a time."
        raise Invalid(words, {"amount": words})
    return tuple(lines), times, list(dict.fromkeys(found))


def _grown(row: RecipeLineRow, basis: Basis | None, low: Fraction | None, high: Fraction | None) -> str:
    """The line in words for the amount that is made, in the unit the bench wrote."""
    if high is None or basis is None:
        return row.written
    unit = row.unit_key if row.unit_key in UNITS else None
    most = show_amount(whole_need(high), basis, unit)
    if row.to_suit:
        return f"to suit, at most {most}"
    least = most if low is None else show_amount(floor(low), basis, unit)
    return f"{'about ' if row.about else ''}{most if least == most else f'{least} to {most}'}"


def shares_in(rows: Sequence[Line]) -> dict[int, tuple[Fraction, Fraction]]:
    """The lowest and highest share of the whole of each line in parts or per cent, by position."""
    shared = [row for row, _ in rows if row.share_low is not None and row.share_high is not None]
    pairs = [(row.share_low or Decimal(0), row.share_high or Decimal(0)) for row in shared]
    if not pairs:
        return {}
    percent = any(row.unit_key == "percent" for row in shared)
    worked = (shares_of_percent if percent else shares_of_parts)(pairs)
    return {row.position: share for row, share in zip(shared, worked, strict=True)}


def _times(
    rows: Sequence[Line], version: RecipeVersion, how_much: HowMuch, has_shares: bool
) -> Fraction | None:
    """How many times the recipe as written; None where only parts and "to suit" are in it."""
    if how_much.times is not None:
        if has_shares and version.makes_amount is None:
            words = "This recipe is in parts. Write how much to make, such as 500 ml."
            raise Invalid(words, {"amount": words})
        return how_much.times
    assert how_much.wanted is not None
    counted = any(row.high is not None for row, _ in rows)
    if version.makes_amount is None and not counted and has_shares:
        return None
    if version.makes_basis is not None and version.makes_basis is not how_much.wanted.basis:
        words = f"This recipe says what it makes as {version.makes_written}. Write how much in the same way."
        raise Invalid(words, {"amount": words})
    return times_for(RecipeFacts("", (), _makes(version)), how_much.wanted.smallest)


def _makes(version: RecipeVersion) -> Fraction | None:
    """What the recipe makes, by its words: what was kept of a gallon is a part of a microlitre less."""
    if version.makes_amount is None or version.makes_basis is None:
        return None
    return exact_amount(version.makes_written, version.makes_amount, version.makes_basis)


def _total(version: RecipeVersion, how_much: HowMuch) -> Fraction:
    """How much the shares are shares of, in whole smallest units of what they are measured by."""
    if how_much.wanted is None:
        makes = _makes(version)
        assert how_much.times is not None and makes is not None
        return how_much.times * makes
    if how_much.wanted.basis is not version.shares_by:
        way = "weight, such as 500 g" if version.shares_by is Basis.MASS else "volume, such as 500 ml"
        words = f"The parts of this recipe are by {way.split(',')[0]}. Write how much to make by {way}."
        raise Invalid(words, {"amount": words})
    return Fraction(how_much.wanted.smallest)


def absolute(
    row: RecipeLineRow,
    form: Form | None,
    version: RecipeVersion,
    times: Fraction | None,
    total: Fraction | None,
    share: tuple[Fraction, Fraction] | None,
) -> tuple[Basis | None, Fraction | None, Fraction | None]:
    """What a line comes to, lowest and highest, in smallest units of its own basis; None = not known."""
    if share is not None and total is not None:
        return version.shares_by, share[0] * total, share[1] * total
    if row.high is None or times is None:
        return None, None, None
    low, high = (None if end is None else exact_end(row, form, end) for end in (row.low, row.high))
    return row.basis, None if low is None else low * times, None if high is None else high * times


def exact_end(row: RecipeLineRow, form: Form | None, whole: int) -> Fraction:
    """One end of a line as it was written, before it was kept as whole smallest units."""
    return Fraction(whole) if row.basis is None else exact_amount(row.written, whole, row.basis, form)


def _to_shelf(
    material: Material, basis: Basis, low: Fraction | None, high: Fraction | None
) -> tuple[Basis, Fraction | None, Fraction | None]:
    """The amounts in the basis the material is counted in, the wider way where a density is a range."""
    unit = UNITS[{Basis.MASS: "mg", Basis.VOLUME: "ml", Basis.PIECES: "piece"}[basis]]
    target = basis_for(material, Quantity(Decimal(1), unit))
    if target is basis:
        return basis, low, high
    light, heavy, _ = meeting_density(
        basis, target, densities_of(material), form=material.form, name=material.name
    )
    least = None if low is None else across(low, target, light, heavy)[0]
    most = None if high is None else across(high, target, light, heavy)[1]
    return target, least, most
