"""Every worked example of film, mixing, settling, coverage and units, through the calls, else through the
function that owns it.

Sources stand in tests/published/film_examples.json. Where a source prints a wrong figure (``source_error``)
the printed one must not come out. What the program has no use for is ``excused``, with its right value.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.actions.mix_of_materials import shares_by_mass
from service.actions.read_recipe import LineRead
from service.core.ageing import judge
from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.batch import Part, balance
from service.core.component_lines import read_cas
from service.core.containers import Standing
from service.core.film import cpvc_of, oil_to_pigment
from service.core.findings import Invalid
from service.core.glue_size import water_to_glue
from service.core.hazards.lead_in_paint import most_mg_per_kg
from service.core.headspace import mass_gain_g
from service.core.life_facts import LifeFacts
from service.core.materials import Basis, Form, MaterialKind
from service.core.months import add_days, add_months
from service.records.knowledge import known
from service.records.materials import Material
from service.web.api import calc_convert, calc_coverage, calc_cut, calc_film, calc_oxygen, calc_settling
from service.web.errors import install
from tests.builders import NOW

PUBLISHED: Final = Path(__file__).parents[1] / "published" / "film_examples.json"
BOOK: Final[dict[str, list[dict[str, Any]]]] = json.loads(PUBLISHED.read_text(encoding="utf-8"))
EXAMPLES: Final = BOOK["examples"]
EXCUSED: Final = BOOK["excused"]
IDS: Final = (
    "01 02 03 04 06 07 09 10 11 12 13 14 15 16 17 18 19 20 21 22 23a 24 25 27 28 29 30 31 32 33 34 35 36 37 "
    "38 39 40 42 43 44 45"
)
CALLS: Final = ("convert", "coverage", "cut", "film", "oxygen", "settling")
app = FastAPI()
for module in (calc_convert, calc_coverage, calc_cut, calc_film, calc_oxygen, calc_settling):
    app.include_router(module.router)
install(app)
client = TestClient(app)


def call(name: str, body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post(f"/api/calc/{name}", json=body)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def figure(material: str, prop: str) -> float:
    row = known(material)
    assert row is not None
    (held,) = row.figures_of(prop)
    point = held.point()
    assert point is not None
    return float(point)


def batch_sum(grams: list[int], made: int) -> dict[str, int]:
    """What goes in as mg, and what the printed hundred leaves unaccounted for."""
    inside = [Part(f"part {n}", one * 1000, Basis.MASS) for n, one in enumerate(grams)]
    weighed = balance(inside, [Part("the batch", made * 1000, Basis.MASS)])
    assert weighed.difference is not None
    return {"sum": weighed.difference // 1000 + made, "lost": weighed.difference // 1000}


def share_by_mass(grams: list[float]) -> list[float]:
    stuff = Material(name="x", kind=MaterialKind.BINDER, form=Form.LIQUID, created_at=NOW)
    amounts = [round(one * 1000) for one in grams]
    lines = [LineRead(stuff, "", low=one, high=one, basis=Basis.MASS) for one in amounts]
    return [float(part.high) for part in shares_by_mass(lines).parts]


def type_one(code: str) -> int:
    """The life of a Type I code, by when an item with that many months is past."""
    months = {"C": 3, "H": 12, "M": 24}[code]
    made = date(2024, 8, 31)
    facts = LifeFacts(packed_on=made, policy=AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=months))
    last = add_months(made, months)
    assert judge(facts, last).standing is not Standing.PAST
    assert judge(facts, add_days(last, 1)).standing is Standing.PAST
    return months


def cas_is_right(cas: str) -> bool:
    try:
        return read_cas(cas) == cas
    except Invalid:
        return False


def manganese(dioxide_percent: list[float]) -> list[float]:
    """From the share of the metal in its dioxide; the row of the umber holds the same, rounded."""
    share = figure("mn_brown", "manganese_percent") / 100
    made = [one * share for one in dioxide_percent]
    umber = known("raw_umber")
    assert umber is not None
    (row,) = umber.figures_of("manganese_percent")
    assert row.low == Decimal(str(round(made[0], 1))) and row.high == Decimal(str(round(made[1], 1)))
    return made


def loose_bulk(material: str, by_weight: float, by_volume: float, oil_density: float) -> float:
    held = figure(material, "loose_bulk_density_g_ml")
    assert held == pytest.approx(by_weight / by_volume * oil_density, abs=0.006)
    return held


FUNCTIONS: Final[dict[str, Callable[..., Any]]] = {
    "batch-sum": batch_sum,
    "cas-is-right": cas_is_right,
    "cpvc-both-forms": lambda oil_absorption, density, oil_density: [
        cpvc_of(oil_absorption, density, oil_density),
        (100 / density) / (100 / density + oil_absorption / oil_density),
    ],
    "loose-bulk": loose_bulk,
    "manganese": manganese,
    "mass-gain": mass_gain_g,
    "months-later": lambda day, months: add_months(date.fromisoformat(day), months).isoformat(),
    "most-of-a-lead-compound": lambda material: most_mg_per_kg(figure(material, "lead_percent")),
    "oil-to-pigment": lambda percent: oil_to_pigment(percent),
    "share-by-mass": share_by_mass,
    "type-one-months": type_one,
    "water-to-glue": water_to_glue,
}


def ask(through: str, body: dict[str, Any]) -> Any:
    return call(through, body) if through in CALLS else FUNCTIONS[through](**body)


def close(found: Any, value: Any, bounds: dict[str, float]) -> None:
    if isinstance(value, dict):
        for name, one in value.items():
            close(found[name], one, bounds)
    elif isinstance(value, list):
        assert len(found) == len(value)
        for one, other in zip(found, value, strict=True):
            close(one, other, bounds)
    elif value is None or isinstance(value, bool | str):
        assert found == value
    else:
        assert float(found) == pytest.approx(value, **bounds)


def run(example: dict[str, Any]) -> list[Any]:
    bounds = {"abs": example.get("tolerance", 0), "rel": example.get("relative", 0)}
    answers = [ask(example["through"], case["ask"]) for case in example["cases"]]
    for got, case in zip(answers, example["cases"], strict=True):
        close(got, case["says"], bounds)
    return answers


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    answers = run(example)
    if "also" in example:
        run(example["also"])
    if "also_convert" in example:
        more = example["also_convert"]
        got = call("convert", more["ask"])
        assert float(got["value"]) == pytest.approx(more["says"]["value"], abs=more["tolerance"])
    for name, bound in example.get("spread_below", {}).items():
        values = [float(got[name]) for got in answers]
        assert 0 < max(values) - min(values) < bound
    for got, ours in zip(answers, example.get("ours", ()), strict=False):
        (told,) = [float(got[key]) for key in ("value", "alcohol_parts_per_part") if key in got]
        assert told == pytest.approx(ours, rel=1e-3)


WRONG: Final = [one for one in EXAMPLES if "source_error" in one]


@pytest.mark.parametrize("example", WRONG, ids=lambda example: str(example["id"]))
def test_what_a_source_prints_wrong_does_not_come_out(example: dict[str, Any]) -> None:
    slip = example["source_error"]
    for number, got in enumerate(run(example)):
        printed = slip["printed_each"][number] if "printed_each" in slip else slip.get("printed")
        if "printed_first" in slip:
            printed, got = slip["printed_first"], got[0]
        for name, value in printed.items() if isinstance(printed, dict) else [("", printed)]:
            found = got[name] if name else got
            pairs = zip(found, value, strict=True) if isinstance(value, list) else [(found, value)]
            assert all(abs(float(ours) - theirs) > slip["apart"] for ours, theirs in pairs), slip["why"]


def kubelka_munk() -> dict[str, Any]:
    def ratio(r: float) -> float:
        return (1 - r) ** 2 / (2 * r)

    mixed = (ratio(0.8) + ratio(0.1)) / 2
    return {
        "k_over_s": [ratio(0.1), ratio(0.5), ratio(0.9)],
        "mix_r": 1 + mixed - (mixed**2 + 2 * mixed) ** 0.5,
    }


def from_the_threshold_on() -> dict[str, Any]:
    asked = [(9.9, 10), (10.0, 10), (3.9, 4), (4.0, 4), (10.0, 10)]
    return {"special": [share >= threshold for share, threshold in asked]}


def test_what_is_excused_is_named_with_its_right_value() -> None:
    formulas = {"kubelka-munk": kubelka_munk, "from-the-threshold-on": from_the_threshold_on}
    assert [one["id"] for one in EXCUSED] == ["W-28", "W-40"]
    for one in EXCUSED:
        assert len(one["why"]) > 40
        close(formulas[one["formula"]](), one["right"], {"abs": one["tolerance"], "rel": 0})


def test_no_example_is_lost() -> None:
    """41 worked examples; five of their sources print a slip."""
    ids = sorted(one["id"] for one in [*EXAMPLES, *EXCUSED])
    assert ids == sorted(f"W-{number}" for number in IDS.split()) and len(ids) == 41
    assert [one["id"] for one in WRONG] == ["W-04", "W-24", "W-31", "W-32", "W-33"]
    assert all(one["source"] and one["cases"] and one["kind"] for one in EXAMPLES)
    kinds = [one["kind"] for one in EXAMPLES]
    assert kinds.count("published-memory") == 1 and {"published", "derived"} < set(kinds)
