"""What a classified mix has to say beside its classes: unknown danger to water, named substances, reliefs."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.test_calc_classify import classify, client, codes

OIL = {"name": "oil", "hazards": []}


def judged(*parts: dict[str, Any], **more: Any) -> dict[str, Any]:
    """The parts filled up with an inert oil that does not flash."""
    rest = 100 - sum(part["percent"] for part in parts)
    return classify(*parts, {**OIL, "percent": round(rest, 6)}, **{"does_not_flash": True, **more})


def supplemental(answer: dict[str, Any]) -> dict[str, str]:
    return {one["code"]: one["text"] for one in answer["label"]["supplemental"]}


def sentences(answer: dict[str, Any], code: str, severity: str) -> list[str]:
    return [f["sentence"] for f in answer["findings"] if (f["code"], f["severity"]) == (code, severity)]


@pytest.mark.parametrize("regime", ["un-ghs", "eu-clp", "us-hcs"])
def test_unknown_danger_to_water_is_said_where_a_law_judges_it(regime: str) -> None:
    """CLP Annex I 4.1.3.6.1, UN the same; US law does not judge water."""
    got = judged({"name": "secret", "percent": 12.5, "hazards": None}, regime=regime)
    words = "Contains 12.5 % of components with unknown hazards to the aquatic environment"
    texts = [one["text"] for one in got["label"]["supplemental"]]
    assert (words in texts) is (regime != "us-hcs")
    assert got["unknown_aquatic_percent"] == (12.5 if regime != "us-hcs" else 0)
    assert ("unknown-aquatic-hazard" in codes(got)) is (regime != "us-hcs")
    told = classify({**OIL, "percent": 90}, regime=regime, does_not_flash=True)
    assert told["unknown_aquatic_percent"] == (10 if regime != "us-hcs" else 0), "what is not told counts too"
    assert judged({"name": "known", "percent": 12.5, "hazards": []}, regime=regime)["complete"]
    body = {"regime": regime, "hazards": ["Skin Irrit. 2"], "unknown_aquatic_percent": 3}
    label = client.post("/api/calc/label", json=body).json()
    assert ("aquatic" in str(label["supplemental"])) is (regime != "us-hcs")


@pytest.mark.parametrize(
    ("part", "code"),
    [
        ({"name": "white lead", "percent": 10, "cas": "1319-46-6"}, "EUH201"),
        ({"name": "a pigment", "percent": 0.19, "cas": "1319-46-6"}, "EUH201"),
        ({"name": "lead drier", "percent": 1}, "EUH201"),
        ({"name": "MDI", "percent": 0.5, "cas": "101-68-8", "hazards": ["Resp. Sens. 1"]}, "EUH204"),
        ({"name": "hexamethylene diisocyanate", "percent": 0.5}, "EUH204"),
        ({"name": "resin", "percent": 0.5, "cas": "25068-38-6", "hazards": ["Skin Sens. 1"]}, "EUH205"),
        ({"name": "epoxy resin", "percent": 20}, "EUH205"),
    ],
)
def test_lead_isocyanates_and_epoxy_raise_their_statement_by_number_or_name(
    part: dict[str, Any], code: str
) -> None:
    """CLP Annex II 2.1, 2.4, 2.5."""
    asked = {"hazards": [], **part}
    assert code in supplemental(judged(asked))
    assert code not in supplemental(judged(asked, regime="us-hcs"))


@pytest.mark.parametrize(
    ("name", "percent", "cas"),
    [
        ("lead-free drier", 10, ""),
        ("black lead", 10, ""),
        ("isocyanate-free binder", 10, ""),
        ("a pigment", 0.18, "1319-46-6"),
        ("MDI", 0.09, "101-68-8"),
        ("leaded", 0.1, ""),
    ],
)
def test_others_do_not(name: str, percent: float, cas: str) -> None:
    """0.18 % of basic lead carbonate are 0.144 % lead, not more than 0.15."""
    got = judged({"name": name, "percent": percent, "cas": cas, "hazards": []})
    assert not {"EUH201", "EUH204", "EUH205"} & set(supplemental(got))


@pytest.mark.parametrize("named", [{"cas": "13463-67-7"}, {"substance": "titanium dioxide"}])
def test_a_class_the_eu_annulled_is_said_to_be_so(named: dict[str, str]) -> None:
    white = {"name": "white", "percent": 5, "hazards": ["Carc. 2 H351 (inhalation)"], **named}
    (words,) = sentences(judged(white), "class-annulled", "note")
    assert "no longer law in the EU" in words and "EUH211" in words
    assert "class-annulled" not in codes(judged(white, regime="us-hcs"))


def test_what_a_list_says_beside_what_was_given_is_told_and_not_reckoned_with() -> None:
    spirit = {"name": "wood spirit", "percent": 20, "cas": "67-56-1", "hazards": []}
    got = judged(spirit)
    assert not got["classifications"]
    (words,) = sentences(got, "list-says-more", "note")
    assert "STOT SE 1 H370" in words and "wood spirit" in words
    assert "list-says-more" not in codes(judged({**spirit, "cas": ""}))


@pytest.mark.parametrize(
    ("hazard", "limit", "percent", "general"),
    [
        ("Carc. 1B", {"hazard": "Carc. 1B", "from": 50}, 20, "0.1 %"),
        ("Skin Sens. 1A", {"hazard": "Skin Sens. 1A", "from": 5}, 1, "0.1 %"),
        ("Skin Corr. 1B", {"hazard": "Skin Corr. 1B", "from": 90}, 40, "5 %"),
        ("STOT SE 3 H336", {"hazard": "STOT SE 3 H336", "from": 60}, 40, "20 %"),
    ],
)
def test_a_limit_looser_than_the_general_one_is_a_warning(
    hazard: str, limit: dict[str, Any], percent: float, general: str
) -> None:
    part = {"name": "stuff", "percent": percent, "hazards": [hazard], "limits": [limit], "additive": True}
    said = sentences(judged(part), "own-limit-looser", "warn")
    assert any(general in one and "stuff" in one for one in said), said
    # Where it changes nothing, and where it is stricter, there is nothing to warn of.
    assert "own-limit-looser" not in codes(judged({**part, "percent": limit["from"]}))
    assert "own-limit-looser" not in codes(judged({**part, "limits": [{**limit, "from": 0.01}]}))
    assert "own-limit-looser" not in codes(judged(part, regime="us-hcs")), "there it only makes stricter"


def test_a_metal_share_that_lifts_a_class_is_a_warning() -> None:
    salt = {"name": "salt", "percent": 20, "hazards": ["Repr. 1B", "Carc. 1B"], "metal": "Co"}
    got = judged({**salt, "metal_fraction": 0.001})
    said = sentences(got, "metal-share-lifts", "warn")
    assert len(said) == 2 and "Repr. 1B" in str(said) and "Carc. 1B" in str(said)
    assert "metal-share-lifts" not in codes(judged({**salt, "metal_fraction": 0.3}))


def test_one_number_with_two_lists_of_classes_is_a_contradiction_that_is_said() -> None:
    one = {"name": "thinner", "percent": 5, "cas": "108-88-3", "hazards": ["Skin Irrit. 2"]}
    other = {**one, "name": "toluene", "hazards": ["Repr. 2 H361d"]}
    got = judged(one, other)
    assert sentences(got, "classes-differ", "warn")
    assert "Repr. 2 H361d" in [c["hazard"] for c in got["classifications"]]
    assert "classes-differ" not in codes(judged(one, {**one, "name": "toluene"}))
    assert "classes-differ" not in codes(judged(one, {**other, "hazards": None}))


def test_upper_ends_that_are_together_more_than_the_whole_are_explained() -> None:
    parts = [{"name": n, "percent": [5, 90], "hazards": ["STOT SE 3 H336"]} for n in ("ethanol", "methanol")]
    (one,) = classify(*parts, does_not_flash=True)["classifications"]
    assert one["because"][0]["sum"] == 180 and "more than the whole" in one["because"][0]["rule"]
    (one,) = judged({**parts[0], "percent": 90})["classifications"]
    assert "more than the whole" not in one["because"][0]["rule"]


def test_sentences_carry_figures_a_person_can_read() -> None:
    got = judged({"name": "secret", "percent": 69.370412, "hazards": None})
    assert "69.4 %" in str(got["findings"]) and "69.37" not in str(got["findings"])
    assert "69.4 percent" in str(got["label"]["supplemental"])


@pytest.mark.parametrize("number", ["1e400", "-1e400", "[1, 1e400]", "9" * 400, "null", "{}", "[]"])
@pytest.mark.parametrize("field", ["percent", "ate"])
def test_an_impossible_number_gets_one_plain_sentence(field: str, number: str) -> None:
    value = number if field == "percent" else f'1, "ate": {{"oral": {number}}}'
    if (field, number) == ("ate", "null"):
        return
    body = f'{{"regime": "eu-clp", "ingredients": [{{"name": "lye", "hazards": [], "percent": {value}}}]}}'
    answer = client.post("/api/calc/classify", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 422, answer.text
    assert answer.json()["detail"].startswith("Send a ") and ";" not in answer.json()["detail"]
