"""Solvents that form peroxides on keeping: which they are, and how long one is kept at most.

Doors: records/peroxide_formers.py, core/life_facts.py, core/ageing.py.

Whatever a shop's policy says, such a can is kept no longer than the longest that a published table of an
institution allows for its class: peroxides explode when they are shaken, heated or distilled, and no look
shows them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Former(StrEnum):
    """The class of a peroxide former: dangerous by itself on keeping, or when it is concentrated."""

    SEVERE = "severe"
    CONCENTRATING = "concentrating"


@dataclass(frozen=True)
class PeroxideLife:
    """How long such a solvent is kept at most, in months; ``because`` whose word the class is."""

    former: Former
    sealed_months: int
    opened_months: int
    because: str

    @property
    def source(self) -> str:
        return f"{MONTHS_SOURCE}; {self.because}"


MONTHS_SOURCE: Final = "Cornell University, laboratory safety manual, Appendix J (peroxide formers)"
MONTHS: Final = {Former.SEVERE: (18, 3), Former.CONCENTRATING: (18, 12)}
"""Unopened and opened, in months, by Cornell's table, as the reference of this program gives it."""


@dataclass(frozen=True)
class FormerRow:
    """One row of the table: by keys of the published facts, CAS numbers, names, or statements of a sheet."""

    former: Former
    keys: frozenset[str]
    cas: frozenset[str]
    named: re.Pattern[str] | None
    codes: frozenset[str]
    source: str


def life_of_former(
    rows: Iterable[FormerRow], key: str, cas: Iterable[str], name: str, codes: Iterable[str]
) -> PeroxideLife | None:
    """How long a solvent is kept at most; None where no row knows it as a peroxide former.

    Args:
        name: in the plain form of `core.mixed_things.plain_name`; counts only where no number tells better.
        codes: H- and EUH-codes of its sheet.

    >>> row = FormerRow(Former.SEVERE, frozenset(), frozenset({"108-20-3"}), None, frozenset(), "a table")
    >>> found = life_of_former([row], "", ["108-20-3"], "old can", [])
    >>> found.opened_months if found else None
    3
    >>> life_of_former([row], "", [], "old can", []) is None
    True
    """
    numbers, told = frozenset(cas), frozenset(codes)
    for row in rows:
        by_name = row.named is not None and not numbers and not key and row.named.search(name) is not None
        if key in row.keys or numbers & row.cas or told & row.codes or by_name:
            sealed, opened = MONTHS[row.former]
            return PeroxideLife(row.former, sealed, opened, row.source)
    return None
