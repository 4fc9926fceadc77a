"""POST /api/calc/rag-deadline on its own: the contract, local times that are odd, and hostile bodies."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from service.web.api.calc_rag_deadline import router
from service.web.errors import install

PATH = "/api/calc/rag-deadline"
app = FastAPI()
app.include_router(router)
install(app)  # the house's answer to what cannot be used; the framework's own repeats what came in
client = TestClient(app)

CAN = {
    "material": "metal",
    "lid": "self_closing",
    "listed": True,
    "water": "none",
    "floor": "noncombustible",
    "distance_mm": 700,
}
HAULED = {"how": "hauler", "named": "North Quay Waste"}
DAY: dict[str, Any] = {
    "profiles": ["strict"],
    "item": "rags",
    "time_zone": "Europe/Paris",
    "used_until": "2026-03-10T10:00",
    "shift_end": "2026-03-10T16:00",
    "grace_min": 0,
    "now": "2026-03-10T19:00",
    "entries": [
        {"at": "2026-03-10T10:00", "step": "in-can", "receptacle": CAN},
        {"at": "2026-03-10T18:30", "step": "removed", "removal": HAULED},
    ],
}


def ask(**changes: Any) -> dict[str, Any]:
    answer = client.post(PATH, json={**DAY, **changes})
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {f["code"] for f in answer["findings"]}


def test_the_whole_answer() -> None:
    got = ask()
    assert set(got) >= {
        "step",
        "contain_by",
        "remove_by",
        "overdue",
        "minutes_late",
        "violation",
        "because",
        "findings",
        "complete",
        "data_used",
    }
    assert got["step"] == "removed" and got["overdue"] is True and got["minutes_late"] == 150
    assert (
        got["contain_by"] == "2026-03-10T10:00:00+01:00" and got["remove_by"] == "2026-03-10T16:00:00+01:00"
    )
    assert got["violation"] is True and got["complete"] is True
    assert {tuple(sorted(b)) for b in got["because"]} == {("citation", "clock", "profile", "reading")}
    assert {"IFC 2403.4.3", "IFC 304.3.1"} <= {b["citation"] for b in got["because"]}
    assert all(set(f) >= {"severity", "code", "sentence", "source"} for f in got["findings"])
    assert all(
        set(f) == {"ingredient", "property", "value", "unit", "source", "grade"} for f in got["data_used"]
    )


def test_each_figure_names_the_rule_it_comes_from() -> None:
    sources = [f["source"] for f in ask()["data_used"] if f["property"] == "remove by"]
    assert len(sources) == len(set(sources)) == 3
    assert any(s.startswith("this house's reading") and "daily" in s for s in sources)


def test_the_least_that_can_be_asked() -> None:
    answer = client.post(PATH, json={"time_zone": "UTC", "used_until": "2026-03-10T10:00"})
    got = answer.json()
    assert answer.status_code == 200 and got["remove_by"] == "2026-03-11T00:00:00Z"
    assert got["step"] == "loose" and got["complete"] is False
    assert {"now-not-given", "rags-nowhere-recorded"} <= codes(got)


def test_a_removal_without_a_receiver_is_believed_and_said() -> None:
    entries = [DAY["entries"][0], {"at": "2026-03-10T15:30", "step": "removed"}]
    got = ask(entries=entries)
    assert (
        not got["overdue"]
        and got["ended"]
        and not got["complete"]
        and "rags-receiver-not-known" in codes(got)
    )
    washed = [entries[0], {**entries[1], "removal": {"how": "washed_here", "named": "us"}}]
    assert ask(entries=washed)["ended"] is False and ask(entries=washed)["step"] == "loose"


@pytest.mark.parametrize(
    ("receptacle", "contained"),
    [
        (CAN, True),
        ({**CAN, "lid": True}, True),
        ({**CAN, "lid": "plain"}, False),
        ({**CAN, "lid": None}, False),
        ({**CAN, "lid": "self_closing", "self_closing": False}, False),
        ({**CAN, "listed": None}, False),
        ({**CAN, "material": "plastic"}, False),
        ({}, False),
        (None, False),
        ({**CAN, "lid": "none"}, False),
    ],
)
def test_receptacles(receptacle: dict[str, Any] | None, contained: bool) -> None:
    got = ask(entries=[{"at": "2026-03-10T10:00", "step": "in_can", "receptacle": receptacle}])
    assert got["contained"] is contained and got["step_written"] == "in-can"
    assert got["step"] == ("in-can" if contained else "loose")


def test_put_away_before_the_end_of_use_does_not_cover_the_rest() -> None:
    got = ask(used_until="2026-03-10T12:00", now="2026-03-10T12:30", entries=DAY["entries"][:1])
    assert got["contained"] is False and got["violation"] is True and "rags-more-since" in codes(got)


def test_what_has_not_happened_yet_does_not_count() -> None:
    got = ask(now="2026-03-10T10:05", entries=[{**DAY["entries"][0], "at": "2026-03-10T10:06"}])
    assert got["contained"] is False and got["minutes_late"] == 5 and "rags-future" in codes(got)


def test_the_outside_drum_needs_a_detached_place() -> None:
    box = {"material": "metal", "lid": True, "water": "full"}
    entry = {"at": "2026-03-10T10:00", "step": "outside-drum", "receptacle": box}
    assert ask(entries=[entry])["overdue"] is True
    apart = {**entry, "receptacle": {**box, "place_detached": True}}
    assert ask(entries=[apart])["overdue"] is False


def test_grace_is_labelled_as_the_shops_own() -> None:
    got = ask(grace_min=20, entries=[], now="2026-03-10T10:10")
    assert got["contain_by"] == "2026-03-10T10:20:00+01:00" and not got["overdue"]
    assert any("this shop's own, no rule gives minutes" in b["citation"] for b in got["because"])


def test_an_offset_beats_the_zone_for_the_instant_but_not_for_the_day() -> None:
    got = ask(used_until="2026-03-10T23:30:00-06:00", shift_end=None, entries=[], now=None)
    assert got["remove_by"] == "2026-03-12T00:00:00+01:00"


def test_a_time_shown_twice_is_read_the_stricter_way_and_said() -> None:
    got = ask(used_until="2026-10-25T02:30", shift_end=None, entries=[], now="2026-10-25T02:45")
    assert got["contain_by"] == "2026-10-25T02:30:00+02:00" and got["minutes_late"] == 75
    assert "time-read-strictly" in codes(got)


def test_a_time_the_clocks_skip_is_read_the_stricter_way_and_said() -> None:
    got = ask(used_until="2026-03-29T02:30", shift_end=None, entries=[], now="2026-03-29T04:00")
    assert datetime.fromisoformat(got["contain_by"]) == datetime.fromisoformat("2026-03-29T01:30:00+01:00")
    assert "time-read-strictly" in codes(got)


def test_midnight_that_does_not_exist() -> None:
    got = ask(
        time_zone="America/Santiago", used_until="2026-09-05T20:00", shift_end=None, entries=[], now=None
    )
    assert got["remove_by"] == "2026-09-06T01:00:00-03:00"


@pytest.mark.parametrize(
    "changes",
    [
        {"profiles": ["mild"]},
        {"profiles": []},
        {"profiles": ["strict", "mild"]},
        {"profiles": "strict"},
        {"profiles": [None]},
        {"profiles": ["strict"] * 11},
        {"item": "hats"},
        {"item": None},
        {"time_zone": "Mars/Base"},
        {"time_zone": ""},
        {"time_zone": "../../etc/passwd"},
        {"time_zone": "America"},
        {"time_zone": "Europe/Paris\x00"},
        {"time_zone": "localtime"},
        {"time_zone": 3},
        {"time_zone": "A" * 65},
        {"time_zone": "right/UTC"},
        {"time_zone": "tzdata.zi"},
        {"time_zone": "/etc/localtime"},
        {"time_zone": None},
        {"used_until": None},
        {"used_until": "2026-03-10"},
        {"used_until": 0},
        {"used_until": "now"},
        {"used_until": "1969-12-31T23:59"},
        {"used_until": "2201-01-01T00:00"},
        {"used_until": "2026-02-30T10:00"},
        {"used_until": "2026-03-10T10:00+99:00"},
        {"used_until": "2026-W11-2T10:00"},
        {"used_until": True},
        {"used_until": "２０２６-03-10T10:00"},
        {"now": "9999-12-31T23:59:59Z"},
        {"shift_end": "tea time"},
        {"grace_min": -1},
        {"grace_min": 1441},
        {"grace_min": "5"},
        {"grace_min": 1.5},
        {"grace_min": True},
        {"grace_min": 10**30},
        {"entries": {}},
        {"entries": [{}]},
        {"entries": DAY["entries"] * 101},
        {"entries": [{"at": "2026-03-10T10:00", "step": "washed"}]},
        {"more": 1},
        {"entries": [{"at": "2026-03-10T10:00", "step": "in-can", "receptacle": {"distance_mm": -1}}]},
        {"entries": [{"at": "2026-03-10T10:00", "step": "in-can", "receptacle": {"lid": 1}}]},
        {"entries": [{"at": "2026-03-10T10:00", "step": "in-can", "receptacle": {"lid": "true"}}]},
        {
            "entries": [
                {
                    "at": "2026-03-10T10:00",
                    "step": "removed",
                    "removal": {"how": "hauler", "named": "x" * 201},
                }
            ]
        },
        {
            "entries": [
                {"at": "2026-03-10T10:00", "step": "removed", "removal": {"how": "hauler", "named": "a\x00"}}
            ]
        },
    ],
)
def test_what_cannot_be_used_is_422(changes: dict[str, Any]) -> None:
    assert client.post(PATH, json={**DAY, **changes}).status_code == 422


def test_an_unknown_profile_is_refused_and_the_known_ones_are_named() -> None:
    text = client.post(PATH, json={**DAY, "profiles": ["mild"]}).text
    assert "The rag profiles known here: strict" in text


@pytest.mark.parametrize("body", ["", "[]", "null", "{", '"x"', "[" * 2000, '{"time_zone": "\\ud800"}'])
def test_bodies_that_are_no_question(body: str) -> None:
    answer = client.post(PATH, content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (400, 422)


@pytest.mark.parametrize(
    "zone", ["Pacific/Apia", "Pacific/Kiritimati", "Etc/GMT+12", "America/Santiago", "Asia/Kathmandu"]
)
@pytest.mark.parametrize(
    "when",
    [
        "1970-01-01T00:00",
        "2200-12-31T23:59:59.999999",
        "1970-01-01T00:00+23:59",
        "2200-12-31T23:59-23:59",
        "2011-12-30T12:00",
    ],
)
def test_the_ends_of_the_calendar(zone: str, when: str) -> None:
    got = ask(time_zone=zone, used_until=when, shift_end=None, now=when, entries=[])
    assert datetime.fromisoformat(got["remove_by"]) >= datetime.fromisoformat(got["contain_by"])


times = st.sampled_from(
    ["2026-03-10T09:00", "2026-03-10T23:59Z", "2026-03-29T02:30", "2026-10-25T02:30", "1970-01-01 00:00"]
)
anything = st.none() | st.booleans() | st.integers() | st.text(max_size=8) | times
words = st.sampled_from(["metal", "plastic", "none", "full", "partly", "self_closing", "noncombustible"])
boxes = st.dictionaries(
    st.sampled_from([*CAN, "self_closing", "place_detached", "odd"]), anything | words, max_size=8
)
steps = st.sampled_from(
    ["loose", "in-can", "under-water", "laid-flat", "outside-drum", "removed", "none-made"]
)
entries = st.fixed_dictionaries(
    {"at": times | anything, "step": steps | anything},
    optional={"receptacle": boxes | anything, "removal": st.just(HAULED) | anything},
)
bodies = st.fixed_dictionaries(
    {"time_zone": st.sampled_from(["UTC", "Africa/Cairo"]) | anything, "used_until": times | anything},
    optional={
        "shift_end": times | anything,
        "now": times | anything,
        "grace_min": anything,
        "entries": st.lists(entries, max_size=4) | anything,
        "item": anything,
        "profiles": anything,
    },
)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(body=bodies)
def test_no_body_gives_a_5xx(body: dict[str, Any]) -> None:
    assert client.post(PATH, json=body).status_code in (200, 422)
