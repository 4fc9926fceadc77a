"""The cuts of storage categories, each law in its own unit: °F compared as °F, °C as °C, nothing rounded.

Doors: core/storage_categories.py, core/storage_items.py, core/storage_rules.py,
records/knowledge_storage.py, web/api/storage_answers.py, web/api/storage_measures.py,
web/api/storage_question.py.

Sources: 29 CFR 1910.106(a)(19) as read in reprints; IFC 2018 chapter 2 as read in the 2020 Minnesota State
Fire Code; 29 CFR 1926.152(b) as read in a letter of 1994; HSE guidance as reprinted; the cuts of CLP.
23 °C is 73.4 °F exactly, and 22.9 °C is 73.22 °F: below the cut of 1910.106, above that of the fire code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final

HOTTEST_C: Final = Fraction(30)
"""The highest room temperature that a page of the guidance takes where none is told."""
NONE: Final = "none"
"""What the scheme does not count as a flammable liquid."""


class Scheme(StrEnum):
    """Whose categories."""

    OSHA = "1910.106"
    IFC = "ifc"
    CONSTRUCTION = "1926.152"
    HSE = "hse"
    CLP = "clp"


@dataclass(frozen=True)
class Temperature:
    """A temperature as it was written: ``value`` in ``unit`` "F" or "C".

    >>> Temperature(Fraction(60), "C").in_unit("F"), Temperature(Fraction(734, 10), "F").in_unit("C")
    (Fraction(140, 1), Fraction(23, 1))
    """

    value: Fraction
    unit: str

    def in_unit(self, unit: str) -> Fraction:
        """The exact figure in °F or °C."""
        if unit == self.unit:
            return self.value
        if unit == "F":
            return self.value * 9 / 5 + 32
        return (self.value - 32) * 5 / 9

    def lowered_c(self, degrees: Fraction) -> Temperature:
        """So many °C lower, kept in the unit it was written in."""
        return Temperature(self.value - (degrees if self.unit == "C" else degrees * 9 / 5), self.unit)


@dataclass(frozen=True)
class Step:
    """One category: flash points below ``below`` (or at it, where ``up_to``), and a boiling point "
    "if asked."""

    name: str
    below: Fraction | None
    up_to: bool = False
    boils_below: Fraction | None = None
    boils_up_to: bool = False

    def boils_over(self, boiling: Fraction) -> bool:
        """Whether what boils so high is never in it."""
        return self.boils_below is not None and not _under(boiling, self.boils_below, self.boils_up_to)


@dataclass(frozen=True)
class Ladder:
    """The categories of one scheme, the worst first, in degrees of ``unit``."""

    unit: str
    steps: tuple[Step, ...]

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(step.name for step in self.steps)

    def possible(self, flash: Fraction, boiling: Fraction | None) -> frozenset[str]:
        """What a flash point and a boiling point in this ladder's unit leave open; more than one "
        "without boiling."""
        found: set[str] = set()
        for step in self.steps:
            if step.below is not None and not _under(flash, step.below, step.up_to):
                continue
            if step.boils_below is None:
                return frozenset(found | {step.name})
            if boiling is None:
                found.add(step.name)
            elif _under(boiling, step.boils_below, step.boils_up_to):
                return frozenset(found | {step.name})
        raise AssertionError("the last step of a ladder takes everything")


def _under(value: Fraction, edge: Fraction, up_to: bool) -> bool:
    return value <= edge if up_to else value < edge


def _f(text: str) -> Fraction:
    return Fraction(text)


