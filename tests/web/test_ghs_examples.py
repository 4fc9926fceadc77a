"""Every worked example of the mixture rules, and every printed label of the EU list, through the calls.

Sources stand in tests/published/ghs_examples.json (published ones name their document; constructed ones are
regression only); the label rows are printed in Annex VI of CLP, up to its 17th adaptation.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_classify import router
from service.web.errors import install

PUBLISHED = Path(__file__).parents[1] / "published"
EXAMPLES: list[dict[str, Any]] = json.loads((PUBLISHED / "ghs_examples.json").read_text(encoding="utf-8"))
with (PUBLISHED / "ghs_label_vectors.csv").open(encoding="utf-8", newline="") as handle:
    VECTORS = list(csv.DictReader(handle))
# Where an example's own words are not kept under one law: id, why, right value (held by the example file).
UN_5 = "its author speaks of all laws, but only UN GHS has category 5, up to 5000 mg/kg"
EXCUSED = (
    {"id": "C-21-unknown-exactly-10", "why": UN_5, "right": "un-ghs: Acute Tox. 5 oral (2500)"},
    {"id": "C-23-umber-quartz", "why": UN_5, "right": "un-ghs: Carc. 1A, Acute Tox. 5 oral (4166.7)"},
)
app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app)


def ask(call: str, regime: str, body: dict[str, Any]) -> dict[str, Any]:
    answer = client.post(f"/api/calc/{call}", json={"regime": regime, **body})
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def bare(hazard: str) -> str:
    """Class, category and route without code and organs: "STOT RE 2", "Acute Tox. 4 oral"."""
    text = re.sub(r" \([^()]*\)$", "", hazard)
    text = text if text.startswith("STOT SE 3") else re.sub(r" H\d{3}[A-Za-z]*$", "", text)
    return re.sub(r"^(Eye Irrit\. 2)[AB]?$", r"\1", text)


def check(got: dict[str, Any], said: dict[str, Any]) -> None:
    """Holds an answer against what an example says of it; every key of ``said`` is looked at."""
    unread = dict(said)
    hazards = [one["hazard"] for one in got.get("classifications", [])]
    for hazard in unread.pop("has", []):
        assert any(one == hazard or one.startswith(hazard) for one in hazards), (hazard, hazards)
    for family in [*unread.pop("none", []), *unread.pop("not", [])]:
        assert not [one for one in hazards if one.startswith(family)], (family, hazards)
    for route in unread.pop("none_route", []):
        assert not [one for one in got["classifications"] if one["route"] == route]
    if "exactly" in unread:
        assert sorted(map(bare, hazards)) == sorted(unread.pop("exactly"))
    for route, value in unread.pop("ate", {}).items():
        assert got["ate"][route]["value"] == pytest.approx(value, rel=5e-6)
    for route, value in unread.pop("unknown", {}).items():
        assert got["unknown_acute_percent"][route] == value
    reasons = [
        *got.get("below_limits", []),
        *(b for c in got.get("classifications", []) for b in c["because"]),
    ]
    sums = [reason["sum"] for reason in reasons]
    for total in [*unread.pop("sums", []), *unread.pop("all_sums", [])]:
        assert any(one == pytest.approx(total) for one in sums), (total, sums)
    if "eye_sum" in unread:
        eye = next(one for one in got["classifications"] if one["hazard"].startswith("Eye"))
        assert eye["because"][0]["sum"] == unread.pop("eye_sum")
    for code in unread.pop("finding", []):
        assert code in [finding["code"] for finding in got["findings"]]
        assert not got["complete"]
    check_label(got.get("label", got), unread)
    assert not unread, f"not looked at: {unread}"


def check_label(label: dict[str, Any], unread: dict[str, Any]) -> None:
    codes = [one["code"] for one in label["hazard_statements"]]
    if "pictograms" in unread:
        assert sorted(label["pictograms"]) == sorted(unread.pop("pictograms"))
    if "signal_word" in unread:
        assert (label["signal_word"] or "") == unread.pop("signal_word")
    if "h" in unread:
        assert sorted(codes) == sorted(unread.pop("h"))
    assert not set(unread.pop("h_not", [])) & set(codes)
    assert set(unread.pop("h_has", [])) <= set(codes)
    assert not set(unread.pop("label_no_pictogram", [])) & set(label["pictograms"])
    supplemental = {one["code"]: one["text"] for one in label["supplemental"]}
    for code in unread.pop("supplemental", []):
        assert code in supplemental
    for name in unread.pop("names", []):
        assert name in " ".join(supplemental.values())
    if "label_says" in unread:
        assert unread.pop("label_says") in supplemental.values()
    if "may_leave" in unread:
        wanted = unread.pop("may_leave")
        left = [one["what"] for one in label["may_be_left_out"]]
        assert left == wanted if not wanted else set(wanted) <= set(left)
        assert all(one["paragraph"] for one in label["may_be_left_out"])


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: str(example["id"]))
def test_every_worked_example(example: dict[str, Any]) -> None:
    for part in (example, example.get("and_at")):
        for regime, said in (part or {}).get("says", {}).items():
            assert said
            check(ask(example["call"], regime, part["ask"]), said)  # type: ignore[index]


def test_no_example_is_lost() -> None:
    """102 worked examples: 50 published, 52 constructed; 59 label rows."""
    ids = [example["id"] for example in EXAMPLES]
    assert len(ids) == len(set(ids)) == 102
    assert sum(example["kind"] == "published" for example in EXAMPLES) == 50
    assert all(example["source"] and example["says"] for example in EXAMPLES)
    assert len(VECTORS) == 59
    assert {one["id"] for one in EXCUSED} <= set(ids)


@pytest.mark.parametrize("row", VECTORS, ids=lambda row: str(row["index_no"]))
def test_every_printed_label(row: dict[str, str]) -> None:
    hazards = [part.strip() for part in row["hazards"].split(";")]
    got = ask("label", "eu-clp", {"hazards": hazards})
    codes = {re.sub(r"\(.*\)", "", code) for code in re.findall(r"H\d{3}[A-Za-z]{0,2}", row["codes"])}
    said = {
        "pictograms": row["pictograms"].split(), "signal_word": row["signal_word"], "h": sorted(codes),
    }  # fmt: skip
    check(got, said)
