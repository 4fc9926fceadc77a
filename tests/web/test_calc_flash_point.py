"""The flash-point call on its own: what it may decide, what is missing, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_flash_point import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
THINNER = {"name": "thinner", "cas": "64742-88-7", "flash_point_c": 62}
LAWS = {"un-ghs", "eu-clp", "us-hcs"}


def send(*components: dict[str, Any], **more: Any) -> Any:
    return client.post("/api/calc/flash-point", json={"components": list(components), **more})


def ask(*components: dict[str, Any], **more: Any) -> dict[str, Any]:
    answer = send(*components, **more)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


def categories(answer: dict[str, Any]) -> set[tuple[str, bool]]:
    assert set(answer["category"]) == LAWS
    return {(one["category"], one["may_be_used"]) for one in answer["category"].values()}


def test_a_cupful_of_acetone_makes_a_thinner_category_2() -> None:
    """Common practice, no source: a little acetone in thinner makes the can flash like acetone."""
    got = ask({**THINNER, "volume_ml": 4750}, {"name": "acetone", "volume_ml": 250})
    assert got["flash_point_c"] < 0
    assert got["ideal"]["flash_point_c"] > got["flash_point_c"] + 10
    assert {one[0] for one in categories(got)} == {"2"}
    assert got["complete"]


def test_a_calculated_value_makes_it_milder_only_where_that_was_compared_with_tests() -> None:
    """Ketone in thinner: milder by the figure, kept at the ketone's category; heptane in decane: milder."""
    little = ask({**THINNER, "volume_ml": 9999.9}, {"name": "methyl isobutyl ketone", "volume_ml": 0.1})
    assert little["flash_point_c"] > 55
    assert categories(little) == {("2", False)}
    assert not any("kept" in one for one in little["category"]["un-ghs"]["because"])
    assert any("never compared" in one for one in little["category"]["un-ghs"]["because"])
    alkanes = ask({**THINNER, "volume_ml": 9999.9}, {"name": "n-heptane", "volume_ml": 0.1})
    assert {one[0] for one in categories(alkanes)} == {"4"} if alkanes["flash_point_c"] > 65 else {"3"}
    assert {one[1] for one in categories(alkanes)} == {True}


def test_a_thinner_without_its_own_flash_point_is_not_validated() -> None:
    got = ask({"cas": "64742-88-7", "volume_ml": 999.99}, {"name": "n-heptane", "volume_ml": 0.01})
    assert categories(got) == {("2", False)}


def test_within_five_degrees_of_a_limit_the_more_severe_category_stays() -> None:
    """GHS 2.6.4.2 (from memory): at least 5 C away from the limit."""
    got = ask({"name": "n-nonane", "mole_fraction": 0.75}, {"name": "n-octane", "mole_fraction": 0.25})
    assert 23 <= got["flash_point_c"] < 28, got["flash_point_c"]
    assert {one[0] for one in categories(got)} == {"2"}


def test_a_measured_value_counts_before_ours() -> None:
    mix = ({**THINNER, "volume_ml": 900}, {"name": "acetone", "volume_ml": 100})
    got = ask(*mix, measured_flash_point_c=30, flash_point_confirmed=True)
    assert categories(got) == {("3", True)}
    assert got["flash_point_c"] < 0


@pytest.mark.parametrize("typed", [30, 104])
def test_a_measured_value_milder_than_what_is_in_it_is_a_question(typed: int) -> None:
    """104 °F typed as °C would take the flame off a thinner with acetone."""
    mix = ({**THINNER, "volume_ml": 900}, {"name": "acetone", "volume_ml": 100})
    got = ask(*mix, measured_flash_point_c=typed)
    assert categories(got) == {("2", False)}
    assert "flash-point-to-confirm" in codes(got) and not got["complete"]
    assert all(one["because"] for one in got["category"].values())


DOUBTFUL = [
    ({"name": "acetone", "mass_g": 9, "flash_point_c": 200}, "given-contradicts-published", "2"),
    ({"name": "acetone", "mass_g": 9, "volatile": False}, "said-not-to-evaporate", "2"),
    ({"name": "acetone", "mass_g": 9, "does_not_flash": True}, "given-contradicts-published", "2"),
    ({"name": "acetone", "mass_g": 9, "cas": "7732-18-5"}, "name-and-number-differ", ""),
]