_LADDERS: Final[Mapping[Scheme, Ladder]] = MappingProxyType({
    Scheme.OSHA: Ladder("F", (
        Step("1", _f("73.4"), boils_below=_f("95"), boils_up_to=True),
        Step("2", _f("73.4")),
        Step("3", _f("140"), up_to=True),
        Step("4", _f("199.4"), up_to=True),
        Step(NONE, None),
    )),
    Scheme.IFC: Ladder("F", (
        Step("IA", _f("73"), boils_below=_f("100")),
        Step("IB", _f("73")),
        Step("IC", _f("100")),
        Step("II", _f("140")),
        Step("IIIA", _f("200")),
        Step("IIIB", None),
    )),
    Scheme.CONSTRUCTION: Ladder("F", (
        Step("below-140F", _f("140")),
        Step("140F-up", _f("199.4"), up_to=True),
        Step(NONE, None),
    )),
    Scheme.CLP: Ladder("C", (
        Step("H224", _f("23"), boils_below=_f("35"), boils_up_to=True),
        Step("H225", _f("23")),
        Step("H226", _f("60"), up_to=True),
        Step(NONE, None),
    )),
})  # fmt: skip


def ladder(scheme: Scheme, ambient_max_c: Fraction | None = None) -> Ladder:
    """The categories of a scheme. HSE's first one reaches up to the room's highest temperature
    (at most 60 °C).

    >>> ladder(Scheme.IFC).possible(Fraction(140), Fraction(400)), ladder(Scheme.OSHA).names[0]
    (frozenset({'IIIA'}), '1')
    """
    if scheme is not Scheme.HSE:
        return _LADDERS[scheme]
    hottest = max(Fraction(23), HOTTEST_C if ambient_max_c is None else ambient_max_c)
    return Ladder("C", (Step("high", hottest), Step("other", Fraction(60), up_to=True), Step(NONE, None)))


_OSHA, _IFC, _BUILD = Scheme.OSHA, Scheme.IFC, Scheme.CONSTRUCTION
_CLP, _HSE = Scheme.CLP, Scheme.HSE
# What a category told for one scheme leaves open in another, read off the two definitions.
ACROSS: Final[dict[Scheme, dict[str, dict[Scheme, str]]]] = {
    _OSHA: {
        "1": {_IFC: "IA IC", _BUILD: "below-140F", _CLP: "H224", _HSE: "high"},
        "2": {_IFC: "IA IB IC", _BUILD: "below-140F", _CLP: "H225", _HSE: "high"},
        "3": {_IFC: "IC II IIIA", _BUILD: "below-140F 140F-up", _CLP: "H226",
              _HSE: "high other"},
        "4": {_IFC: "IIIA", _BUILD: "140F-up", _CLP: NONE, _HSE: NONE},
        NONE: {_IFC: "IIIA IIIB", _BUILD: NONE, _CLP: NONE, _HSE: NONE},
    },
    _IFC: {
        "IA": {_OSHA: "1 2", _BUILD: "below-140F", _CLP: "H224 H225", _HSE: "high"},
        "IB": {_OSHA: "2", _BUILD: "below-140F", _CLP: "H225", _HSE: "high"},
        "IC": {_OSHA: "1 2 3", _BUILD: "below-140F", _CLP: "H224 H225 H226",
               _HSE: "high other"},
        "II": {_OSHA: "3", _BUILD: "below-140F", _CLP: "H226", _HSE: "high other"},
        "IIIA": {_OSHA: "3 4 none", _BUILD: "140F-up none", _CLP: "H226 none",
                 _HSE: "other none"},
        "IIIB": {_OSHA: NONE, _BUILD: NONE, _CLP: NONE, _HSE: NONE},
    },
    _CLP: {
        "H224": {_OSHA: "1", _IFC: "IA IC", _BUILD: "below-140F", _HSE: "high"},
        "H225": {_OSHA: "2", _IFC: "IA IB IC", _BUILD: "below-140F", _HSE: "high"},
        "H226": {_OSHA: "3", _IFC: "IC II IIIA", _BUILD: "below-140F 140F-up",
                 _HSE: "high other"},
    },
}  # fmt: skip


def told_categories() -> frozenset[str]:
    """Every word that may be told as the category of a liquid."""
    return frozenset(name for words in ACROSS.values() for name in words)
