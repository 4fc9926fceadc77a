"""Recipes in whole smallest units, and what a given number of times needs of each material.

Doors: records/mixing.py, actions/check_mix.py, web/pages/recipes.py, web/api/recipes.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from service.core.findings import Finding, Findings, Invalid, Verdict, stop, unknown
from service.core.materials import Basis


@dataclass(frozen=True)
class RecipeLine:
    """One line as written at the bench: ``low`` to ``high`` in smallest units of the material's basis.

    ``high`` None: "to suit", nobody wrote how much at most; ``basis`` None only then. ``stocked`` False: tap
    water and the like, never on a shelf. ``unit_written`` is the unit the bench used, for shortages.
    """

    material_id: int
    name: str
    low: int | None
    high: int | None
    basis: Basis | None
    written: str = ""
    unit_written: str = ""
    about: bool = False
    stocked: bool = True


@dataclass(frozen=True)
class Recipe:
    """Proportions: the lines as written make ``makes`` (smallest units), or nobody said how much."""

    name: str
    lines: tuple[RecipeLine, ...]
    makes: int | None = None


@dataclass(frozen=True)
class Need:
    """What is needed of one material; ``high`` is what counts, None = not known."""

    material_id: int
    name: str
    basis: Basis | None
    low: int | None
    high: int | None
    unit_written: str = ""


@dataclass(frozen=True)
class Needs:
    """The needs of all stocked materials, one each, and what could not be worked out."""

    needs: tuple[Need, ...]
    verdict: Verdict


def times_for(recipe: Recipe, wanted: int) -> Fraction:
    """How many times the recipe as written makes ``wanted`` (smallest units, above zero).

    Raises `Invalid` (field ``amount``) when the recipe does not say what it makes.

    >>> times_for(Recipe("stain", (), makes=500), 1250)
    Fraction(5, 2)
    """
    if wanted <= 0:
        raise Invalid("Enter how much to make.", {"amount": "Enter how much to make: more than nothing."})
    if not recipe.makes:
        sentence = "This recipe does not say how much it makes. Enter how many times you make it."
        raise Invalid(sentence, {"amount": sentence})
    return Fraction(wanted, recipe.makes)


def needs(recipe: Recipe, times: Fraction | Decimal | int) -> Needs:
    """What making the recipe ``times`` (above zero) needs, rounded up to whole units, one need per material.

    A line without an upper amount gives a need of unknown size and the finding ``no-upper-amount``.

    >>> line = RecipeLine(1, "raw umber", 5, 10, Basis.MASS)
    >>> needs(Recipe("stain", (line,)), Fraction(1, 3)).needs[0].high
    4
    """
    factor = Fraction(times)
    if factor <= 0:
        raise Invalid("Enter how many times.", {"times": "Enter a number above nothing."})
    found = Findings()
    merged: dict[int, Need] = {}
    for line in recipe.lines:
        if not line.stocked:
            continue
        need = Need(
            line.material_id, line.name, line.basis, _scaled(line.low, factor), _scaled(line.high, factor),
            line.unit_written,
        )  # fmt: skip
        before = merged.get(line.material_id)
        if before is not None and None not in (before.basis, need.basis) and before.basis is not need.basis:
            sentence = f"{line.name} stands in the recipe by mass and by volume. Write both lines in one way."
            found.add(stop("two-bases", sentence, about=line.name))
        merged[line.material_id] = need if before is None else _together(before, need)
    found.add(*no_upper_amounts(merged.values()))
    return Needs(tuple(merged.values()), found.verdict())


def no_upper_amounts(all_needs: Iterable[Need]) -> list[Finding]:
    """One ``no-upper-amount`` per need of unknown size.

    >>> [f.about for f in no_upper_amounts([Need(1, "dryer", None, None, None)])]
    ['dryer']
    """
    return [
        unknown(
            "no-upper-amount",
            f"Nobody wrote how much {need.name} this takes at most. Write an upper amount.",
            about=need.name,
        )
        for need in all_needs
        if need.high is None
    ]


def _scaled(amount: int | None, factor: Fraction) -> int | None:
    return None if amount is None else ceil(amount * factor)


def _together(one: Need, other: Need) -> Need:
    # An unknown on one line makes the sum unknown; it never counts as nothing.
    low = None if one.low is None or other.low is None else one.low + other.low
    high = None if one.high is None or other.high is None else one.high + other.high
    unit = one.unit_written or other.unit_written
    return Need(one.material_id, one.name, one.basis or other.basis, low, high, unit)
