"""Reads how long each log is kept (``record_periods.csv``)."""

from __future__ import annotations

from functools import cache
from typing import Final

from service.core.record_periods import Basis, RecordPeriod, Start
from service.core.recurring_checks import HOUSE_POLICY
from service.core.sources import Provenance
from service.records.knowledge import read_rows

TABLE: Final = "record_periods"


@cache
def record_periods() -> tuple[RecordPeriod, ...]:
    """Every log in the order of the table. Read from disk once per process."""
    return read_periods(read_rows(TABLE))


def read_periods(rows: list[dict[str, str]]) -> tuple[RecordPeriod, ...]:
    """The periods. ``ValueError`` names a line that cannot be read."""
    found: dict[str, RecordPeriod] = {}
    for number, row in enumerate(rows, start=2):
        try:
            made = _period(row)
            if made.log in found:
                raise ValueError("it stands there twice")
        except Exception as trouble:
            raise ValueError(f"{TABLE}.csv line {number}: {trouble}") from trouble
        found[made.log] = made
    return tuple(found.values())


def _period(row: dict[str, str]) -> RecordPeriod:
    years = int(row["years"]) if row["years"] else None
    if years is not None and not 1 <= years <= 100:
        raise ValueError("a period is 1 to 100 years")
    made = RecordPeriod(
        log=row["log"],
        words=row["words"],
        tables=tuple(one.strip() for one in row["tables"].split(";") if one.strip()),
        years=years,
        start=Start(row["start"]),
        basis=Basis(row["basis"]),
        citation=row["citation"],
        grade=Provenance(row["grade"]),
        page=row["page"],
        note=row["note"],
    )
    if not made.words or not made.citation:
        raise ValueError("it has no words or no citation")
    if (made.basis is Basis.POLICY) != made.citation.startswith(HOUSE_POLICY):
        raise ValueError("a policy calls itself a house policy, and a law does not")
    return made
