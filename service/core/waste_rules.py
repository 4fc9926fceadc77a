"""Rows of the tables of waste: what bounds a generator category, a clock or a code, with how we know it.

Doors: core/waste.py, core/waste_clocks.py, core/waste_codes.py, records/knowledge_waste.py.

Only a row that was read is stated as law; one from memory is shown as such, and never makes anything milder.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final


class Jurisdiction(StrEnum):
    """Whose rules. Federal US rules are held; of the UK and the EU only entries of the List of Waste."""

    US = "us"
    UK = "uk"
    EU = "eu"


JURISDICTION_WORDS: Final = {
    Jurisdiction.US: "United States (EPA); states may be stricter",
    Jurisdiction.UK: "United Kingdom",
    Jurisdiction.EU: "European Union",
}


class Category(StrEnum):
    """Generator category, the lightest first: very small, small, large quantity generator."""

    VSQG = "VSQG"
    SQG = "SQG"
    LQG = "LQG"


CATEGORY_WORDS: Final = {
    Category.VSQG: "very small quantity generator",
    Category.SQG: "small quantity generator",
    Category.LQG: "large quantity generator",
}
WEIGHT: Final = {one: place for place, one in enumerate(Category)}
"""How heavy a category weighs; the highest wins."""


class Kind(StrEnum):
    """What of a month is summed apart."""

    WASTE = "waste"
    ACUTE = "acute"
    RESIDUE = "acute-residue"


@dataclass(frozen=True, kw_only=True)
class Cited:
    """A row's citation, how we know it (``grade`` "read" or "memory") and its sentence."""

    key: str
    citation: str
    grade: str
    source: str
    provenance: str
    says: str

    @property
    def read(self) -> bool:
        return self.grade == "read"


@dataclass(frozen=True, kw_only=True)
class CategoryRow(Cited):
    """From which mass in a calendar month a category begins. ``reached_at``: the figure itself counts."""

    category: Category
    kind: Kind
    kg: Fraction
    reached_at: bool


class Clock(StrEnum):
    """What a row of clocks and caps bounds."""

    CAP = "cap"
    ACUTE_CAP = "acute-cap"
    DAYS = "days"
    DAYS_FAR = "days-far"
    FAR = "far"
    SATELLITE = "satellite"
    SATELLITE_ACUTE = "satellite-acute"
    SATELLITE_DAYS = "satellite-days"
    INSPECTION = "inspection"


@dataclass(frozen=True, kw_only=True)
class ClockRow(Cited):
    """A cap in kg, a time in days, a way in miles, a volume in gallons or a quart."""

    categories: frozenset[Category]
    what: Clock
    value: Fraction
    unit: str


class Test(StrEnum):
    """By what a code is decided."""

    FLASH_BELOW = "flash-below"
    BURNS_BY_ITSELF = "burns-by-itself"
    OXIDIZER = "oxidizer"
    PH_MOST = "ph-most"
    PH_LEAST = "ph-least"
    TCLP = "tclp"
    SOLVENT = "solvent"
    SOLVENT_SHARE = "solvent-share"
    SOLVENT_ONLY = "solvent-only"
    SCREEN = "screen"


@dataclass(frozen=True, kw_only=True)
class CodeRow(Cited):
    """One test of a code. ``also``: other names and CAS numbers of the substance, in lower case."""

    codes: tuple[str, ...]
    test: Test
    substance: str
    also: frozenset[str]
    value: Fraction | None
    unit: str


@dataclass(frozen=True, kw_only=True)
class EntryRow(Cited):
    """An entry of the List of Waste that a kind of waste may fall under. ``hazardous``: with a star."""

    code: str
    kind: str
    hazardous: bool


@dataclass(frozen=True)
class WasteTables:
    """All rows together."""

    categories: tuple[CategoryRow, ...]
    clocks: tuple[ClockRow, ...]
    codes: tuple[CodeRow, ...]
    entries: tuple[EntryRow, ...]

    def clock(self, what: Clock, category: Category | None = None) -> ClockRow | None:
        """The row for a category; ``None`` where that category has none (a cap of an LQG)."""
        for row in self.clocks:
            if row.what is what and (category is None or category in row.categories):
                return row
        return None

    def tests(self, test: Test) -> tuple[CodeRow, ...]:
        return tuple(row for row in self.codes if row.test is test)

    def listed(self, *names: str) -> CodeRow | None:
        """The listed solvent that one of these names or CAS numbers means."""
        asked = {plain(name) for name in names} - {""}
        for row in self.tests(Test.SOLVENT):
            if asked & row.also:
                return row
        return None


def plain(name: str) -> str:
    """A name as it is compared: lower case, hyphens and underscores as the tables write them.

    >>> plain("Mineral_Spirits "), plain("Methyl ethyl ketone")
    ('mineral spirits', 'methyl ethyl ketone')
    """
    return " ".join(name.replace("_", " ").lower().split())
