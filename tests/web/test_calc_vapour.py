"""Vapour in a room through the call: the contract, what is not known, and bodies nobody should send."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_vapour import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
ROOM = {"volume_m3": 60, "airflow_m3_h": 900, "mixing_factor": 3, "temperature_c": 25}
MILD = {"h_codes": ["H225", "H319", "H336", "EUH066"]}
CONTRACT = {
    "vapour_l_per_l", "vapour_ft3_per_gal_70f", "lel_mix_vol_percent", "series", "peak", "mean_mg_m3",
    "ppm_if_no_air", "steady_ppm", "air_for_quarter_lel_m3_h", "air_for_limits_m3_h", "air_per_litre_m3",
    "purge_min", "enough", "findings", "complete", "data_used",
}  # fmt: skip


def send(*components: dict[str, Any], **more: Any) -> Any:
    return client.post("/api/calc/vapour", json={"components": list(components), **more})


def ask(*components: dict[str, Any], **more: Any) -> dict[str, Any]:
    answer = send(*components, **more)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


def test_every_field_of_the_contract_is_there() -> None:
    answer = ask(
        {"name": "acetone", "volume_ml": 20, **MILD}, evaporation_min=20, times_min=[5, 20], room=ROOM
    )
    assert set(answer) >= CONTRACT
    row = {"min", "ppm", "mg_m3", "percent_lel", "exposure_index", "index_is_at_least"}
    assert [set(one) for one in (*answer["series"], answer["peak"])] == [row] * 3
    assert answer["enough"] is True and answer["complete"] is True
    assert {"average-of-the-room", "calculated"} <= codes(answer)
    used = {(one["property"], one["unit"]) for one in answer["data_used"]}
    assert {("molar_mass", "g/mol"), ("lower_limit", "vol%"), ("exposure_limit_twa", "ppm")} <= used
    assert all(one["source"] and one["grade"] for one in answer["data_used"])


def test_limits_are_the_lowest_held_and_say_body_and_grade() -> None:
    answer = ask({"name": "toluene", "volume_ml": 1}, room=ROOM)
    limits = {one["property"]: one for one in answer["data_used"] if one["property"].startswith("exposure")}
    twa = limits["exposure_limit_twa"]
    assert twa["value"] == 20 and "ACGIH" in twa["source"] and twa["grade"] == "memory"
    assert "limit-not-checked" in codes(answer)


def test_without_statements_the_lists_are_asked() -> None:
    toluene = ask({"name": "toluene", "volume_ml": 0.001}, room=ROOM)
    assert toluene["enough"] is False and "never-by-air-alone" in codes(toluene)
    acetone = ask({"name": "acetone", "volume_ml": 0.001}, room=ROOM)
    assert acetone["enough"] is None and "group-not-known" in codes(acetone), "the lists disagree"
    stranger = {"name": "a thinner", "volume_ml": 0.001, "molar_mass_g_mol": 100, "density_g_ml": 0.8,
                "lel_vol_percent": 1, "exposure_limits": [{"value": 100, "unit": "ppm"}]}  # fmt: skip
    assert ask(stranger, room=ROOM)["enough"] is None
    assert ask(stranger | {"hazard_group": "B"}, room=ROOM)["enough"] is True
    assert ask(stranger | {"hazard_group": "C"}, room=ROOM)["enough"] is False
    assert ask(stranger | {"h_codes": []}, room=ROOM)["enough"] is True


def test_what_is_taken_is_said() -> None:
    answer = ask({"name": "acetone", "volume_ml": 20}, room={"volume_m3": 60, "airflow_m3_h": 900})
    assert {
        "temperature-taken-as-25",
        "mixing-taken-as-10",
        "evaporates-at-once",
        "purge-to-a-tenth",
    } <= codes(answer)
    assert answer["peak"]["min"] == 0 and answer["peak"]["ppm"] == answer["ppm_if_no_air"]
    assert answer["steady_ppm"] is None and answer["air_for_limits_m3_h"] is None


def test_nothing_held_is_null_and_not_zero() -> None:
    answer = ask({"name": "a thinner", "volume_ml": 20}, times_min=[10], room=ROOM)
    numbers = CONTRACT - {"series", "findings", "complete", "data_used"}
    assert {name: answer[name] for name in numbers} == dict.fromkeys(numbers)
    assert answer["series"] == [] and answer["complete"] is False
    assert all("a thinner" in one["sentence"] for one in answer["findings"] if one["severity"] == "unknown")


def test_an_index_of_which_a_part_is_not_known_is_a_least_one() -> None:
    other = {
        "name": "a thinner",
        "volume_ml": 20,
        "molar_mass_g_mol": 100,
        "density_g_ml": 0.8,
        "lel_vol_percent": 1,
    }
    answer = ask({"name": "acetone", "volume_ml": 20}, other, evaporation_min=30, times_min=[30], room=ROOM,
                 vapour_basis="all_evaporates")  # fmt: skip
    row = answer["series"][0]
    assert row["index_is_at_least"] is True and row["exposure_index"] > 0
    assert answer["air_for_limits_m3_h"] is None and "limit-not-known" in codes(answer)


def test_the_worse_of_both_bases_stands_and_both_are_shown() -> None:
    mix = ({"name": "acetone", "percent": 50}, {"name": "toluene", "percent": 50})
    answer = ask(*mix, liquid_ml=100, evaporation_min=30, room=ROOM)
    by = {one["vapour_basis"]: one for one in answer["by_basis"]}
    assert set(by) == {"all_evaporates", "saturated"} and "ideal-mixing" not in codes(answer)
    assert answer["lel_mix_vol_percent"] == min(one["lel_mix_vol_percent"] for one in by.values())
    for basis, one in by.items():
        alone = ask(*mix, liquid_ml=100, evaporation_min=30, room=ROOM, vapour_basis=basis)
        assert alone["steady_ppm"] == one["steady_ppm"] <= answer["steady_ppm"]


def test_an_estimate_only_where_asked_and_never_complete() -> None:
    liquid = {"name": "isododecane", "volume_ml": 0.01, "h_codes": []}
    assert ask(liquid, room=ROOM)["lel_mix_vol_percent"] is None
    answer = ask(liquid, room=ROOM, estimate_missing_lel=True)
    assert answer["lel_mix_vol_percent"] == pytest.approx(55 / (4.76 * 12 + 1.19 * 26 + 1))
    assert (
        answer["enough"] is None and answer["complete"] is False and "lower-limit-estimated" in codes(answer)
    )
    used = next(one for one in answer["data_used"] if one["property"] == "lower_limit")
    assert used["grade"] == "estimated" and "C12H26" in used["source"]
    chlorine = {"name": "a chlorinated liquid", "formula": "CH2Cl2", "volume_ml": 1}
    assert send(chlorine, estimate_missing_lel=True).status_code == 422
    measured = ask({"name": "acetone", "volume_ml": 1}, estimate_missing_lel=True)
    assert measured["lel_mix_vol_percent"] == 2.5


def test_dilution_of_the_room_is_not_the_air_above_the_can() -> None:
    above = ask({"name": "acetone", "volume_ml": 1}, room=ROOM)["above_open_liquid"][0]
    assert above["percent_lel"] > 1000 and above["vapour_hazard_ratio"] > 1000


def test_an_open_surface_and_how_fast_it_goes() -> None:
    tray = {"area_m2": 0.1, "air_m_s": 0.3}
    one = ask({"name": "acetone", "volume_ml": 1}, room=ROOM, open_surface=tray)
    slow = ask({"name": "acetone", "volume_ml": 1}, room=ROOM, open_surface=tray | {"air_m_s": 0.1})
    assert one["open_surface_g_h"] > slow["open_surface_g_h"] > 0
    assert one["above_open_liquid"][0]["evaporates"] == "fast"
    stranger = {"name": "a thinner", "volume_ml": 1, "molar_mass_g_mol": 100, "density_g_ml": 0.8}
    answer = ask(stranger, room=ROOM, open_surface=tray)
    assert answer["open_surface_g_h"] is None and "surface-not-known" in codes(answer)


ACETONE = {"name": "acetone", "volume_ml": 20}
BAD: list[tuple[str, dict[str, Any], str]] = [
    ("efficiency for a factor", {"room": ROOM | {"mixing_factor": 0.3}}, "factor of 3.333"),
    ("factor zero", {"room": ROOM | {"mixing_factor": 0}}, "give 1 over that"),
    ("factor below zero", {"room": ROOM | {"mixing_factor": -2}}, "give 1 over that"),
    ("liquid and emission", {"liquid_ml": 5, "emission": {"value": 1, "unit": "g_h"}}, "not both"),
    ("no code", {"components": [ACETONE | {"h_codes": ["H3"]}]}, "acetone"),
    ("codes and group", {"components": [ACETONE | {"h_codes": [], "hazard_group": "A"}]}, "acetone"),
    ("no formula", {"components": [ACETONE | {"formula": "H2SO4"}]}, "acetone"),
    ("two amounts", {"components": [ACETONE | {"mass_g": 3}]}, "acetone"),
    ("no amount", {"components": [{"name": "acetone"}]}, "acetone"),
    ("all zero", {"components": [{"name": "acetone", "volume_ml": 0}]}, "zero"),
]


@pytest.mark.parametrize(("what", "more", "named"), BAD, ids=[what for what, _, _ in BAD])
def test_a_bad_question_gets_a_sentence(what: str, more: dict[str, Any], named: str) -> None:
    answer = client.post("/api/calc/vapour", json={"components": [ACETONE], **more})
    assert answer.status_code == 422 and named in answer.json()["detail"], answer.text


PLACES = [
    "liquid_ml", "evaporation_min", "start_ppm", "target_ppm", "times_min.0", "open_surface.area_m2",
    "open_surface.length_m", "open_surface.air_m_s", "emission.value",
    "room.volume_m3", "room.airflow_m3_h", "room.mixing_factor", "room.temperature_c",
    "components.0.volume_ml",
    "components.0.molar_mass_g_mol", "components.0.density_g_ml", "components.0.lel_vol_percent",
    "components.0.vapour_pressure_kpa", "components.0.at_c", "components.0.boiling_point_c",
    "components.0.exposure_limits.0.value",
]  # fmt: skip
FIVE_PPM = {"exposure_limits": [{"unit": "ppm", "value": 5}]}
ODD = [0, -1, 1, 1e308, -1e308, 1e15, 1e-39, 1e-300, 5e-324, -273, True, None, "1e5", "NaN", [], {}, [1, 2]]


def body(place: str, value: Any) -> dict[str, Any]:
    whole: dict[str, Any] = {
        "components": [ACETONE | {"vapour_pressure_kpa": 24, "at_c": 20} | FIVE_PPM,
                       {"name": "toluene", "volume_ml": [1, 20]}],
        "evaporation_min": 30, "start_ppm": 5, "target_ppm": 1, "times_min": [30], "room": dict(ROOM),
        "open_surface": {"area_m2": 1, "air_m_s": 0.2},
    }  # fmt: skip
    if place.startswith("emission"):
        whole["emission"] = {"unit": "ml_min"}
    at: Any = whole
    *way, last = place.split(".")
    for step in way:
        at = at[int(step)] if step.isdigit() else at[step]
    at[int(last) if last.isdigit() else last] = value
    return whole


@pytest.mark.parametrize("place", PLACES)
def test_odd_figures_are_answered_or_refused(place: str) -> None:
    for value in ODD:
        answer = client.post("/api/calc/vapour", json=body(place, value))
        assert answer.status_code in (200, 422), (place, value, answer.text)
        told = answer.json()
        json.dumps(told, allow_nan=False)
        if answer.status_code == 422:
            assert told["detail"], told
        else:
            assert told["enough"] is not True, (place, value)


@pytest.mark.parametrize(
    "text", ['{"components": [{"name": "x", "volume_ml": NaN}]}', "[]", "{}", "null", "{"]
)
def test_what_is_no_question(text: str) -> None:
    answer = client.post("/api/calc/vapour", content=text, headers={"content-type": "application/json"})
    assert answer.status_code == 422, answer.text


def test_every_small_and_large_figure_at_once() -> None:
    for small, large in ((1e-18, 1e6), (1e6, 1e-18)):
        liquid = {"name": "x", "volume_ml": 1, "molar_mass_g_mol": f"{small:.18f}", "density_g_ml": 1e-18,
                  "lel_vol_percent": f"{min(large, 100):.18f}",
                  "exposure_limits": [{"value": f"{small:.18f}", "unit": "mg_m3"}]}  # fmt: skip
        room = {"volume_m3": 1e-18, "airflow_m3_h": 1e-18, "mixing_factor": 1000, "temperature_c": 300}
        answer = send(
            liquid, liquid_ml=1e9, evaporation_min=1e-18, times_min=[1e7], target_ppm=1e-18, room=room
        )
        assert answer.status_code in (200, 422), answer.text


def test_too_many() -> None:
    assert send(*[ACETONE] * 41).status_code == 422
    assert send(ACETONE, times_min=[1] * 501).status_code == 422
    assert send(*[{"name": "acetone", "volume_ml": [1, 2]}] * 7).status_code == 422
