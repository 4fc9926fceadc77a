"""The tables of storage limits: cited, graded, in step with their sources, the figures typed again."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

from service.core.rag_profile import RuleGrade
from service.core.storage_rules import Force, RuleSet
from service.records.knowledge import load_sources, read_rows
from service.records.knowledge_storage import LIMITS, NOTES, PAIRS, STOREYS, read_tables, storage_tables

TABLES = storage_tables()
BY_HAND = {
    "osha-h12-glass": "0.125 0.25 1 1", "osha-h12-metal": "1 5 5 5", "osha-h12-safety-can": "2 5 5 5",
    "osha-h12-drum": "60 60 60 60", "osha-h12-tank": "660 660 660 660",
}  # fmt: skip
MAQ_BY_HAND = {
    "ia": "30 30 10", "ib-ic": "120 120 30", "i": "120 120 30", "ii": "120 120 30", "iiia": "330 330 80",
    "iiib": "13200 13200 3300", "flammable-solid": "125 125 25", "organic-peroxide-1": "5 1 1",
    "organic-peroxide-2": "50 50 10", "organic-peroxide-3": "125 125 25",
    "organic-peroxide-detonable": "1 .25 .25",
    "oxidizer-4": "1 .25 .25", "oxidizer-3": "10 2 2", "oxidizer-2": "250 250 50",
    "oxidizer-1": "4000 4000 1000",
    "pyrophoric": "4 1 0", "water-reactive-3": "5 5 1", "water-reactive-2": "50 50 10",
}  # fmt: skip
OTHERS_BY_HAND = {
    "osha-cabinet-cat123": 60, "osha-cabinet-cat4": 120, "osha-cabinet-mixed": 120, "osha-outside-cat1": 25,
    "osha-outside-cat234": 120, "osha-outside-tank": 660, "ifc-cabinet": 120, "ifc-maintenance-outside": 10,
    "ifc-permit-class-i": 5, "ifc-permit-class-ii-iiia": 25, "ifc-lab-container": Fraction("5.3"),
    "ifc-lab-class-i-density": 8, "ifc-mercantile-class-i": 5, "build-cabinets-in-area": 3,
    "build-room-outside": 25, "build-cabinet-below-140": 60, "build-cabinet-140-up": 120, "hse-50": 50,
    "hse-250": 250, "trgs-h224": 10, "trgs-h224-h225": 20, "trgs-h224-h225-measures": 200, "trgs-all": 1500,
}  # fmt: skip


def limit(key: str) -> Fraction:
    return next(row.limit for row in TABLES.rows if row.key == key)


def test_the_figures_typed_again_by_hand() -> None:
    for start, figures in BY_HAND.items():
        assert [limit(f"{start}-cat{n}") for n in (1, 2, 3, 4)] == [
            Fraction(one) for one in figures.split()
        ], start
    for key, figures in MAQ_BY_HAND.items():
        uses = [limit(f"ifc-maq-{key}-{use}") for use in ("storage", "closed", "open")]
        assert uses == [Fraction(one) for one in figures.split()], key
    for key, figure in OTHERS_BY_HAND.items():
        assert limit(key) == figure, key
    assert [limit(f"ifc-maq-{key}-storage") for key in ("corrosive", "toxic", "highly-toxic")] == [
        500,
        500,
        10,
    ]


@pytest.mark.parametrize(
    ("storey", "percent", "areas"),
    [(200, "5", 1), (10, "5", 1), (9, "5", 2), (7, "5", 2), (6, "12.5", 2), (4, "12.5", 2),
     (3, "50", 2), (2, "75", 3),
     (1, "100", 4), (-1, "75", 3), (-2, "50", 2), (-3, "0", 0), (-50, "0", 0)],
)  # fmt: skip
def test_the_storeys_typed_again_by_hand(storey: int, percent: str, areas: int) -> None:
    share = TABLES.share("maq", storey)
    assert share is not None
    assert (share.percent, share.control_areas) == (Fraction(percent), areas)


def test_every_storey_of_the_call_stands_once() -> None:
    for storey in (*range(-50, 0), *range(1, 201)):
        assert sum(s.table == "maq" and s.first <= storey <= s.last for s in TABLES.storeys) == 1, storey
    assert TABLES.share("maq", 0) is None


def test_every_row_is_cited_graded_and_from_a_source_that_is_there() -> None:
    sources = load_sources()
    for row in (*TABLES.rows, *TABLES.kept_apart):
        assert row.citation and row.edition and row.says and row.provenance, row.key
        assert set(row.source.split()) <= set(sources), row.key
        assert ("memory" in row.provenance) is (row.grade is RuleGrade.MEMORY), row.key
    from_memory = {row.key for row in TABLES.rows if row.from_memory}
    assert from_memory == {"trgs-h226", "trgs-h226-measures"}
    assert {row.key for row in TABLES.rows if row.force is Force.HOUSE} == {"osha-cabinet-mixed"}
    assert {row.rule_set for row in TABLES.rows} == set(RuleSet)


def test_no_word_of_the_tables_promises_too_much() -> None:
    words = " ".join(row.says for row in (*TABLES.rows, *TABLES.kept_apart)).lower()
    assert not re.search(r"\b(safe|good)\b", words)


def edited(table: str, number: int, **change: str) -> dict[str, list[dict[str, str]]]:
    rows = {name: [dict(row) for row in read_rows(name)] for name in (LIMITS, NOTES, STOREYS, PAIRS)}
    rows[table][number] |= change
    return rows


@pytest.mark.parametrize(
    ("table", "change"),
    [
        (LIMITS, {"rule_set": "osha"}), (LIMITS, {"categories": "5"}), (LIMITS, {"categories": "IA"}),
        (LIMITS, {"limit": "-1"}), (LIMITS, {"limit": "many"}), (LIMITS, {"limit": ""}),
        (LIMITS, {"unit": "pint"}),
        (LIMITS, {"source": "NOBODY"}), (LIMITS, {"source": ""}), (LIMITS, {"citation": " "}),
        (LIMITS, {"grade": "memory"}), (LIMITS, {"grade": ""}), (LIMITS, {"notes": "z"}),
        (LIMITS, {"says": ""}),
        (LIMITS, {"edition": ""}), (LIMITS, {"scopes": ""}), (LIMITS, {"scopes": "shelf"}),
        (LIMITS, {"uses": "later"}),
        (LIMITS, {"vessels": "hat"}), (LIMITS, {"force": "perhaps"}), (LIMITS, {"source": "TRGS-510-MEM"}),
        (LIMITS, {"provenance": ""}), (NOTES, {"effect": "halve"}), (NOTES, {"source": ""}),
        (STOREYS, {"first": "300"}), (STOREYS, {"percent": "101"}), (PAIRS, {"never_one_room": "maybe"}),
        (PAIRS, {"citation": ""}),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_named(table: str, change: dict[str, str]) -> None:
    rows = edited(table, 0, **change)
    with pytest.raises(ValueError, match=rf"{table}\.csv line 2"):
        read_tables(rows[LIMITS], rows[NOTES], rows[STOREYS], rows[PAIRS])


def test_a_row_twice_or_storeys_that_are_not_there_are_named() -> None:
    rows = edited(LIMITS, 1, key="osha-h12-glass-cat1")
    with pytest.raises(ValueError, match="osha-h12-glass-cat1 stands there twice"):
        read_tables(rows[LIMITS], rows[NOTES], rows[STOREYS], rows[PAIRS])
    rows = edited(LIMITS, 0, storey_table="towers")
    with pytest.raises(ValueError, match="towers"):
        read_tables(rows[LIMITS], rows[NOTES], rows[STOREYS], rows[PAIRS])
    rows = edited(NOTES, 1, mark="b")
    with pytest.raises(ValueError):
        read_tables(rows[LIMITS], rows[NOTES], rows[STOREYS], rows[PAIRS])
