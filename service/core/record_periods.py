"""How long each log is kept, by law or by policy, and until when the trace of a material's use is.

Doors: records/knowledge_periods.py, records/use_queries.py, web/pages/record_periods.py.

Nothing is removed when a period is over: a period is the least. The program has no act that deletes an entry.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.core.months import add_months
from service.core.sources import Provenance

USE_YEARS: Final = 30
"""29 CFR 1910.1020(d)(1)(ii): identity, where and when used."""


class Basis(StrEnum):
    """On whose word a period stands."""

    LAW = "law"
    POLICY = "policy"


class Start(StrEnum):
    """From when the years are counted."""

    ENTRY = "entry"
    LAST_USE = "last-use"
    SHIPMENT = "shipment"
    EMPLOYMENT = "employment"


START_WORDS: Final[dict[Start, str]] = {
    Start.ENTRY: "from the entry",
    Start.LAST_USE: "from the last use",
    Start.SHIPMENT: "from the last shipment",
    Start.EMPLOYMENT: "as long as they work here, and longer",
}


@dataclass(frozen=True)
class RecordPeriod:
    """One log: its words, its tables, and the least time it is kept; ``years`` None = no figure."""

    log: str
    words: str
    tables: tuple[str, ...]
    years: int | None
    start: Start
    basis: Basis
    citation: str
    grade: Provenance
    page: str = ""
    note: str = ""

    @property
    def kept(self) -> str:
        """How long, in words.

        >>> RecordPeriod("x", "X", (), 30, Start.LAST_USE, Basis.LAW, "", Provenance.READ).kept
        '30 years from the last use'
        """
        if self.years is None:
            return START_WORDS[self.start]
        return f"{self.years} year{'' if self.years == 1 else 's'} {START_WORDS[self.start]}"


@dataclass(frozen=True)
class Use:
    """A material's trace, from the ledger. ``first`` None = no container of it was ever written down.

    ``last``: the last day anything was entered about it; ``here``: some of it is in the store, or may be.
    """

    material: int
    name: str
    first: date | None
    last: date | None
    here: bool


def keep_until(use: Use) -> date | None:
    """Until when the trace of a use is kept at the least; None while it is here, or nothing is known of it.

    >>> keep_until(Use(1, "x", date(2020, 1, 1), date(2024, 2, 29), False))
    datetime.date(2054, 2, 28)
    """
    if use.here or use.last is None:
        return None
    return add_months(use.last, 12 * USE_YEARS)
