"""The table of what is never mixed: read whole, graded, and a broken line is named."""

from __future__ import annotations

import pytest

from service.records.knowledge import load_sources, read_rows
from service.records.knowledge_never_with import never_with, read_never_with, read_sides


def test_every_source_resolves_and_memory_says_so() -> None:
    rows = read_rows("never_with")
    assert len(rows) == len(never_with()) >= 30
    for row in rows:
        assert {key.strip() for key in row["source"].split(";")} <= load_sources().keys(), row
        assert (row["provenance"] == "memory") == (row["grade"] == "memory"), row
    assert {row["side"] for row in read_rows("never_with_sides")} == {
        side.key for row in never_with() for side in (row.a, row.b)
    }


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("severity", "note"),
        ("side_a", "nobody"),
        ("source", "NOBODY"),
        ("source", ""),
        ("grade", "S"),
        ("provenance", "read"),
        ("answered_by", "student"),
        ("answered_by", "keeper"),
        ("condition", "it is meant so"),
        ("sentence", ""),
        ("key", "never-here"),
    ],
)
def test_a_row_that_cannot_be_read_is_named(column: str, value: str) -> None:
    rows = read_rows("never_with")
    rows[1] = {**rows[1], column: value}
    with pytest.raises(ValueError, match=r"never_with\.csv line 3"):
        read_never_with(rows, read_sides(read_rows("never_with_sides")))


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("side", "oxidiser"),
        ("keys", "nobody"),
        ("cas", "7722-84-2"),
        ("classes", "Ox. Stone"),
        ("kinds", "stone"),
        ("fact", "perhaps"),
        ("of_itself", "no"),
        ("named", "("),
    ],
)
def test_a_side_that_cannot_be_read_is_named(column: str, value: str) -> None:
    rows = read_rows("never_with_sides")
    rows[1] = {**rows[1], column: value}
    with pytest.raises(ValueError, match=r"never_with_sides\.csv line 3"):
        read_sides(rows)
