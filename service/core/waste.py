"""Hazardous waste by calendar month: the generator category that its mass makes, or makes at least.

Doors: web/api/calc_waste.py, actions/look_at_waste.py, web/pages/waste.py, web/api/waste.py.

A mass that nobody knows is never zero: the month is "at least" what is known, and so is its category.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.waste_rules import (
    CATEGORY_WORDS,
    WEIGHT,
    Category,
    CategoryRow,
    Jurisdiction,
    Kind,
    WasteTables,
)

NEAR: Final = Fraction(8, 10)
"""Share of a bound from which it is said to be near."""
_WHAT: Final = {
    Kind.WASTE: "hazardous waste",
    Kind.ACUTE: "acute hazardous waste",
    Kind.RESIDUE: "residue from a spill of acute waste",
}


@dataclass(frozen=True)
class Mass:
    """Kilograms of one kind in a month. ``more``: something of unknown mass comes on top."""

    kg: Fraction = Fraction(0)
    more: bool = False


@dataclass(frozen=True)
class Month:
    """What a calendar month holds, by kind; a kind that is left out is not known."""

    name: str
    masses: dict[Kind, Mass] = field(default_factory=dict)

    def of(self, kind: Kind) -> Mass:
        return self.masses.get(kind, Mass(Fraction(0), True))


@dataclass(frozen=True)
class JudgedMonth:
    """``category`` ``None``: not certain; it is then at least ``at_least``. ``because``: rows reached."""

    month: Month
    category: Category | None
    at_least: Category
    because: tuple[CategoryRow, ...]
    findings: tuple[Finding, ...]


def reached(row: CategoryRow, mass: Mass) -> bool:
    """Whether a mass reaches a row: at the figure itself only where the row says "or more"."""
    return mass.kg >= row.kg if row.reached_at else mass.kg > row.kg


def judge_month(tables: WasteTables, month: Month) -> JudgedMonth:
    """The heaviest category that any kind of the month reaches; with unknown mass only a lower bound.

    An LQG is one for certain, whatever else is not known: there is nothing heavier.
    """
    met = tuple(row for row in tables.categories if reached(row, month.of(row.kind)))
    at_least = max((row.category for row in met), key=WEIGHT.__getitem__, default=Category.VSQG)
    open_kinds = [kind for kind in Kind if month.of(kind).more]
    certain = at_least is Category.LQG or not open_kinds
    found: list[Finding] = []
    if not certain:
        what = ", ".join(_WHAT[kind] for kind in open_kinds)
        words = (
            f"{month.name}: a mass is not known ({what}). The category is at least {at_least.value}. "
            "Weigh it, or ask who took it what it weighed."
        )
        found.append(unknown("waste-mass-not-known", words, about=month.name))
    for row in tables.categories:
        mass = month.of(row.kind)
        if row not in met and WEIGHT[row.category] > WEIGHT[at_least] and mass.kg >= row.kg * NEAR:
            words = (
                f"{month.name}: {say_kg(mass.kg)} kg of {_WHAT[row.kind]}; {row.category.value} "
                f"{'from' if row.reached_at else 'above'} {say_kg(row.kg)} kg."
            )
            found.append(warn("waste-near-category", words, row.citation, month.name))
    return JudgedMonth(month, at_least if certain else None, at_least, met, tuple(found))


def heaviest(months: Iterable[JudgedMonth]) -> tuple[Category | None, Category]:
    """Of several months the category that rules clocks and caps, and the least it can be.

    Without any month nothing is known: then it is the strictest clock that counts.
    """
    found = list(months)
    least = max((one.at_least for one in found), key=WEIGHT.__getitem__, default=Category.VSQG)
    certain = bool(found) and (least is Category.LQG or all(one.category is not None for one in found))
    return (least if certain else None), least


def say_category(judged: JudgedMonth) -> str:
    """The category in words, with "at least" where it is only that."""
    words = f"{judged.at_least.value}, {CATEGORY_WORDS[judged.at_least]}"
    return words if judged.category else f"at least {words}"


def caution(jurisdiction: Jurisdiction) -> list[Finding]:
    """What every answer about waste says beside its figures."""
    found = [
        note(
            "waste-authority",
            "States and countries have rules of their own, often stricter. Your authority and a licensed "
            "carrier decide; this only counts and reminds.",
        )
    ]
    if jurisdiction is not Jurisdiction.US:
        words = "No category, cap or time of this country is held here. Ask its authority which hold for you."
        found.append(unknown("waste-rules-not-held", words))
    return found


def say_kg(value: Fraction) -> str:
    """Kilograms to the gram, rounded up: a mass is never shown as less than it is.

    >>> say_kg(Fraction(1001, 10)), say_kg(Fraction(1000))
    ('100.1', '1000')
    """
    grams = -(-value.numerator * 1000 // value.denominator)
    return f"{grams // 1000}.{grams % 1000:03}".rstrip("0").rstrip(".")
