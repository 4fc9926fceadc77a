"""Reads the tables of waste (``seed_data/knowledge/waste_*.csv``) and of how long records are kept."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from functools import cache
from typing import Any, Final, TypeVar

from service.core.record_years import Period
from service.core.sources import Provenance
from service.core.waste_rules import (
    Category,
    CategoryRow,
    Clock,
    ClockRow,
    CodeRow,
    EntryRow,
    Kind,
    Test,
    WasteTables,
    plain,
)
from service.core.waste_streams import SolventShare
from service.records.knowledge import find_known, load_sources, named_exactly, read_rows

CATEGORIES: Final = "waste_categories"
CLOCKS: Final = "waste_clocks"
CODES: Final = "waste_codes"
ENTRIES: Final = "waste_entries"
PERIODS: Final = "record_years"
_BOUND: Final = {"above": False, "from": True}
_YES: Final = {"yes": True, "no": False}
_T = TypeVar("_T")
Rows = list[dict[str, str]]


@cache
def waste_tables() -> WasteTables:
    """The tables that come with the program, read once."""
    return read_tables(*(read_rows(name) for name in (CATEGORIES, CLOCKS, CODES, ENTRIES)))


@cache
def record_years() -> dict[str, Period]:
    """How long records are kept, by what they are of."""
    return {one.what: one for one in _each(PERIODS, read_rows(PERIODS), _period)}


def read_tables(categories: Rows, clocks: Rows, codes: Rows, entries: Rows) -> WasteTables:
    """The rows of the four tables.

    ``ValueError`` names the table and line that cannot be read: a key twice, no citation, a source that is
    not there, or one from memory that says that it was read.
    """
    return WasteTables(
        tuple(_each(CATEGORIES, categories, _category)),
        tuple(_each(CLOCKS, clocks, _clock)),
        tuple(_each(CODES, codes, _code)),
        tuple(_each(ENTRIES, entries, _entry)),
    )


def solvent_share(name: str, cas: str, low: Fraction, high: Fraction) -> SolventShare:
    """A part of a solvent as the codes see it: listed, held and not listed, or a name we do not know."""
    tables = waste_tables()
    row = tables.listed(cas, name)
    if row is not None:
        return SolventShare(name or row.substance, low, high, frozenset(row.codes))
    met = named_exactly(name.replace("_", " ")) if name else ()
    met = met or (find_known(cas) if cas else ())
    codes = {tables.listed(*one.cas, one.name, *one.synonyms) for one in met}
    if len(codes) > 1:
        # Some of what this name may mean is listed and some is not.
        return SolventShare(name or cas, low, high, frozenset(), known=False)
    listed = next(iter(codes), None)
    found = frozenset(listed.codes) if listed is not None else frozenset[str]()
    return SolventShare(name or cas, low, high, found, known=bool(met) or plain(name) == "water")


def _each(table: str, rows: Rows, read: Callable[[dict[str, str]], _T]) -> list[_T]:
    found, seen = [], set()
    for number, row in enumerate(rows, start=2):
        try:
            if row["key"] in seen:
                raise ValueError(f"{row['key']} stands there twice")
            found.append(read(row))
        except Exception as trouble:
            raise ValueError(f"{table}.csv line {number}: {trouble}") from trouble
        seen.add(row["key"])
    return found


def _graded(row: dict[str, str]) -> str:
    if (
        not row["citation"]
        or not row["says"]
        or not row["provenance"]
        or row["grade"] not in ("read", "memory")
    ):
        raise ValueError("it names no citation, no sentence or not how we know it")
    memory = load_sources()[row["source"]].provenance is Provenance.MEMORY
    if memory != (row["grade"] == "memory"):
        raise ValueError("a row is from memory exactly if its source is")
    return row["grade"]


def _cited(row: dict[str, str]) -> dict[str, Any]:
    return {"grade": _graded(row)} | {
        name: row[name] for name in ("key", "citation", "source", "provenance", "says")
    }


def _category(row: dict[str, str]) -> CategoryRow:
    return CategoryRow(
        **_cited(row),
        category=Category(row["category"]),
        kind=Kind(row["kind"]),
        kg=_above_zero(row["kg"]),
        reached_at=_BOUND[row["bound"]],
    )


def _clock(row: dict[str, str]) -> ClockRow:
    named = row["category"].split()
    return ClockRow(
        **_cited(row),
        categories=frozenset(Category) if named == ["any"] else frozenset(Category(one) for one in named),
        what=Clock(row["what"]),
        value=_above_zero(row["value"]),
        unit=row["unit"],
    )


def _code(row: dict[str, str]) -> CodeRow:
    also = {plain(one) for one in (row["substance"], *row["also"].split(";"))} - {""}
    return CodeRow(
        **_cited(row),
        codes=tuple(row["code"].split()),
        test=Test(row["test"]),
        substance=row["substance"],
        also=frozenset(also),
        value=_above_zero(row["value"]) if row["value"] else None,
        unit=row["unit"],
    )


def _entry(row: dict[str, str]) -> EntryRow:
    made = EntryRow(**_cited(row), code=row["code"], kind=row["kind"], hazardous=_YES[row["hazardous"]])
    if made.hazardous is not made.code.endswith("*"):
        raise ValueError("a star stands exactly at what is hazardous")
    return made


def _period(row: dict[str, str]) -> Period:
    _graded(row)
    if row["basis"] not in ("law", "policy") or row["unit"] not in ("years", "days"):
        raise ValueError("the basis is law or policy, the unit years or days")
    return Period(
        row["what"], int(row["value"]), row["unit"], row["citation"], row["basis"], row["grade"], row["says"]
    )


def _above_zero(text: str) -> Fraction:
    value = Fraction(text)
    if value <= 0:
        raise ValueError(f"{text} is not above zero")
    return value
