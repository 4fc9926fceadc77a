"""POST /api/calc/storage on its own: what it answers and says, and bodies nobody should send."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_storage import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
PATH = "/api/calc/storage"
ROOM = {"kind": "room", "storey": 1, "sprinklered": False, "approved_cabinets": False}
SPIRIT: dict[str, Any] = {
    "name": "white spirit", "flash_point": {"value": 104, "unit": "F"}, "container": "metal",
    "capacity": {"value": 5, "unit": "gal"}, "volume": {"value": 4, "unit": "gal"},
}  # fmt: skip


def ask(**body: Any) -> dict[str, Any]:
    answer = client.post(PATH, json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(got: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in got["findings"]}


def test_an_answer_says_what_was_counted_where_against_what() -> None:
    got = ask(place=ROOM, items=[SPIRIT])
    assert (got["met"], got["agree"], got["complete"]) == (True, True, True)
    assert [one["rule_set"] for one in got["rule_sets"]] == ["osha-1910.106", "ifc-2018"]
    item = got["items"][0]
    assert [one["category"] for one in item["categories"]] == ["3", "II"]
    assert (item["category"], item["counted"], item["unit"], item["liquid"]) == ("3", 4, "gal", 4)
    assert item["counted_metric"] == pytest.approx(15.141647136)
    row = next(one for one in got["limits"] if one["row"] == "ifc-maq-ii-storage")
    assert (row["limit"], row["unit"], row["limit_metric"], row["metric_unit"]) == (
        120, "gal", pytest.approx(454.24941408), "l",
    )  # fmt: skip
    assert (row["citation"], row["edition"], row["grade"]) == ("IFC Table 5003.1.1(1)", "2018", "read")
    assert (row["checked"], row["counts"], row["scope"]) == (True, ["white spirit"], "room")
    total = next(one for one in got["totals"] if (one["scope"], one["rule_set"]) == ("room", "ifc-2018"))
    assert (total["category"], total["storage"], total["together"], total["sure"]) == ("II", 4, 4, True)
    assert got["data_used"] == [
        {"ingredient": "white spirit", "property": "flash_point", "value": 104.0, "unit": "F",
         "source": "given", "grade": "given"},
    ]  # fmt: skip
    assert codes(got) == {"only-what-was-told", "rows-only", "thirty-days-not-applied"}


def test_both_answers_stand_where_the_two_laws_disagree() -> None:
    pentane = {
        "flash_point": {"value": -40, "unit": "C"}, "boiling_point": {"value": 36.1, "unit": "C"},
        "container": "metal", "capacity": {"value": 5, "unit": "gal"}, "volume": {"value": 5, "unit": "gal"},
    }  # fmt: skip
    got = ask(place=ROOM, items=[pentane] * 7)
    assert [one["met"] for one in got["rule_sets"]] == [True, False]
    assert (got["met"], got["agree"]) == (False, False)


def test_native_units_come_out_as_they_went_in() -> None:
    """An exact boundary told in litres and in gallons, in Celsius and in Fahrenheit, is the same boundary."""
    for volume, met in (
        ({"value": "454.24941408", "unit": "l"}, True), ({"value": "454.2494141", "unit": "l"}, False),
        ({"value": 120, "unit": "gal"}, True), ({"value": 480, "unit": "qt"}, True),
        ({"value": 960, "unit": "pt"}, True), ({"value": "454249.41408", "unit": "ml"}, True),
    ):  # fmt: skip
        for flash in ({"value": 40, "unit": "C"}, {"value": 104, "unit": "F"}):
            got = ask(rule_set="ifc", place=ROOM, items=[{"flash_point": flash, "volume": volume}])
            row = next(one for one in got["limits"] if one["row"] == "ifc-maq-ii-storage")
            assert row["met"] is met, volume


def test_what_is_not_known_is_null_and_never_within() -> None:
    got = ask(items=[{"volume": {"value": 1, "unit": "gal"}}])
    assert (got["met"], got["complete"]) == (None, False)
    assert got["items"][0]["category"] == "1"
    assert got["items"][0]["categories"][1]["may_be"] == ["IA", "IB", "IC", "II", "IIIA", "IIIB"]
    assert "flash-not-known" in codes(got)
    assert all(one["met"] is not True for one in got["limits"])


def test_a_thing_from_memory_is_shown_as_not_checked() -> None:
    got = ask(rule_set="trgs", place=ROOM, items=[{"category": "H226", "mass": {"value": 5, "unit": "kg"}}])
    row = next(one for one in got["limits"] if one["row"] == "trgs-h226")
    assert (row["checked"], row["grade"], row["met"], got["met"]) == (False, "memory", None, None)


def test_items_that_may_not_stand_together_are_found() -> None:
    bleach = {
        "name": "bleach",
        "category": "oxidizer-2",
        "mass": {"value": 10, "unit": "lb"},
        "in_cabinet": True,
    }
    got = ask(rule_set="ifc", place=ROOM, items=[{**SPIRIT, "in_cabinet": True}, bleach])
    assert [(one["told"], one["ok"]) for one in got["pairs"]] == [(False, False)]
    assert "kept-apart" in codes(got)


def test_two_that_stand_together_are_never_met_by_their_amounts() -> None:
    pair = {"a": "oxidizer", "b": "flammable_liquid", "same_cabinet": True}
    got = ask(place=ROOM, items=[SPIRIT], pairs=[pair])
    assert ([one["met"] for one in got["rule_sets"]], got["met"]) == ([True, True], False)
    alone = ask(pairs=[{**pair, "same_cabinet": None}])
    assert (alone["met"], alone["rule_sets"]) == (None, [])


@pytest.mark.parametrize(
    ("field", "value", "means"),
    [("kind", "fire_area", "building"), ("kind", "control area", "room"), ("use_group", "E", "school")],
)
def test_words_of_the_code_are_read(field: str, value: str, means: str) -> None:
    asked = [ask(place={**ROOM, field: one}, items=[SPIRIT]) for one in (value, means)]
    assert asked[0] == asked[1]
    assert ("school-needs" in codes(asked[0])) is (means == "school")


@pytest.mark.parametrize("unit", ["gal", "US gal", "gallons", " Gal "])
def test_a_gallon_by_its_names(unit: str) -> None:
    assert ask(items=[{**SPIRIT, "volume": {"value": 4, "unit": unit}}])["items"][0]["counted"] == 4


@pytest.mark.parametrize("told", ["osha", "OSHA 1910.106", "1910.106", "osha_1910.106", "osha-1910.106"])
def test_a_rule_set_by_its_names(told: str) -> None:
    assert [one["rule_set"] for one in ask(rule_set=told, items=[SPIRIT])["rule_sets"]] == ["osha-1910.106"]


@pytest.mark.parametrize(
    ("told", "category"), [("ib", "IB"), ("Class IB", "IB"), (2, "2"), ("category 2", "2"), ("Cat 2", "2"),
                           ("oxidizer_2", "oxidizer-2"), ("None", "none")],
)  # fmt: skip
def test_a_category_by_its_names(told: Any, category: str) -> None:
    rule_set = "osha" if category in ("2", "none") else "ifc"
    assert ask(rule_set=rule_set, items=[{"category": told}])["items"][0]["category"] == category


BAD: list[tuple[dict[str, Any], str]] = [
    ({}, "items"),
    ({"items": []}, "items"),
    ({"rule_set": "mars", "items": [SPIRIT]}, "rule_set"),
    ({"rule_set": 7, "items": [SPIRIT]}, "rule_set"),
    ({"rule_set": "x" * 5000, "items": [SPIRIT]}, "rule_set"),
    ({"items": [SPIRIT], "place": {"storey": 0}}, "place.storey"),
    ({"items": [SPIRIT], "place": {"storey": 1.5}}, "place.storey"),
    ({"items": [SPIRIT], "place": {"storey": True}}, "place.storey"),
    ({"items": [SPIRIT], "place": {"kind": "shelf"}}, "place.kind"),
    ({"items": [SPIRIT], "place": {"ambient_max_c": 61}}, "place.ambient_max_c"),
    ({"items": [{**SPIRIT, "storey": 0}]}, "items.0.storey"),
    ({"items": [{**SPIRIT, "category": "V"}]}, "items.0.category"),
    ({"items": [{**SPIRIT, "category": True}]}, "items.0.category"),
    ({"items": [{**SPIRIT, "category": ["2"]}]}, "items.0.category"),
    ({"items": [{**SPIRIT, "volume": {"value": 6, "unit": "gal"}}]}, "items.0.volume"),
    ({"items": [{**SPIRIT, "volume": {"value": -1, "unit": "gal"}}]}, "items.0.volume.value"),
    ({"items": [{**SPIRIT, "volume": {"value": "1e400", "unit": "gal"}}]}, "items.0.volume.value"),
    ({"items": [{**SPIRIT, "volume": {"value": "NaN", "unit": "gal"}}]}, "items.0.volume.value"),
    ({"items": [{**SPIRIT, "volume": {"value": 1, "unit": "cup"}}]}, "items.0.volume.unit"),
    ({"items": [{**SPIRIT, "volume": 4}]}, "items.0.volume"),
    ({"items": [{**SPIRIT, "flash_point": {"value": 40}}]}, "items.0.flash_point.unit"),
    ({"items": [{**SPIRIT, "flash_point": {"value": 40, "unit": "K"}}]}, "items.0.flash_point.unit"),
    ({"items": [{**SPIRIT, "no_flash_point": True}]}, "items.0.flash_point"),
    ({"items": [{**SPIRIT, "emptied": True}]}, "items.0.emptied"),
    ({"items": [{**SPIRIT, "vapour_free": True}]}, "items.0.vapour_free"),
    ({"items": [{**SPIRIT, "density_g_ml": 0}]}, "items.0.density_g_ml"),
    ({"items": [{**SPIRIT, "container": "hat"}]}, "items.0.container"),
    ({"items": [{**SPIRIT, "name": "a\u0000b"}]}, "items.0.name"),
    ({"items": [{**SPIRIT, "colour": "red"}]}, "items.0.colour"),
    ({"items": [SPIRIT] * 201}, "items"),
    ({"items": [SPIRIT], "near_share": 0}, "near_share"),
    ({"items": [SPIRIT], "near_share": 1.01}, "near_share"),
    ({"pairs": [{"a": "", "b": "acid"}]}, "pairs.0.a"),
    ({"pairs": [{"a": "acid"}]}, "pairs.0.b"),
]


@pytest.mark.parametrize(("body", "field"), BAD, ids=[f"{n} {field}" for n, (_, field) in enumerate(BAD)])
def test_odd_bodies_are_refused_by_a_sentence_at_their_field(body: dict[str, Any], field: str) -> None:
    answer = client.post(PATH, content=json.dumps(body), headers={"content-type": "application/json"})
    assert answer.status_code == 422, answer.text
    errors = answer.json()["errors"]
    named = set(errors) if isinstance(errors, dict) else {one["field"] for one in errors}
    assert field in named, errors


def test_the_largest_question_is_answered() -> None:
    items = [
        {**SPIRIT, "name": f"can {n}", "room": f"room {n % 7}", "groups": ["oxidizer"]} for n in range(200)
    ]
    got = ask(
        rule_sets=["osha", "ifc", "hse", "trgs", "osha_1926_152"],
        place={**ROOM, "kind": "building"},
        items=items,
    )
    assert len(got["items"]) == 200
    assert got["met"] is False


@pytest.mark.parametrize(
    ("value", "unit", "osha", "ifc"),
    [
        ("73.3", "F", "2", "IC"), ("73.4", "F", "3", "IC"), ("72.9", "F", "2", "IB"), ("73", "F", "2", "IC"),
        ("99.9", "F", "3", "IC"), ("100", "F", "3", "II"), ("139.9", "F", "3", "II"),
        ("140", "F", "3", "IIIA"), ("140.1", "F", "4", "IIIA"), ("199.4", "F", "4", "IIIA"),
        ("199.5", "F", "none", "IIIA"), ("199.9", "F", "none", "IIIA"), ("200", "F", "none", "IIIB"),
        ("22.9", "C", "2", "IC"), ("23", "C", "3", "IC"), ("22.7", "C", "2", "IB"), ("37.7", "C", "3", "IC"),
        ("37.8", "C", "3", "II"), ("59.9", "C", "3", "II"), ("60", "C", "3", "IIIA"),
        ("60.1", "C", "4", "IIIA"), ("93", "C", "4", "IIIA"), ("93.1", "C", "none", "IIIA"),
        ("93.3", "C", "none", "IIIA"), ("93.4", "C", "none", "IIIB"),
    ],
)  # fmt: skip
def test_each_cut_in_its_own_unit_with_both_verdicts(value: str, unit: str, osha: str, ifc: str) -> None:
    """23, 60 and 93 °C are just 73.4, 140 and 199.4 °F; 73, 100 and 200 °F are no whole degrees Celsius."""
    item = {"flash_point": {"value": value, "unit": unit}, "boiling_point": {"value": 392, "unit": "F"}}
    got = ask(rule_sets=["osha-1910.106", "ifc-2018"], place=ROOM, items=[item])
    said = {one["rule_set"]: one["category"] for one in got["items"][0]["categories"]}
    assert said == {"osha-1910.106": osha, "ifc-2018": ifc}


@pytest.mark.parametrize(
    ("value", "unit", "osha", "ifc"),
    [
        ("95", "F", "1", "IA"), ("95.1", "F", "2", "IA"), ("99.9", "F", "2", "IA"), ("100", "F", "2", "IB"),
        ("35", "C", "1", "IA"), ("35.1", "C", "2", "IA"), ("37.7", "C", "2", "IA"), ("37.8", "C", "2", "IB"),
    ],
)  # fmt: skip
def test_each_boiling_cut_in_its_own_unit(value: str, unit: str, osha: str, ifc: str) -> None:
    item = {"flash_point": {"value": -40, "unit": "F"}, "boiling_point": {"value": value, "unit": unit}}
    got = ask(rule_sets=["osha-1910.106", "ifc-2018"], place=ROOM, items=[item])
    said = {one["rule_set"]: one["category"] for one in got["items"][0]["categories"]}
    assert said == {"osha-1910.106": osha, "ifc-2018": ifc}


@pytest.mark.parametrize("rule_set", ["osha-1910.106", "ifc-2018", "hse-dsear", "trgs-510"])
@pytest.mark.parametrize(
    ("group", "code"),
    [
        ("oxidizer", "fire-code-class-not-known"), ("water reactive", "fire-code-class-not-known"),
        ("organic peroxide", "fire-code-class-not-known"), ("aerosol", "no-row-held"),
        ("flammable gas", "no-row-held"), ("rocket fuel", "no-row-held"),
    ],
)  # fmt: skip
def test_a_group_that_no_row_was_judged_for_is_not_known(rule_set: str, group: str, code: str) -> None:
    item = {"name": "ox", "groups": [group], "no_flash_point": True, "mass": {"value": 500, "unit": "lb"}}
    got = ask(rule_set=rule_set, place=ROOM, items=[item])
    assert (got["met"], got["complete"]) == (None, False) and code in codes(got)
    assert got["rule_sets"][0]["met"] is None


def test_a_group_with_its_class_is_judged_by_the_row_of_it() -> None:
    item = {"groups": ["oxidizer"], "category": "oxidizer-1", "mass": {"value": 5000, "unit": "lb"}}
    got = ask(rule_set="ifc", place={**ROOM, "sprinklered": False}, items=[item])
    assert got["met"] is False and "fire-code-class-not-known" not in codes(got)


@pytest.mark.parametrize(
    "more", [{"no_flash_point": True}, {"flash_point": {"value": 95, "unit": "C"}}, {"category": "IIIB"},
             {"category": "corrosive"}],
)  # fmt: skip
def test_what_is_told_as_a_flammable_liquid_counts_as_one(more: dict[str, Any]) -> None:
    item = {"groups": ["flammable_liquid"], "volume": {"value": 40, "unit": "gal"}, **more}
    got = ask(rule_set="ifc", place=ROOM, items=[item])
    assert (got["met"], got["complete"]) == (False, False)
    rows = {one["row"]: one["met"] for one in got["limits"]}
    assert rows["ifc-maq-ia-storage"] is False and codes(got) & {"told-facts-differ", "flash-not-known"}


@pytest.mark.parametrize(
    ("rule_sets", "category", "held"),
    [
        (["osha"], "oxidizer-1", False), (["osha", "ifc"], "oxidizer-1", True),
        (["osha"], "pyrophoric", False), (["hse"], "organic-peroxide-3", False),
        (["hse"], "water-reactive-2", False), (["osha"], "corrosive", False), (["ifc"], "corrosive", True),
    ],
)  # fmt: skip
def test_a_class_that_no_row_of_the_tables_asked_counts_is_not_known(
    rule_sets: list[str], category: str, held: bool
) -> None:
    item = {"category": category, "mass": {"value": 1, "unit": "lb"}, "density_g_ml": 1}
    got = ask(rule_sets=rule_sets, place={**ROOM, "ambient_max_c": 30}, items=[item])
    assert (got["met"], got["complete"], "no-row-held" in codes(got)) == (
        (True, True, False) if held else (None, False, True)
    )


def test_a_liquid_that_no_row_counts_where_it_stands_is_not_known() -> None:
    item = {"category": "H225", "in_cabinet": True, "mass": {"value": 500, "unit": "kg"}}
    got = ask(rule_set="trgs", place={**ROOM, "approved_cabinets": True}, items=[item])
    assert (got["met"], got["complete"]) == (None, False) and "no-row-held" in codes(got)


def test_rooms_that_are_too_much_together_are_not_met_until_barriers_are_told() -> None:
    items = [{"category": "IB", "volume": {"value": 90, "unit": "gal"}, "room": room} for room in "AB"]
    for kind in ("building", "storey", "room"):
        place = {**ROOM, "kind": kind}
        for told, met in ((None, None), (True, True), (False, False)):
            got = ask(rule_set="ifc-2018", place={**place, "barriers": told}, items=items)
            assert (got["met"], got["rule_sets"][0]["met"]) == (met, met), (kind, told)
            assert got["complete"] is (told is not None), (kind, told)
            said = [one for one in got["findings"] if one["code"] == "control-areas-not-told"]
            assert bool(said) is (told is None) and all("5003.8.3.2" in one["source"] for one in said)
        open_ = ask(rule_set="ifc-2018", place=place, items=items)
        as_one = [one for one in open_["limits"] if one["where"] == "storey 1 as one control area"]
        assert {(one["counted"], one["limit"], one["met"], one["near"]) for one in as_one} == {
            (180, 120, None, False)
        }


@pytest.mark.parametrize(
    ("value", "unit", "ok"),
    [
        (20, "ft", True), ("19.99", "ft", False), ("6.096", "m", True), ("6.095", "m", False),
        ("609.6", "cm", True), ("609.5", "cm", False), (6096, "mm", True), (6095, "mm", False),
    ],
)  # fmt: skip
def test_a_distance_in_each_unit_the_code_prints(value: Any, unit: str, ok: bool) -> None:
    pair = {"a": "oxidizer", "b": "flammable_liquid", "same_cabinet": False, "same_room": True}
    got = ask(pairs=[{**pair, "partition": False, "distance": {"value": value, "unit": unit}}])
    assert got["pairs"][0]["ok"] is ok
