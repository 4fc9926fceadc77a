"""Every worked example of waste through POST /api/calc/waste; sources stand beside them in the file.

Doubts, as the source has them: flash point of D001, the F lists, the pH limits and the division by 20 are
from memory, so WS-13, WS-14 and WS-19 hold our arithmetic and not the official text.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_waste import router
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published" / "waste_examples.json"
EXAMPLES: list[dict[str, Any]] = json.loads(PUBLISHED.read_text(encoding="utf-8"))
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def ask(body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/calc/waste", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    got, says = ask(example["ask"]), dict(example["says"])
    assert says
    judged = {one["code"]: one["applies"] for stream in got["streams"] for one in stream["judged"]}
    for code, applies in says.pop("applies", {}).items():
        assert judged[code] is applies, got
    for code in says.pop("not_ruled_out", []):
        assert judged[code] is not False, got
    for name, value in says.pop("stream", {}).items():
        assert got["streams"][0][name] == value, got
    for name, value in says.pop("records", {}).items():
        assert got["records"][name] == value, got
    for name, value in says.items():
        assert got[name] == value, (name, got)


def test_no_example_is_lost() -> None:
    """15 worked examples: 1 published, 14 that follow from a rule, 3 of them from memory."""
    ids = [example["id"] for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 15
    assert sum(example["kind"] == "published" for example in EXAMPLES) == 1
    assert {one["id"] for one in EXAMPLES if one["basis"] == "memory"} == {"WS-13", "WS-14", "WS-19"}
    checked = {
        "category", "cap_exceeded", "cap_kg", "deadline", "overdue", "codes", "stream", "applies",
        "not_ruled_out", "records",
    }  # fmt: skip
    assert all(example["source"] and set(example["says"]) <= checked for example in EXAMPLES)
