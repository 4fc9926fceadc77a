"""What a material is made of as section 3 of its sheet says it: read, checked line by line.

Doors: actions/write_components.py, actions/material_composition.py, web/pages/material_components.py.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.findings import Invalid
from service.core.hazards.read_class import read_class

MOST_COMPONENTS: Final = 30
# Sheets round: as much over 100 % together is a rounding, more is a slip.
_ROUNDING: Final = Decimal("0.5")


@dataclass(frozen=True)
class Component:
    """One line of section 3.

    Args:
        cas: with a right check digit, or empty where the sheet gives none.
        low, high: per cent by mass; high None = not said, low None = from nothing on.
        hazards: as the sheet gives them for this substance; None = not known, () = examined, none.
    """

    name: str
    cas: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    hazards: tuple[str, ...] | None = None
    note: str = ""

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
        return "; ".join(words for words in (self.cas, share, classes, self.note) if words)


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
        for written in line.hazards or ():
            try:
                read_class(written)
            except Invalid as wrong:
                errors.setdefault(f"classes_{at}", wrong.sentence)
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
