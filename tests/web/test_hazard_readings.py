"""How written classes, shares and reliefs are read: nothing vanishes, nothing gets milder by itself."""

from __future__ import annotations

from typing import Any

import pytest

from service.core.hazards.read_class import read_class
from tests.web.test_calc_classify import OIL, classify, client, codes, send


@pytest.mark.parametrize(
    "written",
    [
        "Flam. Liq. 3 (H226, H304)",
        "Skin Irrit. 2 (H315, H317)",
        "Skin Irrit. 2 (H314)",
        "Carc. 2 (H350)",
        "STOT RE 2 (H372)",
        "Skin Sens. 1 H317 (Resp. Sens. 1)",
        "STOT RE 1 H372 ((lungs))",
        "Flam. Liq. 2 (H225",
        "Acute Tox. 4 oral H312",
        "Acute Tox. 4 by nose",
        "none",
    ],
)
def test_nothing_in_brackets_or_beside_a_class_vanishes(written: str) -> None:
    answer = send([{"name": "white spirit", "percent": 100, "hazards": [written]}])
    assert answer.status_code == 422 and "white spirit" in answer.json()["detail"]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("Repr. 2 (H361d)", ["Repr. 2 H361d"]),
        ("H304 (H350)", ["Asp. Tox. 1 H304", "Carc. 1 H350"]),
        ("Acute Tox. 3 (oral, dermal)", ["Acute Tox. 3 dermal H311", "Acute Tox. 3 oral H301"]),
        ("Acute Tox. 4 H302+H312", ["Acute Tox. 4 dermal H312", "Acute Tox. 4 oral H302"]),
        ("STOT SE3 H336", ["STOT SE 3 H336"]),
        ("h226-H304", ["Flam. Liq. 3 H226", "Asp. Tox. 1 H304"]),
        ("Expl. 1.1 H201", ["Expl. 1.1 H201"]),
    ],
)
def test_sheets_own_spellings_are_read_whole(written: str, read: list[str]) -> None:
    assert sorted(hazard.text for hazard in read_class(written).hazards) == sorted(read)


def test_breathed_in_no_said_form_is_not_taken_for_the_mildest() -> None:
    """50 % of H332: vapour 11/0.5 = 22, in no category; mist 1.5/0.5 = 3, category 4 (CLP tables 3.1.1,
    3.1.2).
    """
    it = {"name": "xylene", "percent": 50, "hazards": ["H332"]}
    rest = {"name": "water", "percent": 50, "hazards": []}
    got = classify(it, rest, does_not_flash=True)
    assert not got["complete"] and "inhaled-form-not-told" in codes(got)
    said = classify(it | {"hazards": ["Acute Tox. 4 vapour"]}, rest, does_not_flash=True)
    assert said["complete"] and not said["classifications"]


def test_the_ozone_layer_and_statements_nobody_works_out() -> None:
    """H420 from 0.1 % (CLP Annex I table 5.1, from memory)."""
    gas = {"name": "x", "percent": 0.1, "hazards": ["H420"]}
    rest = {"name": "rest", "percent": 99.9, "hazards": []}
    assert [c["code"] for c in classify(gas, rest, form="solid")["classifications"]] == ["H420"]
    assert not classify(gas | {"percent": 0.09}, rest, form="solid")["classifications"]
    for code in ("EUH380", "EUH440", "EUH450", "EUH001", "EUH029"):
        got = classify({"name": "x", "percent": 60, "hazards": [code]}, OIL | {"percent": 40}, form="solid")
        assert not got["complete"] and code in str(got["findings"])


@pytest.mark.parametrize("second", ["7439-92-1 ", "7439 - 92 - 1", "7439\u201392\u20131", ""])
def test_one_substance_under_two_writings_is_summed(second: str) -> None:
    lead = {"name": "lead", "percent": 0.06, "hazards": ["Carc. 1B"], "cas": "7439-92-1"}
    oil = {"name": "oil", "percent": 99.88, "hazards": []}
    got = classify(lead, lead | {"cas": second}, oil, form="solid")
    assert [c["hazard"] for c in got["classifications"]] == ["Carc. 1B H350"]
    named = [{**lead, "cas": "", "name": name, "substance": "lead"} for name in "AB"]
    assert classify(*named, oil, form="solid")["classifications"]
    wrong = send([lead | {"cas": "7440-48-5"}, oil])
    assert wrong.status_code == 422 and "lead" in wrong.json()["detail"]


def test_a_class_beats_the_word_not_toxic() -> None:
    it = {"name": "x", "percent": 50, "hazards": ["Acute Tox. 3 oral"], "not_acutely_toxic": ["oral"]}
    got = classify(it, {"name": "w", "percent": 50, "hazards": []}, form="solid")
    assert [c["hazard"] for c in got["classifications"]] == ["Acute Tox. 3 oral H301"]
    assert "not-toxic-and-class" in codes(got)


@pytest.mark.parametrize("hazard", ["Skin Irrit. 2", "Eye Dam. 1", "STOT SE 3 H336"])
def test_a_limit_that_begins_at_nothing_is_always_reached(hazard: str) -> None:
    it = {"name": "x", "percent": 2, "hazards": [hazard], "limits": [{"hazard": hazard, "from": 0}]}
    got = classify(it, {"name": "w", "percent": 98, "hazards": []}, form="solid")
    assert got["classifications"] and "own-limits-used" in codes(got)