@pytest.mark.parametrize(("component", "code", "category"), DOUBTFUL, ids=[one[1] for one in DOUBTFUL])
def test_what_makes_a_known_liquid_milder_is_doubted(
    component: dict[str, Any], code: str, category: str
) -> None:
    got = ask(component)
    assert code in codes(got) and not got["complete"]
    assert {one[0] for one in categories(got)} == {category}
    assert got["flash_point_c"] is None or got["flash_point_c"] < 0


def test_acetone_is_not_water() -> None:
    answer = send({"name": "acetone", "mass_g": 9, "water": True})
    assert answer.status_code == 422 and "not as water" in answer.text


def test_what_stays_in_the_film_is_left_out_and_said() -> None:
    got = ask(
        {"name": "linseed oil", "volatile": False, "mass_g": 500},
        {"name": "turpentine", "cas": "8006-64-2", "flash_point_c": 35, "mass_g": 500},
    )
    assert got["flash_point_c"] == pytest.approx(35, abs=1e-3)
    assert [one["name"] for one in got["left_out"]] == ["linseed oil"]
    assert "cut-as-one-liquid" in codes(got)


def test_water_takes_part_and_does_not_burn() -> None:
    brandy = ask({"name": "ethanol", "volume_fraction": 0.4}, {"name": "water", "volume_fraction": 0.6})
    assert 24 < brandy["flash_point_c"] < 29
    water = ask({"name": "water", "mass_g": 100})
    assert water["flash_point_c"] is None and water["complete"]
    assert categories(water) == {("", False)}
    assert "nothing-volatile-burns" in codes(water)


def test_water_in_thinner_may_part_and_never_looks_milder() -> None:
    dry = ask({"name": "n-decane", "volume_ml": 500})
    wet = ask({"name": "n-decane", "volume_ml": 500}, {"name": "water", "volume_ml": 500})
    assert "may-separate" in codes(wet)
    assert wet["flash_point_c"] <= dry["flash_point_c"] + 1e-6


@pytest.mark.parametrize("x", [0.05, 0.5, 0.95])
def test_alike_liquids_do_not_part(x: float) -> None:
    pair = ({"name": "n-octane", "mole_fraction": x}, {"name": "n-heptane", "mole_fraction": 1 - x})
    assert "may-separate" not in codes(ask(*pair))


MISSING = [
    (
        "no flash point",
        {"name": "mystery spirit", "mass_g": 10, "boiling_point_c": 90},
        "flash-point-not-known",
    ),
    (
        "no vapour pressure",
        {"name": "mystery spirit", "mass_g": 10, "flash_point_c": 20},
        "vapour-pressure-not-known",
    ),
    ("no molar mass", {"name": "mystery spirit", "mass_g": 10, "flash_point_c": 20}, "moles-not-known"),
    ("halogens", {"cas": "75-09-2", "mass_g": 10}, "flash-not-calculable"),
    ("said not to flash", {"name": "odd", "mass_g": 9, "does_not_flash": True}, "flash-not-calculable"),
    ("a name of several", {"name": "xylene", "mass_g": 10}, "name-means-several"),
    (
        "no groups",
        {
            "name": "mystery spirit",
            "mass_g": 10,
            "flash_point_c": 20,
            "boiling_point_c": 90,
            "vapour_pressure_kpa": 3,
            "at_c": 20,
            "molar_mass_g_mol": 80,
        },
        "flash-not-calculable",
    ),
]


@pytest.mark.parametrize(("what", "component", "code"), MISSING, ids=[one[0] for one in MISSING])
def test_what_is_missing_makes_it_not_known(what: str, component: dict[str, Any], code: str) -> None:
    got = ask({"name": "n-decane", "mass_g": 90}, component)
    assert got["flash_point_c"] is None
    assert code in codes(got)
    assert not got["complete"]


def test_the_most_flammable_ingredient_stands_in_for_what_is_not_known() -> None:
    got = ask({"name": "acetone", "mass_g": 1}, {"name": "mystery spirit", "mass_g": 99})
    assert categories(got) == {("2", False)}
    assert not got["complete"]


def test_a_part_that_nobody_tells_is_not_known() -> None:
    got = ask({"name": "n-decane", "percent": 80})
    assert got["flash_point_c"] is None and "remainder-not-told" in codes(got)


