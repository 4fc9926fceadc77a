"""Recipes in whole smallest units, and what a given number of times needs of each material.

Doors: records/mixing.py, actions/check_mix.py, web/pages/recipes.py, web/api/recipes.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from service.core.findings import Finding, Findings, Invalid, Verdict, stop, unknown
from service.core.materials import Basis
from service.core.whole_need import whole_need


@dataclass(frozen=True)
class RecipeLine:
    """One line as written at the bench: ``low`` to ``high`` in smallest units of the material's basis.

    ``high`` None: "to suit" without an upper amount, or it meets no shelf and ``why`` says why; ``basis``
    None only then. ``stocked`` False: tap water and the like, never on a shelf. ``unit_written`` is the unit
    the bench used, for shortages; ``grown`` the line in words for the amount that is made. ``over``: what
    rounding left out of ``high``, which a plan adds up over its days.
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
    to_suit: bool = False
    why: str = ""
    grown: str = ""
    over: Fraction = Fraction(0)

    @property
    def is_by_hand(self) -> bool:
        """Whether a start draws nothing of it: nobody can say beforehand how much it will take.

        >>> RecipeLine(1, "dryer", None, 5000, Basis.VOLUME, to_suit=True).is_by_hand
        True
        """
        return self.to_suit or self.high is None


@dataclass(frozen=True)
class Recipe:
    """Proportions: the lines as written make ``makes`` (smallest units), or nobody said how much."""

    name: str
    lines: tuple[RecipeLine, ...]
    makes: Fraction | int | None = None


@dataclass(frozen=True)
class Need:
    """What is needed of one material; ``high`` is what counts, None = not known, and ``why`` may say why.

    ``draw`` is what a start draws of it, None = all of ``high``; the rest is put in by hand.
    """

    material_id: int
    name: str
    basis: Basis | None
    low: int | None
    high: int | None
    unit_written: str = ""
    draw: int | None = None
    why: str = ""
    over: Fraction = Fraction(0)

    @property
    def at_start(self) -> int:
        """What a start draws."""
        return (self.high or 0) if self.draw is None else self.draw

    @property
    def counted(self) -> int:
        """What has to be there: the most it takes; where that is not known, at least what a start draws.

        >>> Need(1, "dryer", Basis.VOLUME, None, None, draw=10).counted
        10
        """
        return self.at_start if self.high is None else self.high


@dataclass(frozen=True)
class ByHand:
    """A line of which a start draws nothing. ``high`` is the most it takes in smallest units of ``basis``,
    None = not known; ``why`` says why, empty where it is only to suit. ``stocked`` False: from the tap.
    """

    position: int
    material_id: int
    name: str
    words: str
    high: int | None = None
    basis: Basis | None = None
    why: str = ""
    stocked: bool = True

    @property
    def sentence(self) -> str:
        """
        >>> ByHand(2, 1, "dryer", "to suit, at most 5 ml").sentence
        'dryer: to suit, at most 5 ml. Put it in by hand.'
        """
        said = f"{self.name}: {self.words.rstrip('.')}."
        return f"{said} {f'How much that is is not known. {self.why} ' if self.why else ''}Put it in by hand."


@dataclass(frozen=True)
class Needs:
    """The needs of all stocked materials, one each, and what could not be worked out."""

    needs: tuple[Need, ...]
    verdict: Verdict


class YieldNotSaid(Invalid):
    """An amount is wanted of a recipe that does not say what it makes."""


def times_for(recipe: Recipe, wanted: Fraction | int) -> Fraction:
    """How many times the recipe as written makes ``wanted`` (smallest units, above zero).

    Raises `Invalid` (field ``amount``), and of it `YieldNotSaid` when the recipe does not say what it makes.

    >>> times_for(Recipe("stain", (), makes=500), 1250)
    Fraction(5, 2)
    """
    if wanted <= 0:
        raise Invalid("Enter how much to make.", {"amount": "Enter how much to make: more than nothing."})
    if not recipe.makes:
        sentence = "This recipe does not say how much it makes. Enter how many times you make it."
        raise YieldNotSaid(sentence, {"amount": sentence})
    return wanted / Fraction(recipe.makes)


def needs(recipe: Recipe, times: Fraction | Decimal | int) -> Needs:
    """What making the recipe ``times`` (above zero) needs, one need per material, as `whole_need` rounds.

    A line without an upper amount gives a need of unknown size and the finding ``no-upper-amount``. Of "to
    suit" the most counts, and a start draws nothing of it.

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
            line.unit_written, 0 if line.is_by_hand else _scaled(line.high, factor), line.why,
            line.over * factor,
        )  # fmt: skip
        before = merged.get(line.material_id)
        if before is not None and None not in (before.basis, need.basis) and before.basis is not need.basis:
            sentence = f"{line.name} stands in the recipe by mass and by volume. Write both lines in one way."
            found.add(stop("two-bases", sentence, about=line.name))
        merged[line.material_id] = need if before is None else _together(before, need)
    found.add(*no_upper_amounts(merged.values()))
    return Needs(tuple(merged.values()), found.verdict())


def no_upper_amounts(all_needs: Iterable[Need]) -> list[Finding]:
    """One ``no-upper-amount`` per need of unknown size; what says itself why it is not known has its own.

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
        if need.high is None and not need.why
    ]


def by_hand(lines: Iterable[RecipeLine]) -> tuple[ByHand, ...]:
    """The lines of a recipe that are put in by hand, in the order of addition.

    >>> [one.position for one in by_hand([RecipeLine(1, "oil", 5, 5, Basis.VOLUME),
    ...                                   RecipeLine(2, "dryer", None, None, None, "to suit")])]
    [2]
    """
    return tuple(
        ByHand(
            position, line.material_id, line.name, line.grown or line.written, line.high, line.basis,
            line.why, line.stocked,
        )
        for position, line in enumerate(lines, start=1)
        if line.is_by_hand
    )  # fmt: skip


def _scaled(amount: int | None, factor: Fraction) -> int | None:
    return None if amount is None else whole_need(amount * factor)


def _together(one: Need, other: Need) -> Need:
    # An unknown on one line makes the sum unknown; it never counts as nothing.
    low = None if one.low is None or other.low is None else one.low + other.low
    high = None if one.high is None or other.high is None else one.high + other.high
    unit = one.unit_written or other.unit_written
    why = " ".join(dict.fromkeys(filter(None, (one.why, other.why))))
    draw = one.at_start + other.at_start
    basis, over = one.basis or other.basis, one.over + other.over
    return Need(one.material_id, one.name, basis, low, high, unit, draw, why, over)
