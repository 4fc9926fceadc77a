"""POST /api/calc/waste on its own: boundaries, what is not known, and bodies nobody should send."""

from __future__ import annotations

import json
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_waste import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
PATH = "/api/calc/waste"


def ask(**body: Any) -> dict[str, Any]:
    answer = client.post(PATH, json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def judged(**stream: Any) -> dict[str, bool | None]:
    return {one["code"]: one["applies"] for one in ask(streams=[stream])["streams"][0]["judged"]}


@pytest.mark.parametrize(
    ("kg", "acute", "residue", "category"),
    [("100", 0, 0, "VSQG"), ("100.000001", 0, 0, "SQG"), ("999.999999", 0, 0, "SQG"), ("1000", 0, 0, "LQG"),
     ("0", 1, 0, "VSQG"), ("0", "1.000001", 0, "LQG"), ("0", 1, 100, "VSQG"), ("0", 1, "100.1", "LQG")],
)  # fmt: skip
def test_boundaries_of_the_categories(kg: str, acute: Any, residue: Any, category: str) -> None:
    assert ask(months_kg=[kg], acute_kg=acute, acute_residue_kg=residue)["category"] == [category]


def test_a_mass_that_is_not_known_makes_the_category_a_lower_bound() -> None:
    got = ask(months_kg={"2026-01": None, "2026-02": 20}, acute_kg=0)
    assert got["category"] == {"2026-01": None, "2026-02": "VSQG"}
    assert (got["months"][0]["at_least"], got["months"][0]["kg_is_at_least"], got["complete"]) == (
        "VSQG", True, False,
    )  # fmt: skip
    untold = ask(months_kg=150)
    assert (untold["category"], untold["months"][0]["at_least"], untold["complete"]) == (None, "SQG", False)
    assert ask(months_kg=1000, acute_kg=None)["category"] == "LQG"


@pytest.mark.parametrize(
    ("category", "miles", "deadline"),
    [("SQG", 200, "2026-07-31"), ("SQG", "200.01", "2026-10-29"), ("SQG", None, "2026-07-31"),
     ("LQG", 500, "2026-05-02"), (None, 500, "2026-05-02")],
)  # fmt: skip
def test_days_by_category_and_way(category: str | None, miles: Any, deadline: str) -> None:
    body = {"category": category, "haul_miles": miles, "start": "2026-02-01", "today": deadline}
    assert [ask(**body)[name] for name in ("deadline", "overdue")] == [deadline, False]


def test_a_very_small_generator_has_no_clock_until_its_cap_is_passed() -> None:
    body: dict[str, Any] = {"category": "VSQG", "start": "2026-02-01", "today": "2026-12-01"}
    for kg, exceeded, deadline in (
        (1000, False, None),
        ("1000.1", True, "2026-07-31"),
        (None, None, "2026-07-31"),
    ):
        got = ask(**body, on_site_kg=kg, acute_on_site_kg=0)
        assert (got["cap_exceeded"], got["deadline"]) == (exceeded, deadline), kg
    assert ask(category="SQG", on_site_kg=6000)["cap_exceeded"] is False
    assert ask(category="SQG", on_site_kg="6000.1")["cap_exceeded"] is True
    assert ask(category="LQG", on_site_kg=60000)["cap_exceeded"] is False
    assert ask(category="VSQG", on_site_kg=3, acute_on_site_kg="1.1")["cap_exceeded"] is True
    assert ask(on_site_kg=20)["cap_exceeded"] is None, "acute waste has a cap of its own, and was not told"
    assert ask(on_site_kg=20, acute_on_site_kg=0)["cap_exceeded"] is False


def test_a_told_category_is_never_lighter_than_its_months() -> None:
    body: dict[str, Any] = {"acute_kg": 0, "start": "2026-02-01", "today": "2026-02-02", "on_site_kg": 5}
    assert ask(**body, months_kg=[1000], category="VSQG")["deadline"] == "2026-05-02"
    assert ask(**body, months_kg=[20], category="SQG")["deadline"] == "2026-07-31"
    assert ask(**body, months_kg=[None], category="VSQG")["deadline"] == "2026-07-31"
    assert ask(**body, months_kg=[None], category="VSQG", acute_on_site_kg=0)["deadline"] is None
    lone = ask(category="VSQG", on_site_kg=5)
    assert (lone["cap_exceeded"], lone["complete"]) == (None, False)
    assert ask(category="VSQG", on_site_kg=5, acute_on_site_kg=0)["complete"] is True


def test_a_very_small_generator_that_did_not_tell_its_acute_waste_has_the_shortest_time() -> None:
    body: dict[str, Any] = {"category": "VSQG", "start": "2026-02-01", "today": "2026-03-01"}
    got = ask(**body, on_site_kg=10)
    assert (got["deadline"], got["complete"]) == ("2026-05-02", False)
    assert "waste-acute-not-known" in {one["code"] for one in got["findings"]}
    told = ask(**body, on_site_kg=10, acute_on_site_kg="0.9")
    assert (told["deadline"], told["complete"]) == (None, True)


@pytest.mark.parametrize(
    ("acute", "gallons", "deadline", "overdue", "complete"),
    [
        (None, "0.25", None, None, True),
        (None, "0.2501", "2026-12-01", None, False),
        (None, "55", "2026-12-01", None, False),
        (None, "55.01", "2026-12-01", True, True),
        (False, "55", None, None, True),
        (True, "0.25", None, None, True),
        (True, "0.2501", "2026-12-01", True, True),
        (None, None, "2026-12-04", None, False),
    ],
)
def test_a_satellite_drum_of_acute_waste_has_a_quart_and_what_was_not_told_may_be(
    acute: bool | None, gallons: str | None, deadline: str | None, overdue: bool | None, complete: bool
) -> None:
    volume = None if gallons is None else {"value": gallons, "unit": "gal"}
    got = ask(satellite={"volume": volume, "acute": acute}, today="2026-12-01")
    assert (got["satellite_deadline"], got["satellite_overdue"]) == (deadline, overdue)
    assert got["complete"] is complete


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_days_at_the_ends_of_the_calendar_are_no_fault_of_the_server(day: str) -> None:
    body = {"start": day, "today": day, "satellite": {"excess_on": day}, "category": "LQG",
            "records": {"last_use": day, "added_on": day, "state": "MD"}}  # fmt: skip
    assert client.post(PATH, json=body).status_code in (200, 422)


def test_three_days_on_the_calendar_from_the_day_the_satellite_drum_was_over() -> None:
    over = {"volume": {"value": "55.1", "unit": "gal"}, "excess_on": "2026-11-27"}
    for today, late in (("2026-11-30", False), ("2026-12-01", True)):
        got = ask(satellite=over, today=today)
        assert (got["satellite_deadline"], got["satellite_overdue"]) == ("2026-11-30", late)
    full = ask(satellite={"volume": {"value": 55, "unit": "gal"}, "acute": False}, today="2026-12-01")
    assert (full["satellite_deadline"], full["satellite_overdue"]) == (None, None)
    undated = ask(satellite={"volume": {"value": 56, "unit": "gal"}}, today="2026-12-01")
    assert undated["satellite_overdue"] is True
    assert ask(satellite={}, today="2026-12-01")["complete"] is False


@pytest.mark.parametrize(
    ("value", "unit", "method", "applies"),
    [(140, "F", "closed-cup", False), ("139.9", "F", "closed-cup", True), (60, "C", "closed-cup", False),
     ("59.99", "C", "closed-cup", True), ("64.9", "C", "calculated", True), (65, "C", "calculated", False),
     (148, "F", "calculated", True), (149, "F", "calculated", False), (70, "C", "open-cup", None),
     (50, "C", "open-cup", True)],
)  # fmt: skip
def test_flash_points_in_the_unit_they_were_written_in(
    value: Any, unit: str, method: str, applies: Any
) -> None:
    flash = {"value": value, "unit": unit}
    assert judged(form="liquid", flash_point=flash, flash_point_method=method)["D001"] is applies


def test_what_burns_by_itself_and_what_corrodes() -> None:
    assert judged(form="solid", self_heating=True)["D001"] is True
    assert judged(form="solid")["D001"] is None
    assert judged(form="liquid")["D001"] is None
    assert judged(oxidizer=True)["D001"] is True
    for ph, applies in ((2, True), ("2.01", False), ("12.49", False), ("12.5", True)):
        assert judged(form="liquid", ph=ph)["D002"] is applies, ph


@pytest.mark.parametrize(
    ("name", "code", "at"),
    [("As", "D004", "5.0"), ("barium", "D005", "100"), ("Cd", "D006", "1.0"), ("chromium", "D007", "5.0"),
     ("Pb", "D008", "5.0"), ("mercury", "D009", "0.2"),
     ("selenium", "D010", "1.0"), ("silver", "D011", "5.0"),
     ("benzene", "D018", "0.5"), ("MEK", "D035", "200")],
)  # fmt: skip
def test_the_leaching_test_at_and_below_its_figure(name: str, code: str, at: str) -> None:
    below = f"{float(at) - 0.001:.3f}"
    assert judged(tclp_mg_l={name: at})[code] is True
    assert judged(tclp_mg_l={name: below})[code] is False
    assert judged(tclp_mg_l={name: None})[code] is None
    assert judged(total_mg_kg={name: None})[code] is None


@pytest.mark.parametrize(
    ("parts", "f003", "f005"),
    [({"toluene": 10, "mineral spirits": 90}, False, True),
     ({"toluene": "9.99", "mineral spirits": "90.01"}, False, False),
     ({"acetone": 90, "toluene": 10}, True, True), ({"acetone": 92, "toluene": 8}, False, False),
     ({"acetone": 60, "methanol": 40}, True, False), ({"acetone": 50, "mineral spirits": 50}, False, False),
     ({"acetone": 80}, None, None), ({"toluene": 8, "brewer's cut": 92}, None, None),
     ({"toluene": None, "mineral spirits": 50}, False, None), ({"o-xylene": 90, "water": 10}, True, False)],
)  # fmt: skip
def test_listed_solvents_before_use(parts: dict[str, Any], f003: Any, f005: Any) -> None:
    got = judged(spent=True, composition=parts)
    assert (got["F003"], got["F005"]) == (f003, f005)
    unsure = judged(composition=parts)
    assert unsure["F005"] is (None if f005 is not False else False)
    assert judged(spent=False, composition=parts)["F005"] is False


def test_ranges_count_at_both_ends() -> None:
    def toluene(low: float, high: float) -> bool | None:
        parts = [
            {"cas": "108-88-3", "percent": [low, high]},
            {"name": "mineral spirits", "percent": [100 - high, 100 - low]},
        ]
        return judged(spent=True, composition=parts)["F005"]

    assert (toluene(10, 12), toluene(8, 12), toluene(2, 9)) == (True, None, False)


def test_rows_from_memory_say_so_and_other_countries_hold_no_category() -> None:
    got = ask(streams=[{"form": "liquid", "flash_point_c": 40, "tclp_mg_l": {"lead": 6}}])
    grades = {one["code"]: one["grade"] for one in got["streams"][0]["judged"]}
    assert (grades["D001"], grades["D008"]) == ("memory", "read")
    found = {one["code"]: one["severity"] for one in got["findings"]}
    assert (found["waste-code-from-memory"], found["waste-authority"]) == ("warn", "note")
    there = ask(jurisdiction="EU", months_kg=[5], acute_kg=0, streams=[{"kind": "wipes"}])
    assert (there["category"], there["codes"], there["complete"]) == (None, [], False)
    assert [one["code"] for one in there["streams"][0]["entries"]] == ["15 02 02*", "15 02 03"]


BAD: list[tuple[dict[str, Any], str]] = [
    ({}, "months_kg"), ({"months_kg": -1}, "months_kg"), ({"months_kg": True}, "months_kg"),
    ({"months_kg": []}, "months_kg"), ({"months_kg": {}}, "months_kg"), ({"months_kg": {"": 1}}, "months_kg"),
    ({"months_kg": ["NaN"]}, "months_kg"), ({"months_kg": {"x" * 30: 1}}, "months_kg"),
    ({"months_kg": [1] * 121}, "months_kg"), ({"months_kg": "१२"}, "months_kg"),
    ({"months_kg": {"jan": {"kg": 5}}}, "months_kg"), ({"months_kg": 5, "acute_kg": -1}, "acute_kg"),
    ({"jurisdiction": "mars", "months_kg": 5}, "jurisdiction"),
    ({"jurisdiction": 7, "months_kg": 5}, "jurisdiction"),
    ({"months_kg": 5, "category": "HUGE"}, "category"), ({"start": "2026-02-30"}, "start"),
    ({"start": 20260201}, "start"), ({"start": "2026-02-01", "haul_miles": -3}, "haul_miles"),
    ({"streams": [{"flash_point": 40}]}, "streams.0.flash_point"),
    ({"streams": [{"flash_point": {"value": 40}}]}, "streams.0.flash_point.unit"),
    (
        {"streams": [{"flash_point_c": 40, "flash_point": {"value": 40, "unit": "C"}}]},
        "streams.0.flash_point_c",
    ),
    ({"streams": [{"flash_point_c": 40, "no_flash_point": True}]}, "streams.0.flash_point"),
    ({"streams": [{"ph": 20}]}, "streams.0.ph"),
    ({"streams": [{"tclp_mg_l": {"gold": 1}}]}, "streams.0.tclp_mg_l"),
    ({"streams": [{"tclp_mg_l": [5]}]}, "streams.0.tclp_mg_l"),
    ({"streams": [{"total_mg_kg": {"lead": True}}]}, "streams.0.total_mg_kg"),
    ({"streams": [{"composition": {"acetone": 60, "toluene": 50}}]}, "streams.0.composition"),
    ({"streams": [{"composition": [{"name": "acetone", "percent": [60, 50]}]}]}, "streams.0.composition.0"),
    ({"streams": [{"composition": [{"percent": 50}]}]}, "streams.0.composition.0"),
    ({"streams": [{"composition": [{"cas": "67-64-2"}]}]}, "streams.0.composition.0.cas"),
    ({"streams": [{"colour": "red"}]}, "streams.0.colour"), ({"streams": [{}] * 51}, "streams"),
    ({"streams": [{"name": "a\u0000b"}]}, "streams.0.name"),
]  # fmt: skip


@pytest.mark.parametrize(("body", "field"), BAD, ids=[f"{n} {field}" for n, (_, field) in enumerate(BAD)])
def test_odd_bodies_are_refused_by_a_sentence_at_their_field(body: dict[str, Any], field: str) -> None:
    answer = client.post(PATH, content=json.dumps(body), headers={"content-type": "application/json"})
    assert answer.status_code == 422, answer.text
    errors = answer.json()["errors"]
    named = set(errors) if isinstance(errors, dict) else {one["field"] for one in errors}
    assert field in named, errors
