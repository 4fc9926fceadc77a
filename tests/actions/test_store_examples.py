"""The worked examples of storage limits told as containers in a store, on both databases.

The same examples go through the calculator in tests/web/test_storage_examples.py. Here each item is a
container of the book, with the figures of its material in the unit they are told in.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from service.actions.judge_store import look_at_store
from service.core.storage_items import amount_of, liquid_in
from service.core.storage_places import unit_for
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import RuleSet, Scope
from service.core.store_limits import StoreJudged
from service.records.engine import Database
from tests.storage_shop import ToldStore

PUBLISHED = Path(__file__).parents[1] / "published" / "storage_examples.json"
NOT_TOLD = {
    "CL-11": "a store has no place where something is heated",
    "MQ-15": "nobody writes down what is kept for maintenance",
    "SG-01": "two groups told without containers", "SG-02": "two groups told without containers",
    "SG-03": "two groups told without containers", "SG-06": "two groups told without containers",
    "CB-07": "cabinets told without containers; test_judge_store.py has it with some",
    "UK-05": "what a cabinet's bottom holds is asked of the calculator alone",
}  # fmt: skip
EXAMPLES: list[dict[str, Any]] = [
    one for one in json.loads(PUBLISHED.read_text(encoding="utf-8")) if one["id"] not in NOT_TOLD
]


def rows(judged: StoreJudged, key: str, kind: str) -> list[JudgedRow]:
    found = [row for area in judged.areas for row in area.rows if row.row.key == key]
    if kind == "cabinet":
        return [row for row in found if row.group.scope is Scope.CABINET]
    return found


def holds(row: JudgedRow, says: dict[str, Any]) -> None:
    limit = row.allowed.limit
    got = {
        "limit": None if limit is None else float(limit), "counted": float(row.counted), "met": row.met,
        "over_by": float(row.over_by), "unlimited": row.allowed.unlimited, "binding": row.binding,
    }  # fmt: skip
    for name, value in says.items():
        if isinstance(value, bool) or value is None:
            assert got[name] is value, (name, got, says)
        else:
            assert got[name] == pytest.approx(value, abs=1e-12), (name, got, says)


def check_items(judged: StoreJudged, says: dict[str, Any]) -> None:
    area = next(one for one in judged.areas if one.answers)
    for answer in area.answers:
        expected = says.get("categories", {}).get(answer.rule_set.value)
        if expected is not None:
            placed = answer.things[0].placed
            assert placed is not None and placed.category == expected["category"]
            if "below_100f" in expected:
                assert placed.below_100f is expected["below_100f"]
        for thing, told in zip(answer.things, says.get("items", []), strict=False):
            unit = unit_for(answer.rule_set, sorted(thing.categories)[0])
            assert float(amount_of(thing.item, unit).value) == told["counted"], told
            assert thing.item.emptied is told.get("stored_as_full", False)
            if "liquid" in told:
                assert liquid_in(thing.item, unit) == told["liquid"]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_example_as_containers_of_a_store(sqlite_database: Database, example: dict[str, Any]) -> None:
    check(sqlite_database, example)


def test_the_examples_on_both_databases(database: Database) -> None:
    for example in EXAMPLES[::6]:
        check(database, example)


def check(database: Database, example: dict[str, Any]) -> None:
    says, kind = example["says"], example["ask"].get("place", {}).get("kind", "room")
    with database.reading() as session:
        ToldStore(session, example["ask"])
        judged = look_at_store(session)
        session.rollback()
    for key, expected in says.get("limits", {}).items():
        found = rows(judged, key, kind)
        assert len(found) == 1, (key, found)
        holds(found[0], expected)
    check_items(judged, says)
    for rule_set, met in says.get("rule_sets", {}).items():
        got = [one.met for area in judged.areas for one in area.answers if one.rule_set is RuleSet(rule_set)]
        whole = False if False in got else None if None in got else True
        # A question about one cabinet leaves the rows of its room and building out; a store never does.
        assert whole is met or (kind != "building" and met and whole is not True), (rule_set, got)


def test_no_example_is_lost() -> None:
    assert len(EXAMPLES) == 37
    assert sum(one["kind"] == "published" for one in EXAMPLES) == 6
