"""The tables of waste: cited, graded as their sources are, the figures typed again by hand."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from service.records.knowledge import load_sources, read_rows
from service.records.knowledge_waste import (
    CATEGORIES,
    CLOCKS,
    CODES,
    ENTRIES,
    read_tables,
    record_years,
    solvent_share,
    waste_tables,
)

TABLES = waste_tables()
BY_HAND = {
    "sqg": "100", "lqg": "1000", "lqg-acute": "1", "lqg-residue": "100", "vsqg-cap": "1000",
    "vsqg-acute-cap": "1", "sqg-cap": "6000", "sqg-days": "180", "sqg-days-far": "270", "sqg-far": "200",
    "lqg-days": "90", "satellite-volume": "55", "satellite-acute": "1", "satellite-days": "3",
    "D001-flash": "60", "D002-low": "2", "D002-high": "12.5", "D004-tclp": "5", "D005-tclp": "100",
    "D006-tclp": "1", "D007-tclp": "5", "D008-tclp": "5", "D009-tclp": "0.2", "D010-tclp": "1",
    "D011-tclp": "5", "D018-tclp": "0.5", "D035-tclp": "200", "F-share": "10", "screen-20": "20",
}  # fmt: skip


def test_the_figures_typed_again_by_hand() -> None:
    held = {row.key: row.kg for row in TABLES.categories}
    held |= {row.key: row.value for row in TABLES.clocks}
    held |= {row.key: row.value for row in TABLES.codes if row.value is not None}
    for key, figure in BY_HAND.items():
        assert held[key] == Fraction(figure), key
    assert {row.key for row in TABLES.categories if row.reached_at} == {"lqg"}
    assert {what: (one.value, one.unit) for what, one in record_years().items()} == {
        "exposure": (30, "years"), "list-addition": (30, "days"), "waste": (3, "years"),
    }  # fmt: skip


def test_what_was_not_read_is_marked_as_memory() -> None:
    sources = load_sources()
    rows = (*TABLES.categories, *TABLES.clocks, *TABLES.codes, *TABLES.entries)
    for row in rows:
        assert row.citation and row.says and row.source in sources, row.key
        assert not re.search(r"\b(safe|good)\b", row.says.lower()), row.key
    assert all(row.read for row in (*TABLES.categories, *TABLES.clocks))
    memory = {row.key for row in TABLES.codes if not row.read}
    assert {"D001-flash", "D002-low", "F003-acetone", "screen-20"} <= memory
    assert not memory & {"D008-tclp", "F-share", "F003-only"}
    assert not any(row.read for row in TABLES.entries)


def test_a_solvent_by_its_names_and_numbers() -> None:
    whole = Fraction(100)
    told = {
        ("MEK", ""): {"F005"}, ("", "78-93-3"): {"F005"},
        ("Xylene", ""): {"F003"}, ("", "106-42-3"): {"F003"},
        ("mineral_spirits", ""): set(), ("turpentine", ""): set(),
    }  # fmt: skip
    for (name, cas), codes in told.items():
        share = solvent_share(name, cas, whole, whole)
        assert (share.codes, share.known) == (codes, True), (name, cas)
    assert solvent_share("brewer's cut", "", whole, whole).known is False


@pytest.mark.parametrize(
    ("table", "change"),
    [(CATEGORIES, {"kg": "-1"}), (CATEGORIES, {"bound": "below"}), (CATEGORIES, {"category": "HUGE"}),
     (CATEGORIES, {"citation": ""}), (CATEGORIES, {"grade": "memory"}), (CATEGORIES, {"source": "NOBODY"}),
     (CATEGORIES, {"key": "lqg"}), (CLOCKS, {"what": "year"}), (CLOCKS, {"value": "many"}),
     (CODES, {"test": "nose"}), (CODES, {"grade": "read"}), (ENTRIES, {"hazardous": "no"})],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_refused_by_table_and_line(table: str, change: dict[str, str]) -> None:
    names = (CATEGORIES, CLOCKS, CODES, ENTRIES)
    rows = {name: [dict(row) for row in read_rows(name)] for name in names}
    rows[table][0] |= change
    with pytest.raises(ValueError, match=rf"{table}.csv line [23]: "):
        read_tables(*(rows[name] for name in names))
