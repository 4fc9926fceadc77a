"""Reads the table of ageing policies (seed_data/knowledge/ageing_policies.csv) into policies of the core.

Most month figures of the trade have no published source: such a row is a house policy and says so.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import Final

from service.core.ageing_policies import AgeingPolicy, PolicyEnd, PolicyRow
from service.core.materials import MaterialKind

FILE_NAME: Final = "ageing_policies.csv"
_FOLDER: Final = Path(__file__).resolve().parents[2] / "seed_data" / "knowledge"
_NUMBERS: Final = (
    "sealed_months",
    "opened_months",
    "sealed_days",
    "opened_days",
    "hard_months",
    "extends_months",
    "max_extensions",
)


def read_policies(path: Path) -> tuple[PolicyRow, ...]:
    """All rows of a policy table. Raises ``ValueError`` naming the line and what is wrong."""
    with path.open(encoding="utf-8", newline="") as handle:
        lines = list(csv.DictReader(handle))
    rows: list[PolicyRow] = []
    for number, line in enumerate(lines, start=2):
        try:
            rows.append(_row(line))
        except (KeyError, ValueError) as error:
            raise ValueError(f"{path.name}, line {number}: {error}") from error
    named = [(row.key, None if row.key else row.kind) for row in rows]
    if len(set(named)) != len(named):
        raise ValueError(f"{path.name}: a material or kind has two rows")
    return tuple(rows)


@cache
def known_policies() -> tuple[PolicyRow, ...]:
    """The policies that come with the program, read once."""
    return read_policies(_FOLDER / FILE_NAME)


def _row(line: dict[str, str]) -> PolicyRow:
    key, kind = line["key"].strip(), line["kind"].strip()
    if not key and not kind:
        raise ValueError("a row is for a material or for a kind")
    if line["house_policy"] not in ("yes", "no"):
        raise ValueError("house_policy is yes or no")
    numbers = {name: int(line[name]) if line[name] else None for name in _NUMBERS}
    policy = AgeingPolicy(
        PolicyEnd(line["end"]),
        source=line["source"],
        grade=line["grade"],
        house_policy=line["house_policy"] == "yes",
        **numbers,
    )
    return PolicyRow(key, policy, MaterialKind(kind) if kind else None, line["note"])
