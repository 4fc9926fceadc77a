"""Every worked example of VOC, exposure and their units, through the calls.

Sources stand in tests/published/voc_examples.json. An example whose source prints a wrong figure names it
under ``source_error``: the printed one must not come out.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api import calc_convert, calc_exposure, calc_voc
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published"
EXAMPLES: list[dict[str, Any]] = json.loads((PUBLISHED / "voc_examples.json").read_text(encoding="utf-8"))
IDS = "10 11 12 13 16 17 19 46 47 55 56 57 58 59 61 62 63 64 65 66 67 68 85"
app = FastAPI()
for module in (calc_convert, calc_exposure, calc_voc):
    app.include_router(module.router)
install(app)
client = TestClient(app)


def ask(example: dict[str, Any]) -> dict[str, Any]:
    answer = client.post(f"/api/calc/{example['call']}", json=example["ask"])
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    got = ask(example)
    for name, value in example["says"].items():
        found = got[name]
        if isinstance(value, bool):
            assert found is value, name
        else:
            assert float(found) == pytest.approx(value, abs=example["tolerance"], rel=0), name
    wrong = example.get("source_error")
    if wrong:
        (name,) = example["says"]
        assert abs(float(got[name]) - wrong["printed"]) > wrong["tolerance"], wrong["why"]
    rows = {row["row"]: row for row in got.get("limits", [])}
    for key, (limit, met, word) in example.get("limits", {}).items():
        assert (rows[key]["limit"], rows[key]["met"], rows[key]["word"]) == (limit, met, word)


def test_no_example_is_lost() -> None:
    """23 worked examples: 17 published, 2 remembered, 4 constructed; three of their sources print a slip."""
    assert [one["id"] for one in EXAMPLES] == [f"WE-{number}" for number in IDS.split()]
    kinds = [one["kind"] for one in EXAMPLES]
    assert [kinds.count(kind) for kind in ("published", "published-memory", "derived")] == [17, 2, 4]
    slips = {one["id"] for one in EXAMPLES if "source_error" in one}
    assert slips == {"WE-17", "WE-56", "WE-57"}
    assert all(one["source"] and one["says"] and one["tolerance"] for one in EXAMPLES)
