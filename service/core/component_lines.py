"""What a material is made of as section 3 of its sheet says it: read, checked line by line.

Doors: actions/write_components.py, actions/material_composition.py, web/pages/material_components.py.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.classes import Family, Route
from service.core.hazards.read_class import read_class
from service.core.own_figures import LARGEST_M, check_limits, estimates_text, wrong_field

MOST_COMPONENTS: Final = 30
# Sheets round: as much over 100 % together is a rounding, more is a slip.
_ROUNDING: Final = Decimal("0.5")
_PLAIN: Final = r"([0-9]{1,3}(?:\.[0-9]{1,9})?)"


@dataclass(frozen=True)
class Component:
    """One line of section 3.

    Args:
        cas: with a right check digit, or empty where the sheet gives none.
        low, high: per cent by mass; high None = not said, low None = from nothing on.
        hazards: as the sheet gives them for this substance; None = not known, () = examined, none.
        limits: concentration limits of its own as written; None = not known, () = the sheet gives none.
        m_acute, m_chronic: factors of Aquatic Acute 1 and Aquatic Chronic 1; None = not known.
        ate: estimates of acute toxicity: mg/kg; gas ppm, vapour, dust and mist mg/l for 4 hours.
    """

    name: str
    cas: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    hazards: tuple[str, ...] | None = None
    note: str = ""
    limits: tuple[str, ...] | None = None
    m_acute: Decimal | None = None
    m_chronic: Decimal | None = None
    ate: Mapping[Route, Decimal] = field(default_factory=dict)

    @property
    def words(self) -> str:
        """The line as the book of changes keeps it.

        >>> Component("toluene", "108-88-3", Decimal(5), Decimal(10), ()).words
        '108-88-3; 5 to 10 %; examined, none'
        """
        low = "0" if self.low is None else f"{self.low:f}"
        share = "share not known" if self.high is None else f"{low} to {self.high:f} %"
        classes = "classes not known"
        if self.hazards is not None:
            classes = "; ".join(self.hazards) or "examined, none"
        return "; ".join(words for words in (self.cas, share, classes, *self.own_words, self.note) if words)

    @property
    def own_words(self) -> tuple[str, ...]:
        """Its own limits, factors and estimates in words; nothing of what nobody wrote down."""
        found = []
        if self.limits is not None:
            found.append("; ".join(f"limit {one}" for one in self.limits) or "no limits of its own")
        found += [
            f"{name} {value:f}"
            for name, value in (("M acute", self.m_acute), ("M chronic", self.m_chronic))
            if value is not None
        ]
        found += [f"ATE {line}" for line in estimates_text(dict(self.ate)).splitlines()]
        return tuple(found)


def read_cas(text: str) -> str:
    """A CAS number without blanks around it; its last digit checks the others.

    Raises Invalid for another shape or a wrong check digit.

    >>> read_cas(" 108-88-3 ")
    '108-88-3'
    """
    bare = text.strip()
    if re.fullmatch(r"[1-9][0-9]{1,6}-[0-9]{2}-[0-9]", bare, re.ASCII) is None:
        raise Invalid("Write the CAS number like 108-88-3.")
    digits = [int(sign) for sign in bare if sign != "-"]
    *others, check = digits
    if sum(place * digit for place, digit in enumerate(reversed(others), start=1)) % 10 != check:
        raise Invalid(f"{bare} is no CAS number: its last digit does not fit the others. Look at it again.")
    return bare


def read_share(low: str, high: str) -> tuple[str, str]:
    """The two ends as plain figures where a sheet writes "<1", "≥ 95 %" or "5-10"; anything else as it came.

    >>> read_share("", "<1"), read_share(">= 95 %", ""), read_share("5 - 10 %", ""), read_share("five", "")
    (('0', '1'), ('95', '100'), ('5', '10'), ('five', ''))
    """
    first, last = (re.sub(r" ?%$", "", " ".join(text.split())) for text in (low, high))
    one = first or last
    if not (first and last):
        if match := re.fullmatch(rf"(?:<|≤|<=|up to|at most) ?{_PLAIN}", one, re.I | re.ASCII):
            return "0", match[1]
        if match := re.fullmatch(rf"(?:>|≥|>=|at least|from) ?{_PLAIN}", one, re.I | re.ASCII):
            return match[1], "100"
        between = rf"(?:≥|>=|>)? ?{_PLAIN} ?%? ?(?:-|–|to) ?(?:<|≤|<=)? ?{_PLAIN}"
        if match := re.fullmatch(between, one, re.I | re.ASCII):
            return match[1], match[2]
    elif (start := re.fullmatch(rf"(?:≥|>=|>)? ?{_PLAIN}", first)) and (
        end := re.fullmatch(rf"(?:<|≤|<=)? ?{_PLAIN}", last)
    ):
        return start[1], end[1]
    return low, high


def check_components(lines: Sequence[Component]) -> None:
    """Refuse what cannot be: errors name ``cas_0``, ``low_0``, ``high_0``, ``classes_0`` and so on.

    Raises Invalid.
    """
    if len(lines) > MOST_COMPONENTS:
        raise Invalid(f"Write at most {MOST_COMPONENTS} components.")
    errors: dict[str, str] = {}
    seen: dict[str, int] = {}
    for at, line in enumerate(lines):
        _shares(line, at, errors)
        _figures(line, at, errors)
        for key in (line.cas, " ".join(line.name.casefold().split())):
            if key and seen.setdefault(key, at) != at:
                words = f"{key} stands in line {seen[key] + 1} already. Put both into one line."
                errors.setdefault(f"cas_{at}" if key == line.cas else f"name_{at}", words)
    least = sum((line.low or Decimal(0) for line in lines), Decimal(0))
    if least > 100 + _ROUNDING:
        words = f"The lower ends add up to {least:f} %, more than 100. Look at the largest first."
        errors.setdefault("low_0", words)
    if errors:
        raise Invalid(next(iter(errors.values())), errors)


def _figures(line: Component, at: int, errors: dict[str, str]) -> None:
    """Classes, limits and factors: each can be read, and a factor has the class that it multiplies."""
    told: set[tuple[Family, str]] = set()
    for written in line.hazards or ():
        misplaced = wrong_field(written)
        try:
            read = () if misplaced else read_class(written).hazards
            told |= {(one.family, one.category) for one in read}
        except Invalid as wrong:
            misplaced = wrong.sentence
        if misplaced:
            errors.setdefault(f"classes_{at}", misplaced)
    try:
        check_limits(line.limits or ())
    except Invalid as wrong:
        errors.setdefault(f"limits_{at}", wrong.sentence)
    for name, factor, family in (
        ("m_acute", line.m_acute, Family.AQUATIC_ACUTE),
        ("m_chronic", line.m_chronic, Family.AQUATIC_CHRONIC),
    ):
        if factor is None:
            continue
        if not 1 <= factor <= LARGEST_M:
            errors.setdefault(f"{name}_{at}", f"{line.name}: an M-factor is 1, 10, 100 and so on.")
        elif (family, "1") not in told:
            words = f"this factor belongs to {family.value} 1. Write that class among its classes too."
            errors.setdefault(f"{name}_{at}", f"{line.name}: {words}")


def _shares(line: Component, at: int, errors: dict[str, str]) -> None:
    for end, value in (("low", line.low), ("high", line.high)):
        if value is not None and not 0 <= value <= 100:
            errors[f"{end}_{at}"] = f"{line.name}: a share lies between 0 and 100 %."
    if line.high is None and line.low is not None:
        errors.setdefault(f"high_{at}", f"{line.name}: write the upper end too; it may be the same figure.")
    elif line.high == 0:
        errors.setdefault(f"high_{at}", f"{line.name}: the upper end is more than 0 %.")
    elif line.low is not None and line.high is not None and line.low > line.high:
        errors.setdefault(f"low_{at}", f"{line.name}: write the lower end first.")