def test_of_a_range_the_worse_end_stands() -> None:
    def with_acetone(percent: Any) -> float:
        rest = 100 - (percent[0] if isinstance(percent, list) else percent)
        got = ask({"name": "acetone", "percent": percent}, {"name": "n-decane", "percent": rest})
        return float(got["flash_point_c"])

    assert with_acetone([1, 10]) <= with_acetone(10) + 1e-6 < with_acetone(1)


def test_one_variant_alone_is_said() -> None:
    got = ask({"cas": "34590-94-8", "mass_g": 50}, {"name": "n-decane", "mass_g": 50})
    assert "one-variant-only" in codes(got)
    assert [one["variant"] for one in got["by_variant"] if one["flash_point_c"] is None] == ["dortmund"]


def test_coefficients_are_shown_at_the_temperature_asked_for() -> None:
    pair = ({"name": "n-octane", "mole_fraction": 0.5}, {"name": "ethanol", "mole_fraction": 0.5})
    cold, warm = (ask(*pair, at_temperature_c=at)["activity_coefficients"] for at in (0, 60))
    assert all(a["original"] > b["original"] > 1 for a, b in zip(cold, warm, strict=True))
    assert cold[0]["at_c"] == 0


REFUSED = [
    ("no component", [], ""),
    ("no amount", [{"name": "lye"}], "lye"),
    ("two amounts", [{"name": "lye", "mass_g": 1, "percent": 3}], "lye"),
    ("less than nothing", [{"name": "lye", "mass_g": -1}], "lye"),
    ("range turned round", [{"name": "lye", "mass_g": [7, 3]}], "lye"),
    ("over the whole", [{"name": "a", "percent": 70}, {"name": "b", "percent": 70}], "140"),
    ("different ways", [{"name": "a", "percent": 70}, {"name": "b", "volume_fraction": 0.3}], "one way"),
    ("nothing of anything", [{"name": "a", "mass_g": 0}], "zero"),
    ("flash and none", [{"name": "lye", "mass_g": 1, "flash_point_c": 1, "does_not_flash": True}], "lye"),
    ("pressure without temperature", [{"name": "lye", "mass_g": 1, "vapour_pressure_kpa": 1}], "lye"),
    ("temperature without pressure", [{"name": "lye", "mass_g": 1, "at_c": 1}], "lye"),
    (
        "limits turned round",
        [{"name": "lye", "mass_g": 1, "lel_vol_percent": 9, "uel_vol_percent": 2}],
        "lye",
    ),
    ("no CAS number", [{"name": "lye", "mass_g": 1, "cas": "67-64-2"}], "lye"),
    ("seven ranges", [{"name": f"n{n}", "mass_g": [1, 2]} for n in range(7)], "ranges"),
    ("no number", [{"name": "lye", "mass_g": "much"}], ""),
    ("text for a truth", [{"name": "lye", "mass_g": 1, "volatile": "no"}], ""),
    ("an unknown field", [{"name": "lye", "mass_g": 1, "colour": "red"}], ""),
]


@pytest.mark.parametrize(("what", "components", "word"), REFUSED, ids=[one[0] for one in REFUSED])
def test_refused_with_a_sentence(what: str, components: list[dict[str, Any]], word: str) -> None:
    answer = send(*components)
    assert answer.status_code == 422, answer.text
    assert word in answer.text


ODD: list[Any] = [1e-300, 1e-18, 1e15, 999_999, "1e400", -0.0, 1e308, "٣", None, True, [], [1], [[1, 2]], {}]


@pytest.mark.parametrize("value", ODD, ids=str)
@pytest.mark.parametrize(
    "field",
    ["mole_fraction", "mass_g", "volume_ml", "percent", "molar_mass_g_mol", "density_g_ml", "flash_point_c",
     "boiling_point_c", "kinematic_viscosity_40c", "lel_vol_percent"],
)  # fmt: skip
def test_odd_numbers_never_break_it(field: str, value: Any) -> None:
    amount = {} if field in ("mole_fraction", "mass_g", "volume_ml", "percent") else {"mass_g": 5}
    odd = {"name": "acetone", **amount, field: value}
    for components in ([odd], [odd, {"name": "n-decane", "mass_g": 50}]):
        assert send(*components).status_code in (200, 422)
