"""Every worked example of storage limits through POST /api/calc/storage.

Sources stand in tests/published/storage_examples.json: examples whose answer is printed in the source, and
cases that follow from a rule that was read. What an example leaves open and the call asks is filled in, and
its note says so.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_storage import router
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published" / "storage_examples.json"
EXAMPLES: list[dict[str, Any]] = json.loads(PUBLISHED.read_text(encoding="utf-8"))
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def ask(body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/calc/storage", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def holds(got: dict[str, Any], says: dict[str, Any]) -> None:
    """Every word and number that the example gives; a row is looked up by its key."""
    for name, value in says.items():
        if isinstance(value, float) or (isinstance(value, int) and not isinstance(value, bool)):
            assert got[name] == pytest.approx(value, abs=1e-9), (name, got)
        else:
            assert got[name] == value, (name, got)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    got = ask(example["ask"])
    says = example["says"]
    assert says
    for rule_set, expected in says.get("categories", {}).items():
        holds(next(one for one in got["items"][0]["categories"] if one["rule_set"] == rule_set), expected)
    for row, expected in says.get("limits", {}).items():
        found = [one for one in got["limits"] if one["row"] == row]
        assert len(found) == 1, (row, found)
        holds(found[0], expected)
    for rule_set, met in says.get("rule_sets", {}).items():
        assert {one["rule_set"]: one["met"] for one in got["rule_sets"]}[rule_set] is met, got["findings"]
    for name in ("items", "pairs"):
        for one, expected in zip(got[name], says.get(name, []), strict=name in says):
            holds(one, expected)
    if "spill_retention" in says:
        holds(got["spill_retention"], says["spill_retention"])


def test_no_example_is_lost() -> None:
    """45 worked examples: 7 published, 38 that follow from a rule that was read."""
    ids = [example["id"] for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 45
    assert sum(example["kind"] == "published" for example in EXAMPLES) == 7
    assert all(example["source"] and example["says"] and example["tolerance"] for example in EXAMPLES)
    checked = {"categories", "limits", "rule_sets", "items", "pairs", "spill_retention"}
    assert all(set(example["says"]) <= checked for example in EXAMPLES)


def test_every_row_that_is_answered_carries_where_it_comes_from() -> None:
    for example in EXAMPLES:
        for row in ask(example["ask"])["limits"]:
            assert row["citation"] and row["edition"] and row["grade"] and row["provenance"], example["id"]
