"""Every worked example of vapour and room air: through the call where it fits, else on the rule itself.

Sources, kinds and tolerances stand in tests/published/air_examples.json. Where a source is wrong, the right
figure is asserted, and what it prints is asserted to be out of its own tolerance.
"""

from __future__ import annotations

import importlib
import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.core.solvents.room_codes import CODE_RATES
from service.web.api.calc_vapour import router
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published" / "air_examples.json"
EXAMPLES: list[dict[str, Any]] = json.loads(PUBLISHED.read_text(encoding="utf-8"))
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def found(answer: Any, path: str) -> Any:
    for step in path.split("."):
        answer = answer[int(step)] if step.isdigit() else answer[step]
    return answer


def ask(one: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/calc/vapour", json=one["body"])
    if "refused" in one:
        assert answer.status_code == 422 and one["refused"] in answer.json()["detail"], answer.text
        return {}
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def called(one: dict[str, Any]) -> Any:
    module, _, name = one["function"].partition(".")
    rule = getattr(importlib.import_module(f"service.core.solvents.{module}"), name)
    args = [
        CODE_RATES[arg.removeprefix("rate:")] if isinstance(arg, str) and arg.startswith("rate:") else arg
        for arg in one["args"]
    ]
    got = rule(*args)
    take = one.get("take")
    if take is not None:
        got = got[take] if isinstance(take, int) else getattr(got, take)
    return got / one["per"] if "per" in one else got


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    assert example.get("asks") or example.get("calls")
    for one in example.get("asks", []):
        answer = ask(one)
        for said in one["says"]:
            got = found(answer, said["path"]) / said.get("per", 1)
            assert got == pytest.approx(said["value"], abs=said["within"], rel=0), (said, got)
        if "finding" in one:
            assert one["finding"] in [finding["code"] for finding in answer["findings"]]
            assert answer["complete"] is False
        assert one["says"] or "refused" in one
    for one in example.get("calls", []):
        got = called(one)
        if isinstance(one["value"], bool):
            assert got is one["value"]
        else:
            assert got == pytest.approx(one["value"], abs=one["within"] or 1e-9, rel=0), (one, got)


WRONG = [example for example in EXAMPLES if "source_error" in example]


@pytest.mark.parametrize("example", WRONG, ids=lambda example: str(example["id"]))
def test_what_a_source_has_wrong_is_not_what_we_say(example: dict[str, Any]) -> None:
    error = example["source_error"]
    assert error["why"]
    got = called(error) if "function" in error else found(ask(example["asks"][0]), error["path"])
    assert abs(got - error["printed"]) > error["within"]


def test_no_example_is_lost() -> None:
    """27 of vapour and room air and 24 of room ventilation; 15 published, 16 from memory, 20 derived."""
    ids = [str(example["id"]) for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 51
    assert sum(one.startswith("WE-") for one in ids) == 27
    assert sum(one.startswith("VC-") for one in ids) == 24
    kinds = Counter(example["kind"] for example in EXAMPLES)
    assert kinds == {"published": 15, "published-memory": 16, "derived": 20}
    assert [example["id"] for example in WRONG] == ["WE-09", "WE-86"]
    assert all(example["source"] and example["kind"] and example["what"] for example in EXAMPLES)
