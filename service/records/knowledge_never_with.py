"""Reads what is never mixed with what (``never_with.csv``) and what stands on which side of it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from typing import Final

from service.core.access import Role
from service.core.component_lines import read_cas
from service.core.findings import Severity
from service.core.hazards.classes import Family
from service.core.materials import MaterialKind
from service.core.mixed_things import ByFact, Names, NoOil, Side
from service.core.never_with import NeverWith
from service.core.sources import Grade, Provenance
from service.core.written_numbers import ci_names
from service.records.knowledge import known, load_sources, read_rows

SIDES: Final = "never_with_sides"
ROWS: Final = "never_with"
_SEVERITY: Final = {"stop": Severity.STOP, "warn": Severity.WARN}
_ANSWERS: Final = {"": None, "finisher": Role.FINISHER, "keeper": Role.KEEPER}


@cache
def never_with() -> tuple[NeverWith, ...]:
    """Every row in the order of the table. Read from disk once per process."""
    return read_never_with(read_rows(ROWS), read_sides(read_rows(SIDES)))


def read_sides(rows: list[dict[str, str]]) -> dict[str, Side]:
    """The sides by key. ``ValueError`` names the line that cannot be read."""
    found: dict[str, Side] = {}
    for number, row in enumerate(rows, start=2):
        try:
            # Only sides of lines above: none can then stand on itself.
            made = replace(_side(row), also=tuple(found[key] for key in _list(row["also"])))
            if made.key in found:
                raise ValueError("it stands there twice")
        except Exception as trouble:
            raise ValueError(f"{SIDES}.csv line {number}: {trouble}") from trouble
        found[made.key] = made
    return found


def read_never_with(rows: list[dict[str, str]], sides: dict[str, Side]) -> tuple[NeverWith, ...]:
    """The rows, each with both its sides. ``ValueError`` names the line that cannot be read."""
    found: dict[str, NeverWith] = {}
    for number, row in enumerate(rows, start=2):
        try:
            made = NeverWith(
                row["key"],
                sides[row["side_a"]],
                sides[row["side_b"]],
                _SEVERITY[row["severity"]],
                row["sentence"],
                _source(row),
                row["condition"],
                _ANSWERS[row["answered_by"]],
                {"yes": True, "": False}[row["no_jar"]],
            )
            if made.key in found or not made.key or not made.sentence:
                raise ValueError("twice, or without a key or a sentence")
            if bool(made.condition) != (made.answered_by is not None):
                raise ValueError("a condition and who may answer it go together")
            if made.answered_by is not None and made.severity is not Severity.STOP:
                raise ValueError("only a stop is answered")
        except Exception as trouble:
            raise ValueError(f"{ROWS}.csv line {number}: {trouble}") from trouble
        found[made.key] = made
    return tuple(found.values())


def _side(row: dict[str, str]) -> Side:
    keys = _list(row["keys"])
    missing = [key for key in keys if known(key) is None]
    if missing or not row["side"] or not row["words"]:
        raise ValueError(f"no such published row: {missing}" if missing else "no key or no words")
    names = Names(
        frozenset(keys),
        frozenset(read_cas(cas) for cas in _list(row["cas"])),
        frozenset(_one_ci(name) for name in _list(row["ci"])),
    )
    made = Side(
        key=row["side"],
        words=row["words"],
        names=names,
        families=frozenset(Family(one) for one in _list(row["classes"])),
        statements=frozenset(_list(row["codes"])),
        kinds=frozenset(MaterialKind(one) for one in _list(row["kinds"])),
        only_kinds=frozenset(MaterialKind(one) for one in _list(row["only_kinds"])),
        metals=frozenset(one.casefold() for one in _list(row["metals"])),
        named=_pattern(row["named"]),
        doubtful=_pattern(row["doubtful"]),
        fact=ByFact(row["fact"]) if row["fact"] else None,
        no_oil=NoOil(row["no_oil"]) if row["no_oil"] else None,
        of_itself={"yes": True, "": False}[row["of_itself"]],
    )
    by_what = (names.told, made.families, made.statements, made.kinds, made.named, made.doubtful, made.fact,
               _list(row["also"]))  # fmt: skip
    if not any(by_what):
        raise ValueError("nothing could ever stand on this side")
    return made


def _one_ci(text: str) -> str:
    (name,) = ci_names(text)
    return name


def _source(row: dict[str, str]) -> str:
    """Who says so, with the grade, which is never better than memory where one of the sources is."""
    held = [load_sources()[key] for key in _list(row["source"])]
    grade, provenance = Grade(row["grade"]), Provenance(row["provenance"])
    if not held:
        raise ValueError("no source")
    if any(one.provenance is Provenance.MEMORY for one in held) != (grade is Grade.MEMORY):
        raise ValueError("a row from memory says so, and no other")
    if (provenance is Provenance.MEMORY) != (grade is Grade.MEMORY):
        raise ValueError("grade and provenance do not fit")
    if grade is Grade.MEMORY:
        return "widely taught in the trade; written down from memory, not checked against a text"
    return "; ".join(one.what for one in held)


def _pattern(text: str) -> re.Pattern[str] | None:
    return re.compile(text, re.IGNORECASE) if text else None


def _list(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]
