"""The codes of a drum of waste today: as judged when it was begun, and what may apply by what is in it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from service.core.waste_drums import counting
from service.core.waste_metals import (
    NOT_TOLD,
    Content,
    metal_rows,
    metals_in,
    metals_named,
    not_told,
    say_run,
)
from service.core.waste_rules import CodeRow, Jurisdiction, Test
from service.records.knowledge_waste import waste_tables
from service.records.known_identities import metals_by_number
from service.records.waste_drum_queries import SeenDrum

CORROSIVE = "Its pH was not told."


def codes_now(seen: SeenDrum, law: Jurisdiction | None) -> list[dict[str, Any]]:
    """The codes that hold or may apply; ``applies`` None: not known. What was judged stays as it was.

    For the United States a metal that a material in the drum or its words, or those of an entry, name by word
    or number may apply whatever was said,
    and so may what was never judged of this drum: its pH, and metals of which nobody said anything.
    """
    kept = list(seen.row.codes)
    found = [one for one in kept if one["applies"] is not False]
    if law is not Jurisdiction.US:
        return found
    tables = waste_tables()
    judged, open_now = {one["code"] for one in kept}, {one["code"] for one in found}
    contents = contents_of(seen)
    by_material = metals_in(contents)
    for one in contents:
        for metal, number in metals_by_number(one.name, is_name=True):
            by_material.setdefault(metal, f"{one.name} ({one.code}) went in: {number}.")
    words = _words(seen)
    by_word = metals_named(words) | dict(metals_by_number(words))
    gap = not_told(contents)
    for row in metal_rows(tables):
        code, metal = row.codes[0], row.substance
        why = by_material.get(metal, "")
        if not why and metal in by_word:
            why = f"“{by_word[metal]}” may stand for {metal}. Have it leached."
        if not why:
            why = gap if code in judged else NOT_TOLD
        if why and code not in open_now:
            found.append(_may_apply(row, why))
    if "D002" not in judged:
        found.append(_may_apply(next(iter(tables.tests(Test.PH_MOST))), CORROSIVE))
    return found


def _words(seen: SeenDrum) -> str:
    """All that was written of what is in it: its stream, its hazards, and each entry that stands."""
    stands = {one.number for one in counting(entry.entry for entry in seen.entries)}
    rows = [one.row for one in seen.entries if one.row.id in stands]
    return "; ".join([seen.row.stream, seen.row.hazards, *(f"{row.what}; {row.note}" for row in rows)])


def contents_of(seen: SeenDrum) -> list[Content]:
    """The materials of the book that went in, each container once."""
    stands = {one.number for one in counting(entry.entry for entry in seen.entries)}
    found = {}
    for one in seen.entries:
        if one.kind is not None and one.row.id in stands:
            found[one.code] = Content(one.material, one.code, one.kind, one.metals)
    return list(found.values())


def grouped(codes: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Codes to read: those that may apply for one reason of one source are one line."""
    lines: dict[tuple[Any, ...], list[dict[str, Any]]] = {}
    for number, one in enumerate(codes):
        apart = number if one["applies"] else None
        lines.setdefault((apart, one["why"], one["citation"], one["grade"]), []).append(one)
    return [many[0] | {"code": say_run(one["code"] for one in many)} for many in lines.values()]


def _may_apply(row: CodeRow, why: str) -> dict[str, Any]:
    return {
        "code": row.codes[0], "applies": None, "why": why, "citation": row.citation, "grade": row.grade,
    }  # fmt: skip
