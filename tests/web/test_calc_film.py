"""The calculators of film, cut, settling, coverage, glue size and oxygen: ranges, what is missing, odd
bodies.
"""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from service.web.api import calc_coverage, calc_cut, calc_film, calc_glue_size, calc_oxygen, calc_settling
from service.web.errors import install

app = FastAPI()
for module in (calc_film, calc_cut, calc_settling, calc_coverage, calc_glue_size, calc_oxygen):
    app.include_router(module.router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
Body = dict[str, Any]
UMBER: Body = {"mass_g": 50, "density_g_ml": 3.2, "oil_absorption_g_100g": [30, 50]}
OIL: Body = {"mass_g": 100, "density_g_ml": 0.94, "non_volatile_percent": 100}
SPIRIT: Body = {"mass_g": 200, "density_g_ml": 0.78}
STAIN: Body = {"pigments": [UMBER], "binders": [OIL], "solvents": [SPIRIT]}
FILM_FIGURES = (
    "pvc", "cpvc", "reduced_pvc", "density_g_ml", "mass_solids_percent", "volume_solids_percent",
    "pigment_mass_percent",
)  # fmt: skip
RIGHT: dict[str, Body] = {
    "film": STAIN | {"pastes": [UMBER | {"density_g_ml": None, "pigment_percent": 50, "oil_percent": 50}]},
    "cut": {"from_lb_gal": 3, "to_lb_gal": 1},
    "settling": {
        "particle_um": 3, "pigment_density_kg_m3": 3200, "liquid_density_kg_m3": 780, "viscosity_mpa_s": 1,
    },
    "coverage": {"area_m2": 12, "rate_m2_l": [4.9, 9.8], "coats": 2},
    "glue-size": {"wanted": 300},
    "oxygen": {"head_space_l": 1, "openings": 2, "free_surface_cm2": 75},
}  # fmt: skip


def ask(call: str, body: Body, status: int = 200) -> Body:
    answer = client.post(f"/api/calc/{call}", json=body)
    assert answer.status_code == status, answer.text
    return dict(answer.json())


def film(**body: Any) -> Body:
    return ask("film", body)


def codes(answer: Body, severity: str = "") -> set[str]:
    return {one["code"] for one in answer["findings"] if severity in ("", one["severity"])}


def test_a_stain_whole() -> None:
    answer = film(**STAIN)
    assert answer["complete"] and answer["reading"] == "well bound"
    assert answer["loading"] == "a strong stain: the grain is softened"
    assert answer["pvc"] == pytest.approx(15.625 / (15.625 + 100 / 0.94))
    assert answer["cpvc"] == pytest.approx([1 / (1 + 1.6 / 0.935), 1 / (1 + 0.96 / 0.935)])
    assert answer["reduced_pvc"][0] < answer["reduced_pvc"][1] < 1
    assert "loading-is-rough" in codes(answer, "note"), "said plainly to be no measurement"
    oil = [one for one in answer["data_used"] if one["ingredient"] == "oil of oil absorption"]
    assert [(one["value"], one["grade"]) for one in oil] == [(0.935, "memory")]


@pytest.mark.parametrize(
    ("body", "gone", "code"),
    [
        ({"pigments": [UMBER | {"density_g_ml": None}], "binders": [OIL]}, "pvc",
         "pigment-density-not-known"),
        ({"pigments": [UMBER | {"oil_absorption_g_100g": None}], "binders": [OIL]}, "cpvc",
         "oil-absorption-not-known"),
        ({"pigments": [UMBER], "binders": [OIL | {"density_g_ml": None}]}, "pvc", "density-not-known"),
        (STAIN | {"solvents": [{"mass_g": 200}]}, "density_g_ml", "density-not-known"),
    ],
)  # fmt: skip
def test_what_is_missing_is_null_and_said(body: Body, gone: str, code: str) -> None:
    answer = film(**body)
    assert answer[gone] is None and not answer["complete"] and code in codes(answer, "unknown")
    assert answer["pigment_mass_percent"] is not None, "what needs no such figure is told"


def test_what_stays_of_a_binder_is_a_range_until_it_is_told() -> None:
    half = film(pigments=[UMBER], binders=[OIL | {"non_volatile_percent": 50}])
    assert half["complete"] and "solids-density-range" in codes(half)
    assert half["pvc"][0] == pytest.approx(15.625 / (15.625 + 50 / 0.94))
    told = film(pigments=[UMBER], binders=[OIL | {"non_volatile_percent": 50, "solids_density_g_ml": 1.1}])
    assert told["pvc"] == pytest.approx(15.625 / (15.625 + 50 / 1.1))
    anything = film(pigments=[UMBER], binders=[OIL | {"non_volatile_percent": None}])
    assert anything["pvc"][1] == 1 and "non-volatile-not-known" in codes(anything, "unknown")
    assert anything["reading"] == "well bound to under-bound: rubs off"


def test_a_name_of_the_tables_brings_its_figures() -> None:
    answer = film(
        pigments=[{"name": "raw umber", "mass_g": 50}], binders=[{"name": "tung oil", "mass_g": 100}]
    )
    assert answer["cpvc"] == pytest.approx([0.369, 0.493], abs=1e-3)
    assert {one["source"] for one in answer["data_used"]} >= {"GS", "MEM"}
    nobody = film(pigments=[{"name": "chrome green", "mass_g": 50}], binders=[OIL])
    assert nobody["cpvc"] is None, "a name that may mean two things is never guessed"


def test_nothing_assumes_oil() -> None:
    assert film(binders=[OIL])["reading"] == "no pigment in it"
    assert film(solvents=[SPIRIT])["reading"] == "nothing stays: it all evaporates"
    dry = film(pigments=[UMBER], solvents=[SPIRIT])
    assert (dry["pvc"], dry["reading"]) == (1, "no binder in it: rubs off")
    assert "no-binder" in codes(dry, "warn")


def test_a_paste_by_two_of_its_three_shares() -> None:
    paste: Body = {"mass_g": 100, "pigment_density_g_ml": 3.2, "oil_absorption_g_100g": 40}
    two = film(pastes=[paste | {"pigment_percent": 46, "volatile_percent": 50, "volatile_density_g_ml": 0.8}])
    assert two["mass_solids_percent"] == 50 and two["pigment_mass_percent"] == 46
    one = film(pastes=[paste | {"pigment_percent": 46}])
    assert one["mass_solids_percent"] == [46, 100] and "paste-not-told" in codes(one, "unknown")
    ask("film", {"pastes": [paste | {"pigment_percent": 60, "oil_percent": 50}]}, 422)
    ask("film", {"pastes": [paste | {"pigment_percent": 60, "oil_percent": 20, "volatile_percent": 10}]}, 422)


def test_drier_as_metal_on_binder() -> None:
    cobalt = {"mass_g": 1, "metal": "Cobalt", "metal_percent": 6}
    (one,) = film(**STAIN, driers=[cobalt])["driers"]
    assert one["percent_on_binder"] == 0.06 and one["stands"] == "within" and one["grade"] == "memory"
    much = film(**STAIN, driers=[cobalt, cobalt])
    assert much["driers"][0]["stands"] == "above" and "much-drier" in codes(much, "warn")
    lead = film(**STAIN, driers=[cobalt | {"metal": "lead"}])
    assert "lead-drier" in codes(lead, "warn") and lead["driers"][0]["usual_percent"] is None
    bare = film(pigments=[UMBER], driers=[cobalt])
    assert bare["driers"][0]["percent_on_binder"] is None


@settings(max_examples=40, deadline=None)
@given(
    st.tuples(*(st.floats(1, 300) for _ in range(3))), st.floats(1, 6), st.floats(10, 100), st.floats(0.5, 20)
)
def test_the_call_keeps_the_laws_of_the_film(
    masses: tuple[float, ...], grain: float, absorbs: float, more: float
) -> None:
    """More binder never raises PVC; solvent and scale never change it; a range holds its points."""

    def made(pigment: float, oil: Any, spirit: float) -> Body:
        body = {
            "pigments": [{"mass_g": pigment, "density_g_ml": grain, "oil_absorption_g_100g": absorbs}],
            "binders": [OIL | {"mass_g": oil}],
            "solvents": [SPIRIT | {"mass_g": spirit}],
        }
        return film(**body)

    a, b, c = masses
    plain, rich = made(a, b, c), made(a, b + more, c)
    assert rich["pvc"] <= plain["pvc"] and rich["reduced_pvc"] <= plain["reduced_pvc"]
    assert made(a, b, c + more)["pvc"] == pytest.approx(plain["pvc"], rel=1e-8)
    scaled = made(a * more, b * more, c * more)
    for name in FILM_FIGURES:
        assert scaled[name] == pytest.approx(plain[name], rel=1e-7)
    span = made(a, [b, b + more], c)
    if isinstance(span["pvc"], list):
        assert span["pvc"][0] == pytest.approx(rich["pvc"], rel=1e-8)
        assert span["pvc"][1] == pytest.approx(plain["pvc"], rel=1e-8)


def test_cut_both_ways() -> None:
    made = ask("cut", {"flakes": "2 lb", "alcohol": "1 gal", "system": "us"})
    assert (made["volume"], made["volume_unit"], made["cut_lb_gal"]) == (1.2, "US gal", 2)
    assert made["solids_percent"] == pytest.approx(23.3, abs=0.1) and made["alcohol_parts_per_part"] is None
    assert made["complete"] and made["volume_ml"] == pytest.approx(1.2 * 3785.411784)
    short = ask("cut", {"flakes": "2 lb", "alcohol": "1 gal", "system": "us", "convention": "shortcut"})
    assert short["volume"] == 1 and codes(short) == {"shortcut"}
    need = ask("cut", {"flakes": "454 g", "to_lb_gal": 2})
    assert need["alcohol_ml"] == pytest.approx(1894.4, abs=0.1) and need["volume_unit"] == "ml"
    assert ask("cut", {"from_lb_gal": 2, "to_lb_gal": 2})["alcohol_parts_per_part"] == 0


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "flakes"),
        ({"flakes": "2 lb"}, "flakes"),
        ({"flakes": "2 lb", "alcohol": "1 l", "to_lb_gal": 2}, "flakes"),
        ({"flakes": "2 l", "alcohol": "1 l"}, "flakes"),
        ({"flakes": "2 lb", "alcohol": "1 kg"}, "alcohol"),
        ({"flakes": "2 lb", "alcohol": "0 l"}, "alcohol"),
        ({"flakes": "2 lb", "alcohol": "1 to 2 l"}, "alcohol"),
        ({"flakes": "2 lb", "alcohol": "to suit"}, "alcohol"),
        ({"flakes": "2 lb", "alcohol": "3 heads x 1 l"}, "alcohol"),
        ({"flakes": 2, "alcohol": 1}, "flakes"),
        ({"from_lb_gal": 1, "to_lb_gal": 2}, "to_lb_gal"),
        ({"from_lb_gal": 3}, "from_lb_gal"),
        ({"from_lb_gal": 3, "to_lb_gal": 1, "flakes": "2 lb"}, "from_lb_gal"),
        ({"from_lb_gal": 3, "to_lb_gal": 0}, "to_lb_gal"),
    ],
)
def test_a_cut_that_cannot_be_read(body: Body, field: str) -> None:
    assert field in str(ask("cut", body, 422)["errors"])


