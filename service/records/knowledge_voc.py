"""Reads which compounds each law leaves out of VOC, and the limits of products (``voc_*.csv``)."""

from __future__ import annotations

from functools import cache
from typing import Final

from service.core.component_lines import read_cas
from service.core.solvents.voc_rules import (
    LIST_OF,
    Base,
    Exemption,
    ExemptList,
    Jurisdiction,
    VocBasis,
    VocLimit,
)
from service.core.sources import Grade, Provenance
from service.records.knowledge import load_sources, read_rows

EXEMPTIONS: Final = "voc_exemptions"
LIMITS: Final = "voc_limits"
_YES: Final = {"yes": True, "no": False}


def read_exemptions(rows: list[dict[str, str]]) -> dict[Jurisdiction, dict[str, Exemption]]:
    """The lists by jurisdiction and CAS number. ``ValueError`` names the line that cannot be read."""
    found: dict[Jurisdiction, dict[str, Exemption]] = {}
    for number, row in enumerate(rows, start=2):
        try:
            where = Jurisdiction(row["jurisdiction"])
            cas = read_cas(row["cas"]) if row["cas"] else ""
            made = Exemption(cas, row["name"], _YES[row["exempt"]], row["source"], _graded(row), row["note"])
        except Exception as trouble:
            raise ValueError(f"{EXEMPTIONS}.csv line {number}: {trouble}") from trouble
        if cas in found.setdefault(where, {}):
            raise ValueError(f"{EXEMPTIONS}.csv line {number}: {row['cas']} stands there twice")
        found[where][cas] = made
    return found


def read_limits(rows: list[dict[str, str]]) -> tuple[VocLimit, ...]:
    """The rows of the limits, in table order. ``ValueError`` names the line that cannot be read."""
    found: dict[str, VocLimit] = {}
    for number, row in enumerate(rows, start=2):
        try:
            made = VocLimit(
                row["key"],
                Jurisdiction(row["regime"]),
                row["category"],
                row["title"],
                Base(row["base"]) if row["base"] else None,
                row["stage"],
                row["since"],
                int(row["limit_g_l"]),
                VocBasis(row["basis"]),
                _YES[row["in_force"]],
                row["citation"],
                row["source"],
                _graded(row),
                Provenance(row["provenance"]).value,
                row["note"],
            )
        except Exception as trouble:
            raise ValueError(f"{LIMITS}.csv line {number}: {trouble}") from trouble
        if made.key in found or not made.citation or made.limit_g_l <= 0:
            raise ValueError(f"{LIMITS}.csv line {number}: twice, without a citation or without a limit")
        found[made.key] = made
    return tuple(found.values())


def exempt_list(jurisdiction: Jurisdiction | None) -> ExemptList:
    """The compounds that a law does not count; of no law and of the EU none."""
    if jurisdiction is None or jurisdiction is Jurisdiction.EU:
        return ExemptList(jurisdiction)
    return ExemptList(jurisdiction, _lists().get(LIST_OF.get(jurisdiction, jurisdiction), {}))


@cache
def voc_limits() -> tuple[VocLimit, ...]:
    """Every limit that is held, read once; also those that a later stage has replaced."""
    return read_limits(read_rows(LIMITS))


@cache
def _lists() -> dict[Jurisdiction, dict[str, Exemption]]:
    return read_exemptions(read_rows(EXEMPTIONS))


def _graded(row: dict[str, str]) -> str:
    """The grade, which is never better than memory where one of the sources is."""
    held = [load_sources()[key.strip()] for key in row["source"].split(";")]
    grade = Grade(row["grade"])
    if any(one.provenance is Provenance.MEMORY for one in held) and grade is not Grade.MEMORY:
        raise ValueError("a row from memory says so")
    return grade.value
