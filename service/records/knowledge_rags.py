"""Reads the table of rag rules (seed_data/knowledge/rag_rules.csv) into rules and profiles of the core."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

from service.core.rag_profile import (
    PROFILES,
    RagProfile,
    RagRule,
    RuleForce,
    RuleGrade,
    RuleSubject,
)
from service.core.rags import RagItem

FILE_NAME = "rag_rules.csv"


def load_rag_rules(folder: Path) -> dict[str, tuple[RagRule, frozenset[str]]]:
    """Every rule of the table by its key, with the profiles that use it. ``folder`` is the knowledge folder.

    ``ValueError`` names the line that cannot be read; a rule twice or without citation or provenance is one.
    """
    rules: dict[str, tuple[RagRule, frozenset[str]]] = {}
    with (folder / FILE_NAME).open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines), start=2):
            try:
                rule = _rule(row)
            except (KeyError, ValueError, AttributeError) as trouble:
                raise ValueError(f"{FILE_NAME} line {number}: {trouble}") from trouble
            if rule.key in rules:
                raise ValueError(f"{FILE_NAME} line {number}: {rule.key} stands there twice")
            rules[rule.key] = (rule, frozenset(row["profiles"].split()))
    return rules


def load_profile(folder: Path, key: str) -> RagProfile:
    """The profile ``key`` with the rules of the table that name it.

    What it asks of a can stays as the core has it: the table can add reasons, never make a profile milder.
    """
    known = PROFILES[key]
    extra = [rule for rule, profiles in load_rag_rules(folder).values() if key in profiles]
    have = {rule.key for rule in known.rules}
    return replace(known, rules=known.rules + tuple(r for r in extra if r.key not in have))


def _rule(row: dict[str, str]) -> RagRule:
    for needed in ("key", "citation", "edition", "provenance", "says"):
        if not row[needed].strip():
            raise ValueError(f"{needed} is empty")
    items = frozenset(RagItem(word) for word in row["items"].split())
    return RagRule(
        key=row["key"],
        citation=row["citation"],
        edition=row["edition"],
        provenance=row["provenance"],
        grade=RuleGrade(row["grade"]),
        force=RuleForce(row["force"]),
        subject=RuleSubject(row["subject"]),
        items=items or frozenset(RagItem),
        says=row["says"],
    )