def test_flakes_left_empty_are_asked_for_and_no_signs_are_counted() -> None:
    said = ask("cut", {"flakes": "", "alcohol": "1 l"}, 422)["errors"]
    assert said == {"flakes": "“flakes” is empty: write it."}


def test_whose_gallon_is_asked() -> None:
    doubt = ask("cut", {"flakes": "2 lb", "alcohol": "1 gal"}, 422)
    assert len(doubt["readings"]) == 2


def test_settling_of_ranges_and_of_what_floats() -> None:
    body = RIGHT["settling"]
    span = ask("settling", body | {"particle_um": [1, 10]})
    assert span["mm_per_h"] == pytest.approx([4.746, 474.6], rel=1e-3)
    assert span["stir_again_min"][0] == pytest.approx(600 / 474.6, rel=1e-3)
    assert "stokes-estimate" in codes(span, "note")
    floats = ask("settling", body | {"pigment_density_kg_m3": [700, 3200]})
    assert floats["mm_per_h"][0] < 0 and floats["stir_again_min"][1] is None
    light = ask("settling", body | {"pigment_density_kg_m3": 700})
    assert light["stir_again_min"] is None and "floats" in codes(light, "note")


def test_a_fall_too_fast_for_stokes_is_not_known() -> None:
    """100 µm in 0.3 mPa·s falls at a Reynolds number of about 11 to 20 by Stokes' own figure, worked out by
    hand: v = 9.80665 × (1e-4)² × 2420 / (18 × 3e-4) = 0.0439 m/s; 780 × 0.0439 × 1e-4 / 3e-4 = 11.4.
    """
    body = RIGHT["settling"] | {"particle_um": 100, "viscosity_mpa_s": 0.3}
    fast = ask("settling", body)
    assert "too-fast-for-stokes" in codes(fast, "unknown") and fast["complete"] is False
    assert "about 11 " in next(f["sentence"] for f in fast["findings"] if f["code"] == "too-fast-for-stokes")
    assert ask("settling", RIGHT["settling"])["complete"] is True


