"""The hazard calculators on their own: the contract, what is missing, and bodies nobody should send."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from service.web.api.calc_classify import router
from service.web.errors import install

app = FastAPI()
app.include_router(router)
install(app)
client = TestClient(app, raise_server_exceptions=False)
WATER = {"name": "water", "percent": 90, "hazards": []}
OIL = {"name": "linseed oil", "percent": 10, "hazards": []}


def send(ingredients: list[dict[str, Any]], regime: str = "eu-clp", **mixture: Any) -> Any:
    body = {"regime": regime, "ingredients": ingredients, "mixture": mixture}
    return client.post("/api/calc/classify", json=body)


def classify(*ingredients: dict[str, Any], regime: str = "eu-clp", **mixture: Any) -> dict[str, Any]:
    answer = send(list(ingredients), regime, **mixture)
    assert answer.status_code == 200, answer.text
    return dict(answer.json())


def codes(answer: dict[str, Any]) -> set[str]:
    return {finding["code"] for finding in answer["findings"]}


BAD: list[tuple[str, list[dict[str, Any]], str]] = [
    ("over 100", [{"name": "lye", "percent": 120, "hazards": []}], "lye"),
    ("below 0", [{"name": "lye", "percent": -1, "hazards": []}], "lye"),
    ("together over 100", [{"name": "lye", "percent": 70, "hazards": []}, WATER], "160"),
    ("range turned round", [{"name": "lye", "percent": [7, 3], "hazards": []}], "lye"),
    ("no class", [{"name": "lye", "percent": 5, "hazards": ["Nasty 7"]}], "lye"),
    ("no such category", [{"name": "lye", "percent": 5, "hazards": ["Flam. Liq. 9"]}], "lye"),
    ("class against code", [{"name": "lye", "percent": 5, "hazards": ["Skin Corr. 1B H315"]}], "lye"),
    ("no route", [{"name": "lye", "percent": 5, "hazards": ["Acute Tox. 4"]}], "lye"),
    ("unknown code", [{"name": "lye", "percent": 5, "hazards": ["H999"]}], "lye"),
    ("estimate of nothing", [{"name": "lye", "percent": 5, "hazards": [], "ate": {"oral": 0}}], "lye"),
    (
        "estimate and not known",
        [{"name": "lye", "percent": 5, "hazards": [], "ate": {"oral": 50}, "unknown_acute": ["oral"]}],
        "lye",
    ),
    (
        "not known and not toxic",
        [
            {
                "name": "lye",
                "percent": 5,
                "hazards": [],
                "unknown_acute": ["oral"],
                "not_acutely_toxic": ["oral"],
            }
        ],
        "lye",
    ),
    (
        "estimate and not toxic",
        [{"name": "lye", "percent": 5, "hazards": [], "ate": {"oral": 50}, "not_acutely_toxic": ["oral"]}],
        "lye",
    ),
    (
        "two estimates of one substance",
        [
            {"name": "lye", "percent": 5, "hazards": [], "ate": {"oral": 50}},
            {"name": "Lye", "percent": 5, "hazards": [], "ate": {"oral": 60}},
        ],
        "lye",
    ),
    (
        "limit that ends before it begins",
        [
            {
                "name": "lye",
                "percent": 5,
                "hazards": [],
                "limits": [{"hazard": "Skin Corr. 1B", "from": 5, "below": 2}],
            }
        ],
        "lye",
    ),
    (
        "parts over the whole",
        [{"name": "paste", "percent": 10, "ingredients": [{"percent": 60}, {"percent": 60}]}],
        "paste",
    ),
    (
        "parts and classes",
        [{"name": "paste", "percent": 10, "hazards": ["H315"], "ingredients": [{"percent": 60}]}],
        "paste",
    ),
]


@pytest.mark.parametrize(("what", "ingredients", "named"), BAD, ids=[what for what, _, _ in BAD])
def test_bad_input_gets_a_sentence_that_names_the_ingredient(
    what: str, ingredients: list[dict[str, Any]], named: str
) -> None:
    answer = send(ingredients)
    assert answer.status_code == 422, answer.text
    assert named in answer.json()["detail"], answer.json()


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"regime": "moon", "ingredients": [WATER]},
        {"regime": "eu-clp", "ingredients": []},
        {"regime": "eu-clp", "ingredients": [{"name": "x"}]},
        {"regime": "eu-clp", "ingredients": [WATER] * 101},
        {"regime": "eu-clp", "ingredients": [WATER], "mixture": {"ph": 99}},
        {"regime": "eu-clp", "ingredients": [WATER], "mixture": {"kinematic_viscosity_40c": 0}},
        {
            "regime": "eu-clp",
            "ingredients": [WATER],
            "mixture": {"flash_point_c": 20, "does_not_flash": True},
        },
        {"regime": "eu-clp", "ingredients": [{"percent": "NaN"}]},
        {"regime": "eu-clp", "ingredients": [{"percent": True}]},
        {"regime": "eu-clp", "ingredients": [{"percent": [1, 2, 3]}]},
        {"regime": "eu-clp", "ingredients": [{"percent": 1, "hazards": ["H225\u0000"]}]},
        {"regime": "eu-clp", "ingredients": [{"percent": 1, "hazards": ["x" * 161]}]},
        {"regime": "eu-clp", "ingredients": [{"percent": 1, "m_acute": 0.5}]},
        {"regime": "eu-clp", "ingredients": [{"percent": 1, "metal_fraction": 2}]},
        {"regime": "eu-clp", "ingredients": [{"percent": 1, "colour": "red"}]},
    ],
)
def test_odd_bodies_are_refused_in_words(body: dict[str, Any]) -> None:
    answer = client.post("/api/calc/classify", json=body)
    assert answer.status_code == 422, answer.text


def test_mixes_in_mixes_go_four_deep() -> None:
    deep: dict[str, Any] = {"name": "core", "percent": 100, "hazards": ["H315"]}
    for level in range(3):
        deep = {"name": f"level {level}", "percent": 100, "ingredients": [deep]}
    assert "Skin Irrit. 2 H315" in [c["hazard"] for c in classify(deep)["classifications"]]
    assert send([{"name": "one more", "percent": 100, "ingredients": [deep]}]).status_code == 422


def test_a_mix_in_the_mix_counts_by_its_parts() -> None:
    """30 % of a paste with 20 % irritant is 6 %; 4 % more beside it make the 10 % of table 3.2.3."""
    paste = {
        "name": "paste",
        "percent": 30,
        "ingredients": [
            {"name": "irritant", "percent": 20, "hazards": ["Skin Irrit. 2"]},
            {"name": "oil", "percent": 80, "hazards": []},
        ],
    }
    beside = {"name": "irritant", "percent": 4, "hazards": ["Skin Irrit. 2"]}
    rest = {"name": "filler", "percent": 66, "hazards": []}
    got = classify(paste, beside, rest, form="solid")
    (skin,) = got["classifications"]
    assert skin["because"][0]["sum"] == 10
    assert skin["because"][0]["ingredients"] == ["irritant"]
    assert got["complete"]


def test_a_part_of_which_nothing_is_told_is_not_known() -> None:
    paste = {"name": "paste", "percent": 100, "ingredients": [{"name": "oil", "percent": 60, "hazards": []}]}
    got = classify(paste, form="solid")
    assert not got["complete"]
    assert "hazards-not-known" in codes(got)
    assert "what is not told of paste" in str(got["findings"])


@pytest.mark.parametrize("regime", ["un-ghs", "eu-clp", "us-hcs"])
def test_not_known_is_not_none(regime: str) -> None:
    none = classify(WATER, OIL, regime=regime, form="solid")
    assert none["complete"] and not none["classifications"]
    null = classify(WATER, OIL | {"hazards": None}, regime=regime, form="solid")
    left_out = classify(WATER, {"name": "linseed oil", "percent": 10}, regime=regime, form="solid")
    assert null["complete"] is left_out["complete"] is False
    assert "hazards-not-known" in codes(null) & codes(left_out)


def test_a_liquid_without_a_flash_point_is_not_complete() -> None:
    got = classify(WATER, OIL)
    assert "flash-point-not-known" in codes(got) and not got["complete"]
    assert classify(WATER, OIL, does_not_flash=True)["complete"]
    alcohol = {"name": "ethanol", "percent": 10, "hazards": ["Flam. Liq. 2"]}
    got = classify(WATER, alcohol)
    assert got["classifications"][0]["hazard"] == "Flam. Liq. 2 H225"
    assert not got["complete"]


def test_an_unknown_part_of_acute_toxicity_is_said_on_the_label() -> None:
    secret = {"name": "secret", "percent": 10, "hazards": ["H315"], "unknown_acute": ["oral", "inhalation"]}
    got = classify(WATER, secret, form="solid")
    texts = [one["text"] for one in got["label"]["supplemental"]]
    assert texts == [
        "10 percent of the mixture consists of ingredient(s) of unknown acute oral toxicity",
        "10 percent of the mixture consists of ingredient(s) of unknown acute inhalation toxicity",
    ]
    assert got["unknown_acute_percent"] == {"oral": 10, "dermal": 0, "inhalation": 10}
    assert not got["complete"]


def test_class_and_estimate_that_differ_count_by_the_more_severe() -> None:
    said = {"name": "x", "percent": 100, "hazards": ["Acute Tox. 4 oral"], "ate": {"oral": 40}}
    got = classify(said, form="solid")
    assert [c["hazard"] for c in got["classifications"]] == ["Acute Tox. 2 oral H300"]
    assert "estimate-and-class-differ" in codes(got)
    milder = said | {"ate": {"oral": 4000}}
    got = classify(milder, form="solid")
    assert [c["hazard"] for c in got["classifications"]] == ["Acute Tox. 4 oral H302"]


def test_a_calculated_flash_point_may_worsen_but_not_better() -> None:
    thinner = {"name": "thinner", "percent": 100, "hazards": ["Flam. Liq. 2"]}
    got = classify(thinner, flash_point_c=40, flash_point_is_calculated=True)
    assert got["classifications"][0]["hazard"] == "Flam. Liq. 2 H225"
    assert "calculation-not-validated" in codes(got) and not got["complete"]
    got = classify(thinner, flash_point_c=40, flash_point_is_calculated=True, calculation_allowed=True)
    assert got["classifications"][0]["hazard"] == "Flam. Liq. 3 H226"
    slow = {"name": "slow", "percent": 100, "hazards": ["Flam. Liq. 3"]}
    got = classify(slow, flash_point_c=10, flash_point_is_calculated=True, initial_boiling_point_c=80)
    assert got["classifications"][0]["hazard"] == "Flam. Liq. 2 H225"


def test_extreme_ph_is_corrosive_whatever_the_sums_say() -> None:
    got = classify(WATER, OIL, ph=11.5, does_not_flash=True)
    assert [c["hazard"] for c in got["classifications"]] == ["Skin Corr. 1 H314", "Eye Dam. 1 H318"]
    assert got["classifications"][0]["because"][0]["paragraph"] == "CLP Annex I 3.2.3.1.2"
    assert not classify(WATER, OIL, ph=11.4, does_not_flash=True)["classifications"]


def test_sprayed_goods_are_breathed_as_mist() -> None:
    """60 % of category 4 in no said form: vapour 11/0.6 = 18.3 (4), mist 1.5/0.6 = 2.5 (4)."""
    it = {"name": "x", "percent": 60, "hazards": ["Acute Tox. 4 inhalation"]}
    rest = {"name": "water", "percent": 40, "hazards": []}
    assert classify(it, rest, does_not_flash=True)["ate"]["vapour"]["value"] == pytest.approx(18.3333)
    got = classify(it, rest, does_not_flash=True, sprayed=True)
    assert got["ate"]["dust_mist"]["value"] == 2.5


def test_every_reason_names_rule_paragraph_and_ingredient() -> None:
    drier = {"name": "drier", "percent": 2, "hazards": ["Skin Sens. 1", "Repr. 1B H360D", "Carc. 2"]}
    for regime in ("un-ghs", "eu-clp", "us-hcs"):
        got = classify(WATER, drier, {"name": "rest", "percent": 8, "hazards": []}, regime=regime)
        assert len(got["classifications"]) == 3
        for one in got["classifications"]:
            assert one["source"]
            assert all(b["rule"] and b["paragraph"] and b["ingredients"] == ["drier"] for b in one["because"])


def test_a_label_without_known_hazards_is_no_label() -> None:
    body = {"regime": "eu-clp", "hazards": None}
    answer = client.post("/api/calc/label", json=body).json()
    assert not answer["complete"] and answer["findings"][0]["code"] == "hazards-not-known"
    empty = client.post("/api/calc/label", json=body | {"hazards": []}).json()
    assert empty["complete"] and not empty["pictograms"] and not empty["precautionary_statements"]


def test_the_public_gets_the_three_general_statements_and_disposal() -> None:
    body = {"regime": "eu-clp", "hazards": ["Flam. Liq. 3", "Asp. Tox. 1", "Skin Sens. 1"]}
    public = client.post("/api/calc/label", json=body).json()
    said = [one["code"] for one in public["precautionary_statements"]]
    assert said[:3] == ["P101", "P102", "P103"]
    assert {"P210", "P280", "P301+P310", "P331", "P501"} <= set(said)
    assert len(said) <= 3 + 8
    workplace = client.post("/api/calc/label", json=body | {"audience": "workplace"}).json()
    assert "P102" not in [one["code"] for one in workplace["precautionary_statements"]]
    assert all(one["because"] for one in public["left_out"])


@pytest.mark.parametrize("regime", ["un-ghs", "us-hcs"])
def test_water_classes_are_no_us_label(regime: str) -> None:
    body = {"regime": regime, "hazards": ["Aquatic Acute 1", "Aquatic Chronic 1"]}
    label = client.post("/api/calc/label", json=body).json()
    assert (label["pictograms"] == ["GHS09"]) is (regime == "un-ghs")


def test_the_us_mark_gives_way_to_the_skull_for_acute_toxicity_only() -> None:
    body = {"hazards": ["Acute Tox. 3 oral", "Acute Tox. 4 dermal", "Skin Irrit. 2"]}
    assert client.post("/api/calc/label", json={"regime": "us-hcs", **body}).json()["pictograms"] == [
        "GHS06",
        "GHS07",
    ]
    eu = client.post("/api/calc/label", json={"regime": "eu-clp", **body}).json()
    assert eu["pictograms"] == ["GHS06"]
    assert eu["pictograms_left_out"][0]["because"].startswith("CLP Article 26")


@pytest.mark.parametrize(
    ("hazard", "text"),
    [
        (
            "STOT RE 2 H373 (hearing organs)",
            "May cause damage to hearing organs through prolonged or repeated exposure",
        ),
        ("STOT SE 1 H370", "Causes damage to organs"),
        ("Carc. 1B H350i", "May cause cancer by inhalation"),
        ("Carc. 2 H351 (inhalation)", "Suspected of causing cancer if inhaled"),
        ("Repr. 1A H360Df", "May damage the unborn child. Suspected of damaging fertility"),
    ],
)
def test_blanks_of_statements_are_filled(hazard: str, text: str) -> None:
    """Texts of CLP Annex III; organs and route take the place of the blanks."""
    body = {"regime": "eu-clp", "hazards": [hazard]}
    label = client.post("/api/calc/label", json=body).json()
    assert [one["text"] for one in label["hazard_statements"]] == [text]


def test_a_class_without_advice_says_so() -> None:
    body = {"regime": "eu-clp", "hazards": ["Press. Gas H280", "Flam. Liq. 3"]}
    label = client.post("/api/calc/label", json=body).json()
    assert label["without_advice"] == ["Press. Gas H280"]
    assert not label["complete"] and label["findings"][0]["code"] == "precautions-not-held"


def test_burning_dust_is_a_us_statement_with_its_signal_word() -> None:
    """29 CFR 1910.1200 C.4.30, from memory: "May form combustible dust concentrations in air", Warning."""
    dust = {"name": "carbon black", "percent": 100, "hazards": []}
    asked = classify(dust, regime="us-hcs", form="solid")
    assert "burning-dust-not-examined" in codes(asked)
    burns = classify(dust, regime="us-hcs", form="solid", combustible_dust=True)["label"]
    assert burns["signal_word"] == "Warning"
    assert [one["text"] for one in burns["supplemental"]] == [
        "May form combustible dust concentrations in air"
    ]
    assert not classify(dust, regime="eu-clp", form="solid", combustible_dust=True)["label"]["supplemental"]
