"""Reads what follows from a look at a container (``conditions.csv``), and institutions' peroxide tables."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from service.core.conditions import ConditionRule, Consequence, Found, is_softer
from service.core.materials import MaterialKind
from service.core.sources import Grade
from service.records.knowledge import read_rows

TABLE: Final = "conditions"
PEROXIDES: Final = "peroxide_rules"
_YES_NO: Final = {"yes": True, "no": False}


@dataclass(frozen=True)
class PeroxideRule:
    """How long one institution keeps peroxide formers, in its own words; empty = it says nothing."""

    institution: str
    unopened: str
    opened_severe: str
    opened_concentrating: str
    source: str
    grade: str


@cache
def known_conditions() -> dict[Found, ConditionRule]:
    """The rule of every finding as it comes with the program. Read from disk once per process."""
    return read_conditions(read_rows(TABLE))


@cache
def peroxide_rules() -> tuple[PeroxideRule, ...]:
    """The institutions' tables side by side: they differ, so a shop chooses and names its source."""
    return tuple(PeroxideRule(**row) for row in read_rows(PEROXIDES))


def read_conditions(rows: list[dict[str, str]]) -> dict[Found, ConditionRule]:
    """The rules by finding. ``ValueError`` names a line that cannot be read, or a finding without a rule."""
    found: dict[Found, ConditionRule] = {}
    for number, row in enumerate(rows, start=2):
        try:
            made = _rule(row)
            if made.found in found:
                raise ValueError("it stands there twice")
        except Exception as trouble:
            raise ValueError(f"{TABLE}.csv line {number}: {trouble}") from trouble
        found[made.found] = made
    missing = [one.value for one in Found if one not in found]
    if missing:
        raise ValueError(f"{TABLE}.csv has no rule for {', '.join(missing)}")
    return found


def _rule(row: dict[str, str]) -> ConditionRule:
    rule = ConditionRule(
        found=Found(row["found"]),
        consequence=Consequence(row["consequence"]),
        what_to_do=row["what_to_do"],
        source=row["source"],
        grade=Grade(row["grade"]).value,
        house_policy=_YES_NO[row["house_policy"]],
        softest=Consequence(row["softest"]),
        kinds=frozenset(MaterialKind(kind) for kind in _list(row["kinds"])),
        keys=frozenset(_list(row["keys"])),
        not_keys=frozenset(_list(row["not_keys"])),
        hint=row["hint"],
    )
    if is_softer(rule.consequence, rule.softest):
        raise ValueError("it is softer than its softest")
    if not rule.source:
        raise ValueError("it names no source")
    return rule


def _list(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]
