"""Reads the tables of rag rules and profiles (seed_data/knowledge/rag_*.csv) into those of the core."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path

from service.core.rag_profile import (
    PROFILES,
    RagProfile,
    RagRule,
    RemoveClock,
    RuleForce,
    RuleGrade,
    RuleSubject,
)
from service.core.rags import RagItem
from service.records.knowledge import knowledge_folder

FILE_NAME = "rag_rules.csv"
PROFILES_FILE = "rag_profiles.csv"
_TOLD = {"yes": True, "no": False}


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


def load_profiles(folder: Path) -> dict[str, RagProfile]:
    """Every profile by its key: strict as the core has it, then the single texts of the table.

    Beside its own rules each goes by this house's readings (what ends a load, drying, water); the calendar
    day only where its clock is a day. ``ValueError`` names the line that cannot be read.
    """
    rules = {key: rule for key, (rule, _) in load_rag_rules(folder).items()}
    found = {"strict": load_profile(folder, "strict")}
    with (folder / PROFILES_FILE).open(encoding="utf-8", newline="") as lines:
        for number, row in enumerate(csv.DictReader(lines), start=2):
            try:
                profile = _profile(row, rules)
            except (KeyError, ValueError, AttributeError) as trouble:
                raise ValueError(f"{PROFILES_FILE} line {number}: {trouble}") from trouble
            if profile.key in found:
                raise ValueError(f"{PROFILES_FILE} line {number}: {profile.key} stands there twice")
            found[profile.key] = profile
    return found


@cache
def rag_profiles() -> Mapping[str, RagProfile]:
    """The profiles that come with the program, read once."""
    return load_profiles(knowledge_folder())


def _profile(row: dict[str, str], rules: dict[str, RagRule]) -> RagProfile:
    for needed in ("key", "title", "rules"):
        if not row[needed].strip():
            raise ValueError(f"{needed} is empty")
    clock = RemoveClock(row["remove"])
    by_day = clock in (RemoveClock.DAY, RemoveClock.SHIFT_AND_DAY, RemoveClock.SHIFT_OR_DAY)
    house = [
        rule
        for rule in rules.values()
        if rule.force is RuleForce.HOUSE and (by_day or rule.subject is not RuleSubject.REMOVE)
    ]
    own = [rules[key] for key in row["rules"].split()]
    return RagProfile(
        key=row["key"],
        title=row["title"],
        rules=(*own, *house),
        asks_listed=_TOLD[row["asks_listed"]],
        asks_self_closing=_TOLD[row["asks_self_closing"]],
        laid_flat_contains=_TOLD[row["laid_flat_contains"]],
        remove=clock,
        water_meets_remove=_TOLD[row["water_meets_remove"]],
        items=frozenset(RagItem(word) for word in row["items"].split()) or frozenset(RagItem),
    )


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