def test_coverage_of_coats_and_the_film_that_stays() -> None:
    body = RIGHT["coverage"]
    two = ask("coverage", body | {"volume_solids_percent": 32})
    assert two["litres"] == pytest.approx([2.449, 4.898], abs=1e-3)
    assert two["wet_film_um"] == pytest.approx([102.04, 204.08], abs=0.01)
    assert two["dry_film_um"] == pytest.approx([32.65, 65.31], abs=0.01)
    assert ask("coverage", {"area_m2": 10, "rate_m2_l": 5})["litres"] == [2, 2]


def test_glue_size_and_oxygen() -> None:
    white = ask("glue-size", {"wanted": 300})
    assert (white["glue"], white["water"], white["unit"]) == (100, 200, "ml")
    hide = ask("glue-size", {"glue": "hide glue", "wanted": 1100})
    assert hide["glue"] == [100, 275] and hide["water"] == [825, 1000] and hide["unit"] == "g"
    (said,) = white["findings"]
    assert said["source"] == "common practice, no source"
    once, thrice = (ask("oxygen", {"head_space_l": 0.473, "openings": n}) for n in (1, 3))
    assert once["oil_spent_g"] == pytest.approx(1.10, abs=0.01)
    assert thrice["oil_spent_g"] == pytest.approx(3 * once["oil_spent_g"]) and thrice["skin_um"] is None


