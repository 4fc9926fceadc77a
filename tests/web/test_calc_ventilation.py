"""POST /api/calc/ventilation-class : what it takes for granted and says, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_ventilation import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
OIL = {"name": "oil", "h_codes": [], "boiling_point_c": 350, "volume_ml": 900}


def send(body: dict[str, Any]) -> Any:
    return client.post("/api/calc/ventilation-class", json=body)


def judge(**body: Any) -> dict[str, Any]:
    answer = send(body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


def test_the_answer_names_what_drives_it() -> None:
    got = judge(
        hazards=["Skin Sens. 1 H317", "Flam. Liq. 3 H226"], name="varnish", boiling_point_c=154, amount_l=0.5,
        form="liquid", operating_temperature_c=25,
    )  # fmt: skip
    assert (got["class"], got["class_name"], got["complete"]) == (2, "local_exhaust", True)
    because = {one["about"]: one for one in got["because"]}
    assert because["group"]["statement"] == "H317"
    assert because["group"]["component"] == "varnish"
    volatility = because["volatility"]
    assert (volatility["criterion"], volatility["value"], volatility["unit"]) == ("boiling_point", 154.0, "C")
    assert because["matrix"]["cell"] == "C / small / medium volatility"
    assert because["matrix"]["grade"] == "memory"
    assert got["data_used"] == [
        {
            "ingredient": "varnish", "property": "boiling_point", "value": 154.0, "unit": "C",
            "source": "given", "grade": "given",
        }
    ]  # fmt: skip
    assert "Health only" in got["cautions"][0]
    assert "respirator" in got["cautions"][1]


def test_what_is_not_told_is_said() -> None:
    got = judge(h_codes=[], boiling_point_c=56.1, amount_l=4)
    assert got["operating_temperature_c"] == 25
    assert got["volatility"] == "high"
    assert {"temperature-taken", "form-taken"} <= codes(got)
    assert "25" in next(one["sentence"] for one in got["because"] if one["about"] == "temperature")
    assert got["scheme"] == "worse"


def test_the_schemes_differ_in_narcotic_vapours_alone_and_the_worse_counts() -> None:
    body = {"h_codes": ["H336"], "boiling_point_c": 110, "amount_l": 2, "operating_temperature_c": 20}
    classes = {scheme: judge(**body, scheme=scheme)["class"] for scheme in ("hse2017", "ilo_icct", "worse")}
    assert classes == {"hse2017": 1, "ilo_icct": 2, "worse": 2}
    assert judge(**body)["class"] == 2


@pytest.mark.parametrize("missing", [{}, {"h_codes": None}, {"hazards": None, "r_phrases": None}])
def test_hazards_that_nobody_knows_give_no_class(missing: dict[str, Any]) -> None:
    got = judge(boiling_point_c=154, amount_l=0.5, form="liquid", operating_temperature_c=20, **missing)
    assert (got["class"], got["class_name"], got["group"], got["skin"]) == (None, None, None, None)
    assert (got["group_at_least"], got["class_at_least"], got["complete"]) == ("C", 2, False)
    assert "hazards-not-known" in codes(got)


def test_figures_of_the_tables_count_beside_what_is_given() -> None:
    """Turpentine boils above the line at 20 C, and its published vapour pressure is above 0.5 kPa."""
    body = {"h_codes": ["H317"], "boiling_point_c": 154, "amount_l": 0.5, "operating_temperature_c": 20}
    assert judge(**body)["volatility"] == "low"
    named = judge(**body, name="turpentine")
    assert (named["volatility"], named["class"]) == ("medium", 2)
    pressure = next(one for one in named["data_used"] if one["property"] == "vapour_pressure")
    assert pressure["source"] != "given"
    assert pressure["value"] == pytest.approx(0.53, abs=0.01)


def test_a_pressure_told_for_another_temperature() -> None:
    body = {"h_codes": ["H317"], "amount_l": 2, "operating_temperature_c": 30, "form": "liquid"}
    here = judge(**body, vapour_pressure_kpa=0.4)
    assert (here["volatility"], here["class"]) == ("low", 2)
    warmer = judge(**body, vapour_pressure_kpa=0.4, at_c=40)
    assert (warmer["volatility"], warmer["class"]) == ("low", 2)
    colder = judge(**body, vapour_pressure_kpa=0.4, at_c=20)
    assert (colder["volatility"], colder["class"], colder["complete"]) == (None, None, False)
    boils = judge(**body, vapour_pressure_kpa=200)
    assert (boils["volatility"], boils["class"], boils["class_name"]) == ("not_applicable", 4, "specialist")
    assert boils["not_covered"][0]["what"] == "liquid above its boiling point"


def test_a_gas_and_an_aerosol_are_outside_the_scheme() -> None:
    for code, what in (("H220", "gas"), ("H222", "aerosol can"), ("H229", "aerosol can")):
        got = judge(h_codes=[code], boiling_point_c=100, amount_l=0.1, form="liquid")
        assert got["class"] == 4
        assert [one["what"] for one in got["not_covered"]] == [what]
        assert not got["complete"]


def test_a_powder_in_a_liquid_is_judged_where_it_is_tipped_in() -> None:
    pigment = {"name": "brown pigment", "h_codes": ["H373"], "volume_ml": 50, "form": "solid"}
    got = judge(components=[OIL, pigment], amount_l=0.95, operating_temperature_c=20)
    assert (got["dustiness"], got["class"]) == ("high", 2)
    assert any(
        "brown pigment / " in one["cell"] or "brown pigment" in one["component"] for one in got["because"]
    )
    wet = judge(
        components=[OIL, {**pigment, "form": "liquid", "volatile": False}], operating_temperature_c=20
    )
    assert (wet["volatility"], wet["amount_band"], wet["class"]) == ("low", "small", 1)


def test_shares_that_leave_something_untold_give_no_class() -> None:
    oil = {"name": "oil", "h_codes": [], "boiling_point_c": 350, "percent": 90}
    got = judge(components=[oil], amount_l=0.5, operating_temperature_c=20)
    assert (got["class"], got["class_at_least"]) == (None, 2)
    assert {"remainder-not-told", "volatility-not-known"} <= codes(got)


def test_a_component_of_zero_is_none_of_it() -> None:
    lead = {"name": "red lead", "h_codes": ["H360"], "volume_ml": 0, "form": "solid"}
    got = judge(components=[OIL, lead], operating_temperature_c=20)
    assert (got["class"], got["not_covered"]) == (1, [])


BAD: list[tuple[dict[str, Any], str]] = [
    ({"h_codes": ["H999"], "name": "lye"}, "lye"),
    ({"hazards": ["Acute Tox. 4"], "name": "lye"}, "route"),
    ({"r_phrases": ["R99"], "name": "lye"}, "lye"),
    ({"r_phrases": ["nonsense"], "name": "lye"}, "lye"),
    ({"components": [{"name": "lye", "h_codes": [], "volume_ml": 5, "mass_g": 5}]}, "lye"),
    ({"components": [{"name": "lye", "h_codes": []}]}, "lye"),
    ({"components": [{"name": "lye", "h_codes": ["Carc. 9"], "volume_ml": 5}]}, "lye"),
    ({"components": [OIL, {"name": "lye", "percent": 5, "h_codes": []}]}, "one way"),
    ({"components": [{"name": "lye", "percent": [7, 3], "h_codes": []}]}, "lye"),
    ({"h_codes": [], "at_c": 20, "name": "lye"}, "lye"),
    ({"h_codes": [], "cas": "67-64-2"}, "67-64-2"),
]


@pytest.mark.parametrize(("body", "named"), BAD)
def test_bad_input_gets_a_sentence_that_names_the_component(body: dict[str, Any], named: str) -> None:
    answer = send(body)
    assert answer.status_code == 422, answer.text
    assert named in answer.json()["detail"]


@pytest.mark.parametrize(
    "body",
    [
        {"scheme": "other"},
        {"amount_l": 0},
        {"amount_l": -1},
        {"amount_l": 1e308},
        {"boiling_point_c": 1e308},
        {"operating_temperature_c": -273.15},
        {"operating_temperature_c": 1e9},
        {"wetted_area_m2": -1},
        {"dustiness": "very"},
        {"form": "gas"},
        {"spray": "yes"},
        {"spray": None},
        {"h_codes": "H225"},
        {"h_codes": [None]},
        {"h_codes": ["H225"] * 61},
        {"components": [OIL] * 41},
        {"components": {}},
        {"unheard": 1},
    ],
)
def test_impossible_bodies_are_refused(body: dict[str, Any]) -> None:
    assert send(body).status_code == 422


ODD = (1e-300, 1e-9, 0.01, 1, 273, 2000)


@pytest.mark.parametrize("boiling", [-273, *ODD, None])
@pytest.mark.parametrize("at", [-273, 0.01, 24.99, 25, 1999, None])
def test_odd_figures_never_break_it(boiling: float | None, at: float | None) -> None:
    for pressure in (1e-18, 0.5, 101.325, 1e6, None):
        for operating in (-40, 0, 500, None):
            for name in ("", "acetone", "water", "turpentine", "white spirit"):
                if at is not None and pressure is None:
                    continue
                answer = send(
                    {
                        "h_codes": [], "name": name, "boiling_point_c": boiling, "at_c": at,
                        "vapour_pressure_kpa": pressure, "amount_l": 0.001,
                        "operating_temperature_c": operating,
                    }
                )  # fmt: skip
                assert answer.status_code in (200, 422), (answer.text, boiling, at, pressure, operating, name)


def test_nan_and_infinity_are_refused() -> None:
    for odd in ("NaN", "Infinity", "-Infinity", "1e999"):
        body = '{"h_codes": [], "amount_l": %s}' % odd  # noqa: UP031
        answer = client.post(
            "/api/calc/ventilation-class", content=body, headers={"content-type": "application/json"}
        )
        assert answer.status_code in (400, 422), answer.text