def test_relief_is_said_and_note_p_is_for_petroleum_cuts_only() -> None:
    chromate = {
        "name": "lead chromate",
        "percent": 40,
        "hazards": ["Carc. 1B", "Repr. 1A"],
        "benzene_percent": 0,
    }
    rest = {"name": "oil", "percent": 60, "hazards": []}
    assert "Carc. 1B H350" in [c["hazard"] for c in classify(chromate, rest, form="solid")["classifications"]]
    metal = {"name": "x", "percent": 40, "hazards": ["Repr. 1A"], "metal_fraction": 0.001}
    got = classify(metal, rest, form="solid")
    assert not got["complete"] and "metal-not-named" in codes(got)
    assert "metal-share-used" in codes(classify(metal | {"metal": "Pb"}, rest, form="solid"))


def test_names_on_the_label() -> None:
    """CLP Article 18(3)(b): also of Acute Tox. 4 and STOT; Annex II 2.8: the second sensitiser too."""
    it = {
        "name": "poison",
        "percent": 60,
        "hazards": ["Acute Tox. 4 oral", "STOT RE 2"],
        "ate": {"oral": 500},
    }
    rest = {"name": "w", "percent": 40, "hazards": []}
    assert classify(it, rest, form="solid")["label"]["contains"] == ["poison"]
    one = {"name": "oxime", "percent": 0.5, "hazards": ["Skin Sens. 1"]}
    two = {"name": "cobalt salt", "percent": 0.1, "hazards": ["Skin Sens. 1A"]}
    got = classify(one, two, {"name": "w", "percent": 99.4, "hazards": []}, form="solid")
    assert sorted(got["label"]["contains"]) == ["cobalt salt", "oxime"]
    for hazards in (["EUH208"], ["Skin Sens. 1"]):
        answer = client.post(
            "/api/calc/label", json={"regime": "eu-clp", "hazards": hazards, "contains": [" "]}
        )
        assert not answer.json()["complete"]


@pytest.mark.parametrize(
    ("regime", "hazard"),
    [("eu-clp", "Flam. Liq. 4"), ("eu-clp", "Asp. Tox. 2"), ("us-hcs", "H400"), ("us-hcs", "H420")],
)
def test_what_a_law_does_not_label_is_said(regime: str, hazard: str) -> None:
    got = client.post("/api/calc/label", json={"regime": regime, "hazards": [hazard]}).json()
    assert [finding["code"] for finding in got["findings"]] == ["not-on-this-label"]


def test_a_flammable_ingredient_in_what_does_not_flash_or_is_solid() -> None:
    spirit = {"name": "spirit", "percent": 40, "hazards": ["Flam. Liq. 2"]}
    rest = {"name": "w", "percent": 60, "hazards": []}
    assert "flammable-ingredient" in codes(classify(spirit, rest, does_not_flash=True))
    assert not classify(spirit, rest, form="solid")["complete"]


@pytest.mark.parametrize("share", ["", "<1", "1-5", "0,5", None, [1], [1, 2, 3], {"a": 1}])
def test_a_share_that_is_no_number_says_how_to_write_one(share: Any) -> None:
    answer = send([{"name": "lye", "percent": share, "hazards": []}])
    assert answer.status_code == 422 and "[1, 5]" in answer.text


@pytest.mark.parametrize(
    ("percent", "hazards", "worse"),
    [
        (30, ["Acute Tox. 4 inhalation"], "Acute Tox. 4 dust_mist H332"),
        (1, ["Acute Tox. 1 inhalation"], "Acute Tox. 2 dust_mist H330"),
        (2, ["Acute Tox. 2 inhalation"], "Acute Tox. 4 dust_mist H332"),
    ],
)
def test_of_a_form_nobody_told_the_more_severe_counts(percent: float, hazards: list[str], worse: str) -> None:
    """As mist 1.5/0.3 = 5 (4), 0.005/0.01 = 0.5 (2), 0.05/0.02 = 2.5 (4); as vapour milder or none."""
    it = {"name": "salt", "percent": percent, "hazards": hazards}
    rest = {"name": "water", "percent": 100 - percent, "hazards": []}
    got = classify(it, rest, does_not_flash=True)
    assert [one["hazard"] for one in got["classifications"]] == [worse]
    assert "inhaled-form-not-told" in codes(got) and not got["complete"]
    # What gives off vapour is judged as that, as an example of the rules does; that mist is worse is said.
    solvent = classify(it | {"hazards": [*hazards, "Flam. Liq. 3"]}, rest, does_not_flash=True)
    assert worse not in [one["hazard"] for one in solvent["classifications"]]
    assert "inhaled-form-not-told" in codes(solvent) and not solvent["complete"]
    told = it | {"not_acutely_toxic": ["dust_mist"]}
    assert "inhaled-form-not-told" not in codes(classify(told, rest, does_not_flash=True))


def test_the_formula_says_what_was_taken_out_of_the_hundred() -> None:
    it = {"name": "x", "percent": 20, "hazards": ["Acute Tox. 4 oral"]}
    secret = {"name": "secret", "percent": 76, "hazards": None}
    got = classify(it, secret, {"name": "w", "percent": 4, "hazards": []}, form="solid")
    (oral,) = [c for c in got["classifications"] if c["route"] == "oral"]
    assert oral["because"][0]["rule"] == "ATEmix oral = (100 - 76 % not known) / (20/500)"