ODD: tuple[Any, ...] = (
    1, "2", 0, -1, -0.0, 1e308, -1e308, 1e-308, 10**400, "NaN", "1e308", "", " ", "٣", True, {}, [], [1],
    [1, 2, 3],
    [2, 1], [1, None], [[1, 2], 3], ["a", "b"], [1e308, 1e308], [-1, 1], None, "x" * 5000, [1e-30, 1e15],
)  # fmt: skip


def fields(body: Any, at: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    inside = body.items() if isinstance(body, dict) else enumerate(body) if isinstance(body, list) else ()
    return [at, *(deeper for key, one in inside for deeper in fields(one, (*at, key)))]


def put(body: Any, at: tuple[Any, ...], value: Any) -> Any:
    if not at:
        return value
    copy = dict(body) if isinstance(body, dict) else list(body)
    copy[at[0]] = put(copy[at[0]], at[1:], value)
    return copy


@pytest.mark.parametrize("call", RIGHT)
def test_no_odd_body_is_our_mistake(call: str) -> None:
    """Everything odd in every field: an answer of finite figures, or a sentence with 422."""
    answers = set()
    for at in fields(RIGHT[call]):
        for odd in ODD:
            answer = client.post(f"/api/calc/{call}", json=put(RIGHT[call], at, odd))
            assert answer.status_code in (200, 422), (at, odd, answer.text)
            answers.add(answer.status_code)
            if answer.status_code == 422:
                assert answer.json()["errors"], (at, odd)
            else:
                assert "NaN" not in answer.text and "Infinity" not in answer.text, (at, odd)
    assert answers == {200, 422}


@pytest.mark.parametrize("raw", [b"", b"[]", b"null", b'{"pigments": NaN}', b'{"area_m2": Infinity}', b"{"])
@pytest.mark.parametrize("call", RIGHT)
def test_what_is_no_body(call: str, raw: bytes) -> None:
    answer = client.post(f"/api/calc/{call}", content=raw, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422)


def test_lists_have_an_end() -> None:
    answer = film(pigments=[UMBER] * 60, binders=[OIL] * 60, solvents=[SPIRIT] * 60)
    assert answer["reading"] == "well bound"
    wide = UMBER | {"mass_g": [1, 50], "density_g_ml": [3, 4]}
    assert film(pigments=[wide] * 60, binders=[OIL | {"mass_g": [1, 9]}] * 60)["pvc"][0] > 0
    for count in (61, 1001, 20_000):
        ask("film", {"pigments": [UMBER] * count}, 422)
    ask("film", {}, 422)
    ask("film", {"pigments": [UMBER | {"mass_g": 0}]}, 422)


def test_extreme_but_lawful_figures() -> None:
    for mass in (1e-9, 1e9):
        for density in (0.01, 25):
            for absorbs in (0, 1000):
                umber = {"mass_g": mass, "density_g_ml": density, "oil_absorption_g_100g": absorbs}
                answer = film(pigments=[umber], binders=[OIL], solvents=[SPIRIT])
                assert 0 <= answer["pvc"] <= 1 and 0 < answer["cpvc"] <= 1
