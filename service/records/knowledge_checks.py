"""Reads what a shop checks again and again (``recurring_checks.csv``): how often, on whose word."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from service.core.recurring_checks import HOUSE_POLICY, Counted, Interval, Unit
from service.core.sources import Provenance
from service.records.knowledge import read_rows

TABLE: Final = "recurring_checks"
LAW: Final = "law"
POLICY: Final = "policy"


@dataclass(frozen=True)
class KnownCheck:
    """A check as it comes with the program. ``basis``: a law gives the interval, or a house policy does."""

    key: str
    what: str
    look_at: str
    interval: Interval
    basis: str
    citation: str
    grade: Provenance
    note: str


@cache
def known_checks() -> dict[str, KnownCheck]:
    """Every row by its key, in the order of the table. Read from disk once per process."""
    return read_checks(read_rows(TABLE))


def read_checks(rows: list[dict[str, str]]) -> dict[str, KnownCheck]:
    """The checks by key. ``ValueError`` names a line that cannot be read."""
    found: dict[str, KnownCheck] = {}
    for number, row in enumerate(rows, start=2):
        try:
            made = _check(row)
            if made.key in found:
                raise ValueError("it stands there twice")
        except Exception as trouble:
            raise ValueError(f"{TABLE}.csv line {number}: {trouble}") from trouble
        found[made.key] = made
    return found


def _check(row: dict[str, str]) -> KnownCheck:
    if row["basis"] not in (LAW, POLICY):
        raise ValueError(f"basis {row['basis']!r} is neither law nor policy")
    if not row["what"] or not row["look_at"] or not row["citation"]:
        raise ValueError("what, what to look at and on whose word must stand there")
    if (row["basis"] == POLICY) != row["citation"].startswith(HOUSE_POLICY):
        raise ValueError("a policy calls itself a house policy, and a law does not")
    return KnownCheck(
        key=row["key"],
        what=row["what"],
        look_at=row["look_at"],
        interval=Interval(Unit(row["unit"]), int(row["times"]), Counted(row["counted"])),
        basis=row["basis"],
        citation=row["citation"],
        grade=Provenance(row["grade"]),
        note=row["note"],
    )
