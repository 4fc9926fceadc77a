"""A figure of the whole that makes a mix milder than what is in it is a question until it is confirmed."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.test_calc_classify import classify, codes


def shares(percent: float, *classes: str) -> list[dict[str, Any]]:
    """So much of one ingredient, the rest inert."""
    rest = {"name": "inert", "percent": 100 - percent, "hazards": []}
    return [{"name": "thinner", "percent": percent, "hazards": list(classes)}, rest]


def hazards(answer: dict[str, Any]) -> list[str]:
    return [one["hazard"] for one in answer["classifications"]]


@pytest.mark.parametrize("regime", ["un-ghs", "eu-clp", "us-hcs"])
@pytest.mark.parametrize(
    ("percent", "category", "flash"),
    [(95, "1", 95), (50, "2", 60.1), (50, "2", 93.1), (50, "3", 105), (50, "2", 30)],
)
def test_a_flash_point_typed_in_another_unit_never_takes_the_flame_off(
    regime: str, percent: int, category: str, flash: float
) -> None:
    got = classify(*shares(percent, f"Flam. Liq. {category}"), regime=regime, flash_point_c=flash)
    assert hazards(got) == [f"Flam. Liq. {category} H22{int(category) + 3}"]
    assert not got["complete"]
    (asked,) = [one for one in got["findings"] if one["code"] == "flash-point-to-confirm"]
    assert "thinner" in asked["sentence"] and "°F" in asked["sentence"]


def test_a_confirmed_flash_point_wins() -> None:
    """GHS 2.6: the measured closed-cup value of the mix itself decides."""
    body = shares(50, "Flam. Liq. 3")
    got = classify(*body, flash_point_c=105, flash_point_confirmed=True)
    assert got["complete"] and not hazards(got)
    got = classify(*body, flash_point_c=61, flash_point_confirmed=True, regime="us-hcs")
    assert got["complete"] and hazards(got) == ["Flam. Liq. 4 H227"]


@pytest.mark.parametrize(("category", "flash"), [("3", 41), ("3", 23), ("3", 60), ("2", 12), ("3", 5)])
def test_an_ordinary_measured_value_is_no_question(category: str, flash: float) -> None:
    got = classify(*shares(50, f"Flam. Liq. {category}"), flash_point_c=flash, initial_boiling_point_c=80)
    assert got["complete"], got["findings"]
    assert classify(*shares(50), flash_point_c=41)["complete"]


@pytest.mark.parametrize("percent", [10, 49, 50, 95, 100])
def test_a_viscosity_that_lifts_a_class_is_a_question(percent: int) -> None:
    body = shares(percent, "Asp. Tox. 1")
    asked = classify(*body, kinematic_viscosity_40c=25, does_not_flash=True)
    assert not asked["complete"] and "viscosity-to-confirm" in codes(asked)
    assert bool(hazards(asked)) is (percent >= 50), (
        "what is mostly thin solvent is not thick on a bare number"
    )
    sure = classify(*body, kinematic_viscosity_40c=25, viscosity_confirmed=True, does_not_flash=True)
    assert sure["complete"] and not hazards(sure)
    thin = classify(*body, kinematic_viscosity_40c=20.5, does_not_flash=True)
    assert thin["complete"] and hazards(thin) == ["Asp. Tox. 1 H304"]
    assert classify(*shares(9.9, "Asp. Tox. 1"), kinematic_viscosity_40c=25, does_not_flash=True)["complete"]


def test_water_alone_needs_no_flash_point() -> None:
    for water in ({"name": "tap water", "cas": "7732-18-5"}, {"name": "Water"}):
        assert classify({**water, "percent": 100, "hazards": []})["complete"]
    assert "flash-point-not-known" in codes(classify({"name": "water", "percent": 100, "hazards": None}))
    assert "flash-point-not-known" in codes(classify(*shares(50)))


@pytest.mark.parametrize(
    ("boiling", "category", "shown"), [(35, "1", 35), (35.1, "2", 35.1), (None, "2", None)]
)
def test_what_decides_between_category_1_and_2_is_shown(
    boiling: float | None, category: str, shown: float | None
) -> None:
    got = classify(*shares(50), flash_point_c=10, initial_boiling_point_c=boiling)
    (one,) = got["classifications"]
    assert one["category"] == category
    flash, boils = one["because"]
    assert (flash["sum"], flash["limit"]) == (10, 23)
    assert (boils["sum"], boils["limit"], boils["unit"]) == (shown, 35, "°C")
    assert "boiling point" in boils["rule"]
