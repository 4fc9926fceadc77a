"""Every worked example of the rag rules (sources in tests/published/rag_examples.toml) through the call.

Asked by the profile of its own text and by the strict one: both verdicts stand in the answer.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_rag_deadline import router
from service.web.errors import install

EXAMPLES: list[dict[str, Any]] = tomllib.loads(
    (Path(__file__).parents[1] / "published" / "rag_examples.toml").read_text(encoding="utf-8")
)["example"]
BOXES: dict[str, dict[str, Any]] = {
    "listed-can": {
        "material": "metal", "lid": "self_closing", "listed": True, "floor": "noncombustible",
        "distance_mm": 700,
    },
    "plastic-can": {"material": "plastic", "lid": "self_closing"},
    "cardboard-box": {"material": "cardboard", "lid": "none"},
    "water-full": {"material": "metal", "lid": True, "water": "full"},
    "water-partly": {"material": "metal", "lid": True, "water": "partly"},
}  # fmt: skip
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def entry(text: str) -> dict[str, Any]:
    """Reads "[date ]time step box-or-receiver"."""
    when, step, rest = text.rsplit(" ", 2)
    said: dict[str, Any] = {"at": when if "-" in when else f"2026-03-10 {when}", "step": step}
    if step == "removed":
        return said | {"removal": {"how": rest, "named": "North Quay Waste"}}
    return said | {"receptacle": BOXES[rest]}


def ask(example: dict[str, Any], *profiles: str) -> dict[str, Any]:
    body = {
        "profiles": list(profiles), "time_zone": "America/Chicago",
        "entries": [*map(entry, example["entries"])],
    } | example["ask"]  # fmt: skip
    answer = client.post("/api/calc/rag-deadline", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e["id"])
def test_the_text_says_what_the_example_says(example: dict[str, Any]) -> None:
    got = ask(example, *example["profiles"])
    assert {name: got[name] for name in example["text_says"]} == example["text_says"]
    assert {one["profile"] for one in got["by_profile"]} == set(example["profiles"])
    for one in got["by_profile"]:
        assert one["because"] and all(reason["citation"] for reason in one["because"])


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda e: e["id"])
def test_both_verdicts_stand_where_the_text_and_the_strict_profile_differ(example: dict[str, Any]) -> None:
    got = ask(example, example["profiles"][0], "strict")
    text, strict = got["by_profile"]
    assert {name: strict[name] for name in example["strict_says"]} == example["strict_says"]
    assert got["agree"] == ((text["overdue"], text["violation"]) == (strict["overdue"], strict["violation"]))
    # The answer on top is never milder than either.
    assert got["overdue"] == (text["overdue"] or strict["overdue"])
    assert got["minutes_late"] == max(text["minutes_late"], strict["minutes_late"]) or not got["overdue"]


def test_a_text_without_a_clock_gives_no_time_and_one_that_is_silent_frees_from_nothing() -> None:
    example = next(e for e in EXAMPLES if e["id"] == "RG-07")
    got = ask(example, "osha_1926_252_e")
    assert got["remove_by"] is None and got["minutes_left"] is None
    steel = example | {"ask": example["ask"] | {"item": "steel_wool"}}
    silent = ask(steel, "osha-1926-252-e")
    assert silent["overdue"] and "profile-silent" in {f["code"] for f in silent["findings"]}
    assert silent["complete"] is False


def test_either_will_do_or_both_are_asked() -> None:
    """29 CFR 1910.107(g)(3) says "or", IFC 2403.4.3 says "and": a shift past midnight and one before it."""
    example = next(e for e in EXAMPLES if e["id"] == "RG-02")
    late = example | {"ask": example["ask"] | {"shift_end": "2026-03-11 02:00"}, "entries": []}
    both = ask(late, "ifc_2403_4_3", "osha_107_g3")["by_profile"]
    assert [one["remove_by"] for one in both] == ["2026-03-11T00:00:00-05:00", "2026-03-11T02:00:00-05:00"]
    early = ask(example, "ifc_2403_4_3", "osha_107_g3")["by_profile"]
    assert [one["remove_by"] for one in early] == ["2026-03-10T16:00:00-05:00", "2026-03-11T00:00:00-05:00"]
