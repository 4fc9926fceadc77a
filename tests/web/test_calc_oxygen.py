"""The oxygen calculator: today's fields as ever, openings told one by one, what is not known, warmth."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from service.web.api import calc_oxygen
from service.web.errors import install

app = FastAPI()
app.include_router(calc_oxygen.router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
TOLD: dict[str, Any] = {
    "capacity_l": 1, "each_opening": [{"left_l": 0.9}, {"left_l": [0.5, 0.6]}, {"head_space_l": 0.7}],
    "uptake_range": [0.12, 0.16], "free_surface_cm2": 91.6, "oil_g": 270, "kept_at_c": 30,
}  # fmt: skip
ODD: tuple[Any, ...] = (
    1, "2", 0, -1, -0.0, 1e308, 1e-308, 10**400, "NaN", "", "٣", True, {}, [], [1], [1, 2], [2, 1], [1, 2, 3],
    [1, None], None, "x" * 5000, [{}], [{"left_l": 2}], [{"left_l": 0.1, "head_space_l": 0.1}], [None],
)  # fmt: skip


def ask(status: int = 200, **body: Any) -> dict[str, Any]:
    answer = client.post("/api/calc/oxygen", json=body)
    assert answer.status_code == status, answer.text
    return dict(answer.json())


def test_one_figure_is_the_worse_end_of_its_range() -> None:
    old = ask(head_space_l=1)
    assert old["oxygen_g"] == pytest.approx(0.2787, abs=5e-5)
    assert old["oil_spent_g"] == old["oil_spent_range_g"][1] == pytest.approx(2.322, abs=1e-3)
    wet = ask(head_space_l=1, free_surface_cm2=91.6)
    assert wet["skin_um"] == wet["skin_range_um"][1]
    assert old["oil_spent_range_g"] == pytest.approx([1.742, 2.322], abs=1e-3) and old["complete"]
    assert ask(head_space_l=1, uptake_fraction=0.12)["oil_spent_g"] == pytest.approx(2.322, abs=1e-3)
    cold = ask(head_space_l=1, temperature_c=0)["oxygen_g"]
    assert cold == pytest.approx(0.2787 * 293.15 / 273.15, rel=1e-3)


def test_openings_one_by_one() -> None:
    answer = ask(**TOLD)
    assert [one["head_space_l"] for one in answer["each_opening"]] == [
        pytest.approx(0.1), pytest.approx([0.4, 0.5]), 0.7,
    ]  # fmt: skip
    assert answer["oil_spent_range_g"] == pytest.approx([1.2 * 1.7417, 1.3 * 2.3223], rel=1e-3)
    assert answer["share_of_oil"][1] == pytest.approx(1.3 * 2.3223 / 270, rel=1e-3)
    assert answer["share_left"][0] == pytest.approx(1 - answer["share_of_oil"][1])
    assert answer["times_as_fast"] == [2, 3] and answer["complete"]
    assert ask(capacity_l=1, left_l=0.4)["oxygen_g"] == ask(head_space_l=0.6)["oxygen_g"]
    warm = ask(head_space_l=1, kept_at_c=40)
    assert warm["oil_spent_g"] == ask(head_space_l=1)["oil_spent_g"], "warmth changes how soon, not how much"
    assert ask(head_space_l=1, kept_at_c=5)["times_as_fast"] == 1, "a cool shelf is not counted as slower"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"capacity_l": 1, "each_opening": [{"head_space_l": 3}]}, "each_opening.0.head_space_l"),
        ({"capacity_l": 1, "each_opening": [{"left_l": [0.2, 1.4]}]}, "each_opening.0.left_l"),
        ({"capacity_l": 1, "left_l": [0.2, 1.4]}, "left_l"),
        ({"head_space_l": 1, "uptake_fraction": 0.1, "uptake_range": 0.5}, "uptake_range"),
    ],
)  # fmt: skip
def test_figures_that_cannot_be_true_together_are_refused(body: dict[str, Any], field: str) -> None:
    assert list(ask(422, **body)["errors"]) == [field]
    assert ask(head_space_l=1, uptake_fraction=0.1, uptake_range=[0.1, 0.2])["complete"]


@pytest.mark.parametrize(
    "body",
    [
        {"capacity_l": 1}, {"left_l": 1}, {"each_opening": [{}]},
        {"each_opening": [{"head_space_l": 0.5}, {"left_l": 0.5}]},
    ],
)  # fmt: skip
def test_what_is_not_known_is_null_and_never_nothing(body: dict[str, Any]) -> None:
    answer = ask(**body, free_surface_cm2=10, oil_g=100)
    for name in ("oxygen_g", "oil_spent_g", "skin_um", "oil_spent_range_g", "share_of_oil", "share_left"):
        assert answer[name] is None, name
    assert not answer["complete"] and "air-not-known" in {one["code"] for one in answer["findings"]}


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "head_space_l"),
        ({"head_space_l": 1, "capacity_l": 2}, "head_space_l"),
        ({"capacity_l": 1, "left_l": 1.5}, "left_l"),
        ({"capacity_l": 1, "each_opening": [{"left_l": 2}]}, "each_opening.0.left_l"),
        ({"each_opening": [{"left_l": 1, "head_space_l": 1}]}, "each_opening.0"),
        ({"each_opening": [{"head_space_l": 1}], "openings": 2}, "each_opening"),
        ({"head_space_l": 1, "uptake_range": [0.16, 0.12]}, "uptake_range"),
        ({"head_space_l": 1, "uptake_range": 0}, "uptake_range"),
        ({"head_space_l": 1, "oil_g": 0}, "oil_g"),
    ],
)
def test_what_cannot_be_names_its_field(body: dict[str, Any], field: str) -> None:
    assert field in ask(422, **body)["errors"]


def test_nothing_odd_is_our_mistake() -> None:
    for name in (*TOLD, "head_space_l", "left_l", "openings", "temperature_c", "uptake_fraction"):
        for odd in ODD:
            answer = client.post("/api/calc/oxygen", json=TOLD | {name: odd})
            assert answer.status_code in (200, 422), (name, odd, answer.text)
            assert "NaN" not in answer.text and "Infinity" not in answer.text


@settings(max_examples=60, deadline=None)
@given(
    st.integers(0, 50_000), st.integers(0, 50_000), st.integers(1, 40), st.integers(0, 40),
    st.integers(-20, 60), st.integers(0, 30),
)  # fmt: skip
def test_more_is_never_less(
    air: int, more: int, openings: int, again: int, kept: int, warmer: int
) -> None:
    less = ask(head_space_l=air / 1000, openings=openings, oil_g=900, kept_at_c=min(kept, 60))
    warm = min(kept + warmer, 60)
    worse = ask(head_space_l=(air + more) / 1000, openings=openings + again, oil_g=900, kept_at_c=warm)
    for name in ("oxygen_g", "oil_spent_g"):
        assert worse[name] >= less[name]
    assert _most(worse["share_of_oil"]) >= _most(less["share_of_oil"])
    assert _most(worse["times_as_fast"]) >= _most(less["times_as_fast"]) >= 1


def _most(figure: Any) -> float:
    return float(max(figure) if isinstance(figure, list) else figure)
