"""The amount that is wanted, as so many times the recipe or so much in all, whatever way it was asked for.

An area comes to a volume by the recipe's coverage, its low end; mass and volume of the mix meet by the
density of its materials, the heavier or lighter end so that never too little is made; so much of the base
comes to times by its line. Each step says its arithmetic.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.actions.grow_recipe import Line, absolute, exact_end, shares_in
from service.actions.read_amount import densities_of
from service.actions.read_recipe import MEASURED_BY
from service.core.findings import Finding, Invalid, note
from service.core.materials import Basis, Form
from service.core.mix_density import PartOfMix, density_of
from service.core.quantities import (
    UNITS,
    CannotMeet,
    Quantity,
    across,
    decimal_of,
    meeting_density,
    plain,
    show_amount,
    show_estimate,
)
from service.core.recipe_amounts import MOST_TIMES, HowMuch
from service.core.recipe_coverage import Area, Coverage, microlitres_for
from service.records.mixing import RecipeLineRow, RecipeVersion

_MEETING: Final = {Basis.MASS: "mg", Basis.VOLUME: "ml", Basis.PIECES: "piece"}


def meet_amount(
    version: RecipeVersion, rows: Sequence[Line], how_much: HowMuch
) -> tuple[HowMuch, list[Finding]]:
    """The same amount as ``times`` or as ``wanted`` in the way the recipe is measured, with its arithmetic.

    Raises:
        Invalid: field ``amount``: the recipe names no base or no coverage, or a density is missing.
    """
    found: list[Finding] = []
    if how_much.area is not None:
        how_much, said = _of_area(version, how_much, how_much.area)
        found.append(said)
    if how_much.base is not None:
        how_much, said = _of_base(version, rows, how_much, how_much.base)
        found.append(said)
    wanted, way = how_much.wanted, version.makes_basis or version.shares_by
    if wanted is None or way is None or wanted.basis is way:
        return how_much, found
    how_much, said = _across(version, rows, how_much, wanted, way)
    return how_much, [*found, said]


def _of_area(version: RecipeVersion, how_much: HowMuch, area: Area) -> tuple[HowMuch, Finding]:
    low, high = version.coverage_low_m2_l, version.coverage_high_m2_l
    if low is None or high is None:
        raise _invalid(
            "This recipe does not say how far a litre goes. Write that into the recipe, or write how much to "
            "make, such as 500 ml."
        )
    coverage = Coverage(version.coverage_written or "", low, high)
    least, most = microlitres_for(area, coverage)
    coats = f" x {area.coats} coats" if area.coats > 1 else ""
    size = plain(decimal_of(area.m2, 3))
    words = (
        f"{size} m²{coats} at {plain(decimal_of(Fraction(low), 3))} m² per litre takes "
        f"{_litres(most)}"
    )
    if least != most:
        words += f"; at {plain(decimal_of(Fraction(high), 3))} m² per litre {_litres(least)} would do"
    said = note("area-reckoned", f"{words}. The larger amount is made.")
    return replace(how_much, wanted=_quantity(Fraction(most), Basis.VOLUME), area=None), said


def _of_base(
    version: RecipeVersion, rows: Sequence[Line], how_much: HowMuch, base: Quantity
) -> tuple[HowMuch, Finding]:
    """Of a base written as a range its lower end counts: then every other line is at least enough."""
    line = next((one for one in rows if one[0].position == version.base_position), None)
    if line is None:
        words = "This recipe names no base. Say in it which line is the base, or write how many times."
        raise _invalid(words)
    row, material = line
    shares = shares_in(rows)
    share = shares.get(row.position)
    basis = version.shares_by if share is not None else row.basis
    low = share[0] if share is not None else _low(row, material.form)
    if basis is None or not low:
        words = f"The base, {material.name}, stands in the recipe as “{row.written}”: write how much of it."
        raise _invalid(words)
    have = Fraction(base.smallest)
    if base.basis is not basis:
        try:
            light, heavy, _ = meeting_density(
                base.basis, basis, densities_of(material), form=material.form, name=material.name
            )
        except CannotMeet as lack:
            raise _invalid(lack.sentence) from lack
        have = across(have, basis, light, heavy)[1]
    if share is not None:
        whole = have / low
        words = (
            f"{base} of the base, {material.name}, is {_percent(low)} of the mix: "
            f"{show_amount(ceil(whole), basis)} in all"
        )
        # Rounded down, far below a smallest unit: rounded up, a full litre of the base would be short.
        unit = UNITS[_MEETING[basis]]
        exact = Fraction(floor(whole / Fraction(unit.factor) * 10**9), 10**9)
        how_much = replace(how_much, wanted=Quantity(decimal_of(exact, 9), unit), base=None)
        return how_much, note("base-reckoned", f"{words}.")
    times = have / low
    if times > MOST_TIMES:
        raise _invalid(f"That would be more than {MOST_TIMES} times the recipe. Make less at a time.")
    words = f"{base} of the base, {material.name} ({row.written} in the recipe): {_times(times)} the recipe"
    return replace(how_much, times=times, base=None), note("base-reckoned", f"{words}.")


def _low(row: RecipeLineRow, form: Form | None) -> Fraction | None:
    return None if row.low is None else exact_end(row, form, row.low)


def _across(
    version: RecipeVersion, rows: Sequence[Line], how_much: HowMuch, wanted: Quantity, way: Basis
) -> tuple[HowMuch, Finding]:
    other = MEASURED_BY[way]
    said = f"This recipe is measured by {other}."
    if Basis.PIECES in (wanted.basis, way):
        raise _invalid(f"{said} Write how much in the same way.")
    missing, span = mix_density(version, rows)
    if span is None:
        lacks = " ".join(missing) or "Nobody wrote how much of each goes in."
        words = f"{said} Its weight and its volume do not meet: {lacks} Or write how much by {other}."
        raise _invalid(words)
    low, high = span
    asked = Fraction(wanted.smallest)
    most = asked * high if way is Basis.MASS else asked / low
    dense = _figure(low) if _figure(low) == _figure(high) else f"{_figure(low)} to {_figure(high)}"
    words = (
        f"{wanted} is reckoned as {show_estimate(ceil(most), way)}: the mix has a density of {dense} g/ml by "
        "its materials, and the end that makes more counts."
    )
    return replace(how_much, wanted=_quantity(most, way)), note("mix-density-used", words)


def mix_density(
    version: RecipeVersion, rows: Sequence[Line]
) -> tuple[list[str], tuple[Fraction, Fraction] | None]:
    """What is missing, in sentences, or the lowest and highest density of the mix in g/ml."""
    shares = shares_in(rows)
    total = Fraction(version.makes_amount) if version.makes_amount is not None else Fraction(1_000_000)
    missing: list[str] = []
    parts: list[PartOfMix] = []
    for row, material in rows:
        basis, low, high = absolute(
            row, material.form, version, Fraction(1), total, shares.get(row.position)
        )
        if basis is None or high is None:
            missing.append(f"Nobody wrote how much {material.name} goes in at most.")
            continue
        span = (Fraction(0) if low is None else low, high)
        try:
            if basis is not Basis.MASS:
                light, heavy, _ = meeting_density(
                    basis, Basis.MASS, densities_of(material), form=material.form, name=material.name
                )
                span = (span[0] * Fraction(light), span[1] * Fraction(heavy))
        except CannotMeet as lack:
            missing.append(lack.sentence)
            continue
        if material.density_g_ml is None:
            missing.append(
                f"The density of {material.name} is not known. Take it from section 9 of its sheet, or fill "
                "a known volume and weigh it."
            )
            continue
        parts.append(PartOfMix(span[0], span[1], Fraction(material.density_g_ml)))
    return list(dict.fromkeys(missing)), None if missing else density_of(parts)


def _quantity(smallest: Fraction, basis: Basis) -> Quantity:
    unit = UNITS[_MEETING[basis]]
    return Quantity(decimal_of(Fraction(ceil(smallest)) / Fraction(unit.factor), 9), unit)


def _litres(microlitres: int) -> str:
    return f"{plain(decimal_of(Fraction(microlitres, 1_000_000), 3))} l"


def _figure(g_ml: Fraction) -> str:
    return plain(decimal_of(g_ml, 3))


def _percent(share: Fraction) -> str:
    return f"{plain(decimal_of(share * 100, 2))} %"


def _times(times: Fraction) -> str:
    shown: Decimal = decimal_of(times, 3)
    return f"{plain(shown)} {'time' if shown == 1 else 'times'}"


def _invalid(words: str) -> Invalid:
    return Invalid(words, {"amount": words})
