"""Every worked example of control banding through POST /api/calc/ventilation-class.

Sources stand in tests/published/ventilation_examples.json: outcomes and table lines that were read, and
rows that follow from the tables. Where an example does not name its scheme, HSE 2017 is asked for: the call
by itself takes the worse.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_ventilation import router
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published" / "ventilation_examples.json"
EXAMPLES: list[dict[str, Any]] = json.loads(PUBLISHED.read_text(encoding="utf-8"))
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def ask(body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/calc/ventilation-class", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    got = ask(example["ask"])
    assert example["says"]
    for key, value in example["says"].items():
        found = [one["what"] for one in got[key]] if key == "not_covered" else got[key]
        assert found == value, (key, got)
    assert got["because"]


def test_no_example_is_lost() -> None:
    """55 worked examples: 14 published, 41 that follow from the tables."""
    ids = [example["id"] for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 55
    assert sum(example["kind"] == "published" for example in EXAMPLES) == 14
    assert all(example["source"] and example["says"] for example in EXAMPLES)


def test_the_worse_scheme_never_gives_a_milder_class() -> None:
    for example in EXAMPLES:
        classes = {
            scheme: ask({**example["ask"], "scheme": scheme})["class_at_least"]
            for scheme in ("hse2017", "ilo_icct", "worse")
        }
        assert classes["worse"] == max(classes.values()), example["id"]
