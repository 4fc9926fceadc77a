"""Every worked example of self-heating through the calls; what a missing or odd figure is answered with.

Sources stand in tests/published/self_heating_examples.json. Most rest on constants from memory, so they hold
our arithmetic and no official text.
"""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest
from fastapi import FastAPI
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from service.core.self_heating_theory import activation_kj_mol, critical_at_c
from service.web.api import calc_oxygen, calc_self_heating
from service.web.errors import install

PUBLISHED: Final = Path(__file__).parents[1] / "published"
EXAMPLES: Final[list[dict[str, Any]]] = json.loads(
    (PUBLISHED / "self_heating_examples.json").read_text(encoding="utf-8")
)
app = FastAPI()
for module in (calc_oxygen, calc_self_heating):
    app.include_router(module.router)
install(app)
client = TestClient(app, raise_server_exceptions=False)


def ask(body: dict[str, Any], through: str = "self-heating", status: int = 200) -> dict[str, Any]:
    answer = client.post(f"/api/calc/{through}", json=body)
    assert answer.status_code == status, answer.text
    return dict(answer.json())


def holds(got: Any, says: Any, tolerance: float) -> None:
    if isinstance(says, dict):
        for name, value in says.items():
            holds(got[name], value, tolerance)
    elif isinstance(says, float):
        assert got == pytest.approx(says, abs=tolerance)
    else:
        assert got is says if says is None or isinstance(says, bool) else got == says


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    holds(ask(example["ask"], example["through"]), example["says"], example["tolerance"])


def test_every_answer_says_that_no_size_is_harmless() -> None:
    for example in EXAMPLES:
        if example["through"] == "self-heating":
            said = {one["code"]: one["sentence"] for one in ask(example["ask"])["findings"]}
            assert "No size and no time here is harmless" in said["no-harmless-size"], example["id"]


COUNTED: Final = {"storage": 45, "rag": 13, "self-heating": 15, "waste": 15}
"""Cases of the reference by the file that carries them; 88 in all."""
IDS: Final = {
    "storage": (
        "CL-01 CL-02 CL-03 CL-05 CL-07 CL-08 CL-09 CL-10 CL-11 CT-01 CT-02 CT-04 CT-06 CB-01 CB-02 CB-03 "
        "CB-05 CB-07 IS-01 IS-02 IS-04 MQ-01 MQ-02 MQ-04 MQ-06 MQ-07 MQ-08 MQ-10 MQ-11 MQ-13 MQ-14 MQ-15 "
        "MQ-16 MQ-18 PM-01 UK-01 UK-02 UK-03 UK-05 DE-01 DE-02 SG-01 SG-02 SG-03 SG-06"
    ),
    "rag": "RG-01 RG-02 RG-03 RG-04 RG-07 RG-08 RG-09 RG-11 RG-12 RG-13 RG-14 RG-16 RG-19",
    "self-heating": (
        "FK-01 FK-02 FK-03 FK-04 FK-06 FK-07 OX-01 OX-02 OX-03 Q10-01 Q10-02 SH-01 SH-02 SH-03 IV-01"
    ),
    "waste": (
        "WS-01 WS-02 WS-03 WS-05 WS-06 WS-07 WS-09 WS-11 WS-13 WS-14 WS-15 WS-16 WS-19 WS-20 WS-21"
    ),
}  # fmt: skip


@pytest.mark.parametrize("topic", IDS)
def test_no_case_of_the_reference_is_left_out(topic: str) -> None:
    """Typed from the reference by id, and looked for in the file that its own test puts through a call."""
    wanted = IDS[topic].split()
    files = {
        "storage": "storage_examples.json", "rag": "rag_examples.toml", "waste": "waste_examples.json",
        "self-heating": "self_heating_examples.json",
    }  # fmt: skip
    text = (PUBLISHED / files[topic]).read_text(encoding="utf-8")
    missing = [one for one in wanted if f'"{one}"' not in text]
    assert not missing and len(wanted) == len(set(wanted)) == COUNTED[topic]


def test_what_is_missing_is_not_known_and_never_not_classified() -> None:
    for baskets in (
        {}, {"cube25_140": False}, {"cube25_140": False, "cube100_140": True, "pack_l": 400},
        {"cube25_140": False, "cube100_140": True, "cube100_100": False, "pack_l": 2000},
    ):  # fmt: skip
        got = ask({"baskets": baskets})
        assert got["category"] is None and got["h_code"] is None and not got["complete"], baskets
    for baskets in (
        {"cube25_140": False, "cube100_140": True},
        {"cube25_140": False, "cube100_140": True, "pack_l": 3001},
        {"cube25_140": False, "cube100_140": True, "cube100_120": True, "pack_l": 451},
    ):  # fmt: skip
        assert ask({"baskets": baskets})["category"] == "2", baskets
    assert ask({"baskets": {"cube25_140": False, "cube100_140": False}})["category"] == "none"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "critical"),
        ({"critical": [{"r_m": 1, "temperature_c": 50}, {"r_m": 2, "temperature_c": 50}]}, "critical"),
        ({"critical": [{"r_m": 1, "temperature_c": 50}, {"r_m": 2, "temperature_c": 90}]}, "critical"),
        ({"critical": [{"r_m": "0.0001", "temperature_c": 500}, {"r_m": 1000, "temperature_c": 499}],
          "at_temperature_c": -60}, "critical"),
        ({"waits": [{"hours": 1, "temperature_c": 21}, {"hours": 1000000, "temperature_c": 20}]}, "waits"),
        ({"critical": [{"r_m": 0, "temperature_c": 50}]}, "critical.0.r_m"),
        ({"at_r_m": 1}, "at_r_m"),
        ({"at_r_m": 1, "activation_kj_mol": 90}, "at_r_m"),
        ({"waits": [{"hours": 1, "temperature_c": 20}, {"hours": 1, "temperature_c": 40}]}, "waits"),
        ({"waits": [{"hours": 1, "temperature_c": 20}]}, "waits"),
        ({"heap": {"shape": "cone"}}, "heap.shape"), ({"iodine_value": -1}, "iodine_value"),
        ({"shut_in": {"head_space_l": 1, "oil_g": 0}}, "shut_in.oil_g"), ({"baskets": []}, "baskets"),
    ],
)  # fmt: skip
def test_odd_figures_are_named(body: dict[str, Any], field: str) -> None:
    assert any(name.startswith(field) for name in ask(body, status=422)["errors"])


@given(st.floats(10, 300), st.floats(0.001, 5), st.floats(0, 200), st.floats(1.05, 50))
@settings(max_examples=60, deadline=None)
def test_a_larger_heap_is_critical_at_less_heat_and_the_way_back_is_the_same(
    energy: float, size: float, celsius: float, times: float
) -> None:
    found = [critical_at_c(energy, size, celsius, size * factor) for factor in (1, times)]
    if found[0] is None or found[1] is None:
        return
    assert found[0] == pytest.approx(celsius, abs=1e-6)
    assert all(one > other for one, other in pairwise([one for one in found if one is not None]))
    assert activation_kj_mol(size, celsius, size * times, found[1]) == pytest.approx(energy, rel=1e-3)
