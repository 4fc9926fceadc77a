"""Reads the tables of storage limits, footnotes, storeys, pairs (``seed_data/knowledge/storage_*.csv``)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import cache
from typing import Final, TypeVar

from service.core.rag_profile import RuleGrade
from service.core.sources import Provenance
from service.core.storage_ladders import ladder
from service.core.storage_rules import (
    MATERIAL_CLASSES,
    SCHEME_OF,
    Effect,
    Footnote,
    Force,
    KeptApart,
    Measure,
    RuleSet,
    Scope,
    StorageRow,
    StorageTables,
    StoreyShare,
    Use,
    UseGroup,
    Vessel,
    Where,
)
from service.records.knowledge import load_sources, read_rows

LIMITS: Final = "storage_limits"
NOTES: Final = "storage_notes"
STOREYS: Final = "storage_storeys"
PAIRS: Final = "storage_pairs"
_YES: Final = {"yes": True, "no": False}
_T = TypeVar("_T")


@cache
def storage_tables() -> StorageTables:
    """The tables that come with the program, read once."""
    return read_tables(read_rows(LIMITS), read_rows(NOTES), read_rows(STOREYS), read_rows(PAIRS))


def read_tables(
    limits: list[dict[str, str]],
    notes: list[dict[str, str]],
    storeys: list[dict[str, str]],
    pairs: list[dict[str, str]],
) -> StorageTables:
    """The rows of the four tables.

    ``ValueError`` names the table and the line that cannot be read; a row twice, one without a citation or a
    source, or one that is from memory and says that it was read is one.
    """
    marks = {(one.rule_set, one.mark): one for one in _each(NOTES, notes, _footnote)}
    rows = _each(LIMITS, limits, lambda row: _limit(row, marks))
    shares = _each(STOREYS, storeys, _storey)
    kept_apart = _each(PAIRS, pairs, _pair)
    _once(LIMITS, [row.key for row in rows])
    _once(PAIRS, [pair.key for pair in kept_apart])
    if len(marks) != len(notes):
        raise ValueError(f"{NOTES}.csv: a mark stands there twice")
    for row in rows:
        if row.storey_table and row.storey_table not in {share.table for share in shares}:
            raise ValueError(
                f"{LIMITS}.csv: {row.key} names the storeys of {row.storey_table}, which are not there"
            )
    return StorageTables(tuple(rows), tuple(shares), tuple(kept_apart))


def _each(table: str, rows: list[dict[str, str]], read: Callable[[dict[str, str]], _T]) -> list[_T]:
    found = []
    for number, row in enumerate(rows, start=2):
        try:
            found.append(read(row))
        except Exception as trouble:
            raise ValueError(f"{table}.csv line {number}: {trouble}") from trouble
    return found


def _once(table: str, keys: list[str]) -> None:
    twice = {key for key in keys if keys.count(key) > 1}
    if twice:
        raise ValueError(f"{table}.csv: {', '.join(sorted(twice))} stands there twice")


def _limit(row: dict[str, str], marks: Mapping[tuple[RuleSet, str], Footnote]) -> StorageRow:
    rule_set = RuleSet(row["rule_set"])
    known = {*ladder(SCHEME_OF[rule_set]).names, *MATERIAL_CLASSES}
    categories, drawn_in = frozenset(row["categories"].split()), frozenset(row["drawn_in"].split())
    if not categories | drawn_in <= known:
        raise ValueError(f"{sorted((categories | drawn_in) - known)} are no categories of {rule_set.value}")
    grade = _graded(row)
    made = StorageRow(
        key=row["key"],
        rule_set=rule_set,
        scopes=frozenset(Scope(word) for word in row["scopes"].split()),
        categories=categories,
        drawn_in=drawn_in,
        uses=frozenset(Use(word) for word in row["uses"].split()) or frozenset(Use),
        where=Where(row["where"]),
        vessels=_vessels(row["vessels"]),
        limit=Fraction(row["limit"]),
        unit=Measure(row["unit"]),
        footnotes=tuple(marks[rule_set, mark] for mark in row["notes"].split()),
        storey_table=row["storey_table"],
        basement_limit=Fraction(row["basement_limit"]) if row["basement_limit"] else None,
        basement_sprinklered=_YES[row["basement_sprinklered"]],
        use_group=UseGroup(row["use_group"]) if row["use_group"] else None,
        maintenance=_YES[row["maintenance"]],
        per_sq_ft=Fraction(row["per_sq_ft"]) if row["per_sq_ft"] else None,
        citation=row["citation"],
        edition=row["edition"],
        force=Force(row["force"]),
        grade=grade,
        provenance=row["provenance"],
        source=row["source"],
        says=row["says"],
    )
    if not (made.key and made.scopes and made.edition and made.says) or made.limit < 0:
        raise ValueError("a key, a scope, an edition or its words are missing, or the limit is below zero")
    return made


def _vessels(text: str) -> frozenset[Vessel]:
    """Empty: any. "not:drum": any but a drum."""
    if text.startswith("not:"):
        return frozenset(Vessel) - {Vessel(word) for word in text.removeprefix("not:").split()}
    return frozenset(Vessel(word) for word in text.split()) or frozenset(Vessel)


def _graded(row: dict[str, str]) -> RuleGrade:
    """The grade, in step with the sources behind it."""
    grade = RuleGrade(row["grade"])
    keys = row["source"].split()
    if not keys or not row["citation"].strip() or not row["provenance"].strip():
        raise ValueError("it names no source, no citation or not how we know it")
    memory = any(load_sources()[key].provenance is Provenance.MEMORY for key in keys)
    if memory != (grade is RuleGrade.MEMORY):
        raise ValueError("a row is from memory exactly if its source is")
    return grade


def _footnote(row: dict[str, str]) -> Footnote:
    _graded(row)
    return Footnote(
        RuleSet(row["rule_set"]), row["mark"], Effect(row["effect"]), row["citation"], row["says"]
    )


def _storey(row: dict[str, str]) -> StoreyShare:
    _graded(row)
    areas = int(row["control_areas"]) if row["control_areas"] else None
    hours = int(row["fire_barrier_hours"]) if row["fire_barrier_hours"] else None
    made = StoreyShare(
        row["table"], int(row["first"]), int(row["last"]), Fraction(row["percent"]), areas, row["citation"],
        hours,
    )  # fmt: skip
    if made.first > made.last or not 0 <= made.percent <= 100:
        raise ValueError("the storeys run backwards, or the share is no per cent")
    return made


def _pair(row: dict[str, str]) -> KeptApart:
    return KeptApart(
        key=row["key"],
        groups=frozenset({row["a"], row["b"]}),
        never_one_room=_YES[row["never_one_room"]],
        citation=row["citation"],
        edition=row["edition"],
        grade=_graded(row),
        provenance=row["provenance"],
        source=row["source"],
        says=row["says"],
    )
