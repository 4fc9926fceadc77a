"""The exposure calculator on its own: hours, limits given and held, units, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_exposure import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)


def exposure(*measured: dict[str, Any]) -> dict[str, Any]:
    answer = client.post("/api/calc/exposure", json={"measured": list(measured)})
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


def test_time_nobody_measured_is_no_clean_air() -> None:
    half = exposure({"name": "x", "ppm": 100, "hours": 4, "limit": 60})
    assert half["twa"] == 50 and half["twa_is_at_least"] and half["index_is_at_least"]
    assert half["over"] is None and "hours-not-measured" in codes(half) and not half["complete"]
    whole = exposure({"name": "x", "ppm": 100, "hours": 4, "limit": 60}, {"name": "x", "ppm": 0, "hours": 4})
    assert whole["twa"] == 50 and whole["over"] is False and whole["complete"]
    long = exposure({"name": "x", "ppm": 50, "hours": 10, "limit": 60})
    assert long["twa"] == 62.5 and long["over"] is True, "a long day is divided by 8 as well"


def test_over_is_over_one_and_not_one() -> None:
    assert exposure({"name": "x", "ppm": 100, "limit": 100})["over"] is False
    over = exposure({"name": "x", "ppm": 60, "limit": 100}, {"name": "y", "ppm": 41, "limit": 100})
    assert over["over"] is True and "over-exposed" in codes(over) and over["twa"] is None
    assert [one["share"] for one in over["substances"]] == [0.6, 0.41]


def test_a_missing_limit_makes_it_at_least() -> None:
    answer = exposure({"name": "x", "ppm": 10, "limit": 100}, {"name": "who knows", "ppm": 5})
    assert answer["index"] == 0.1 and answer["index_is_at_least"] and answer["over"] is None
    assert "limit-not-known" in codes(answer) and not answer["complete"]
    alone = exposure({"name": "who knows", "ppm": 5})
    assert alone["index"] is None and alone["index_is_at_least"] and alone["over"] is None
    sure = exposure({"name": "x", "ppm": 110, "limit": 100}, {"name": "who knows", "ppm": 5})
    assert sure["over"] is True, "what is known is over it already"


# figures.csv: OSHA PEL 1000, NIOSH REL 250 (read), ACGIH TLV 250 (from memory) for acetone
def test_the_lowest_limit_held_is_used_and_named() -> None:
    answer = exposure({"name": "acetone", "ppm": 125})
    (one,) = answer["substances"]
    assert (one["limit"]["value"], one["limit"]["body"], one["limit"]["checked"]) == (250, "NIOSH REL", True)
    assert answer["index"] == 0.5 and answer["over"] is False
    assert any("NIOSH REL" in finding["sentence"] for finding in answer["findings"])
    given = exposure({"name": "acetone", "ppm": 125, "limit": 500})
    assert given["index"] == 0.25 and "lowest-limit-used" not in codes(given)


# ACGIH TLV 20 ppm for turpentine from memory; Ontario 20 ppm read: of two alike the one that was read
def test_of_two_alike_the_one_that_was_read_stands_and_memory_says_so() -> None:
    (turpentine,) = exposure({"name": "turpentine", "ppm": 5})["substances"]
    assert (turpentine["limit"]["value"], turpentine["limit"]["body"]) == (20, "Ontario")
    remembered = exposure({"cas": "123-86-4", "name": "n-butyl acetate", "ppm": 5})
    (acetate,) = remembered["substances"]
    assert acetate["limit"]["value"] == 50 and not acetate["limit"]["checked"]
    assert any("not checked" in finding["sentence"] for finding in remembered["findings"])


def test_units_meet_only_through_a_molar_mass() -> None:
    assert exposure({"name": "ethanol", "mg_m3": 188.42, "limit": 100, "limit_unit": "ppm"})[
        "index"
    ] == pytest.approx(1, abs=0.001)
    lost = exposure({"name": "x", "mg_m3": 100, "limit": 10, "limit_unit": "ppm"})
    assert lost["index"] is None and "molar-mass-not-known" in codes(lost) and lost["over"] is None
    met = exposure({"name": "x", "mg_m3": 100, "limit": 10, "limit_unit": "ppm", "molar_mass_g_mol": 24.45})
    assert met["index"] == pytest.approx(10)
    both = exposure({"name": "x", "ppm": 10, "hours": 4, "limit": 100}, {"name": "X", "mg_m3": 9, "hours": 4})
    assert both["twa"] == 5 and both["twa_is_at_least"] and "molar-mass-not-known" in codes(both)


def test_a_short_limit_is_looked_at_as_well() -> None:
    answer = exposure(
        {"name": "toluene", "ppm": 310, "hours": 0.5}, {"name": "toluene", "ppm": 0, "hours": 7.5}
    )
    assert "over-short-limit" in codes(answer)
    assert any("300 ppm CEILING" in finding["sentence"] for finding in answer["findings"])
    assert "over-short-limit" not in codes(exposure({"name": "toluene", "ppm": 10}))


BAD: list[tuple[str, list[dict[str, Any]], str]] = [
    ("neither", [{"name": "x"}], "x:"),
    ("both", [{"name": "x", "ppm": 1, "mg_m3": 1}], "x:"),
    ("negative hours", [{"name": "x", "ppm": 1, "hours": -1}], "x:"),
    ("over a day", [{"name": "x", "ppm": 1, "hours": 25}], "x:"),
    (
        "over a day together",
        [{"name": "x", "ppm": 1, "hours": 13}, {"name": "x", "ppm": 1, "hours": 12}],
        "x:",
    ),
    ("hours of one of two", [{"name": "x", "ppm": 1, "hours": 1}, {"name": "x", "ppm": 1}], "x:"),
    ("unit without a limit", [{"name": "x", "ppm": 1, "limit_unit": "ppm"}], "x:"),
    ("wrong number", [{"name": "x", "cas": "67-64-2", "ppm": 1}], "x:"),
]


@pytest.mark.parametrize(("what", "measured", "named"), BAD, ids=[what for what, _, _ in BAD])
def test_bad_input_gets_a_sentence_with_a_mend(what: str, measured: list[dict[str, Any]], named: str) -> None:
    answer = client.post("/api/calc/exposure", json={"measured": measured})
    assert answer.status_code == 422, answer.text
    assert named in answer.json()["detail"], answer.json()


ODD = [
    0,
    1e-300,
    1e-40,
    5e-324,
    1e15,
    1e308,
    -1,
    "NaN",
    "1e308",
    "Infinity",
    True,
    [1, 0],
    [],
    {},
    None,
    10**400,
]


@pytest.mark.parametrize(
    "field", ["ppm", "mg_m3", "hours", "limit", "limit_unit", "molar_mass_g_mol", "cas", "name"]
)
@pytest.mark.parametrize("odd", ODD, ids=lambda odd: repr(odd)[:20])
def test_odd_values_never_break_it(field: str, odd: Any) -> None:
    for base in ({"name": "acetone", "ppm": 1}, {"name": "x", "mg_m3": 1e9, "limit": 1e-40}, {"name": "x"}):
        try:
            answer = client.post(
                "/api/calc/exposure", json={"measured": [base | {field: odd}, base | {"name": "y"}]}
            )
        except ValueError:  # not to be written as JSON at all
            continue
        assert answer.status_code in (200, 422), answer.text


@pytest.mark.parametrize("body", [{}, {"measured": []}, {"measured": [{"name": "x", "ppm": 1}] * 101}, []])
def test_other_bodies_are_refused(body: Any) -> None:
    assert client.post("/api/calc/exposure", json=body).status_code == 422
