"""Small shares together, and corrosives whose pH nobody gave: what is dropped or open is said."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.test_calc_classify import classify, codes

LAWS = ["un-ghs", "eu-clp", "us-hcs"]


def many(count: int, percent: float, hazard: str) -> list[dict[str, Any]]:
    """So many ingredients of one class, each with its share."""
    return [{"name": f"part {n}", "percent": percent, "hazards": [hazard]} for n in range(count)]


def judged(*parts: dict[str, Any], **more: Any) -> dict[str, Any]:
    """The parts filled up with something inert, in a liquid of pH 7 that does not flash."""
    rest = 100 - sum(part["percent"] for part in parts)
    inert = {"name": "inert", "percent": round(rest, 6), "hazards": []}
    return classify(*parts, inert, **{"does_not_flash": True, "ph": 7, **more})


def hazards(answer: dict[str, Any]) -> list[str]:
    return [one["hazard"] for one in answer["classifications"]]


@pytest.mark.parametrize("regime", LAWS)
def test_corrosives_count_together_however_little_each_is(regime: str) -> None:
    """8 x 0.9 = 7.2 % , 5 burn skin (table 3.2.3); 4 x 0.8 = 3.2 , 3 harm eyes (3.3.3)."""
    got = judged(*many(8, 0.9, "Skin Corr. 1B"), regime=regime)
    assert hazards(got) == ["Skin Corr. 1B H314", "Eye Dam. 1 H318"]
    assert got["classifications"][0]["because"][0]["sum"] == 7.2
    assert hazards(judged(*many(4, 0.8, "Eye Dam. 1"), regime=regime)) == ["Eye Dam. 1 H318"]
    assert hazards(judged(*many(2, 0.5, "Skin Corr. 1B"), regime=regime)) != []


@pytest.mark.parametrize("regime", LAWS)
@pytest.mark.parametrize(
    ("parts", "would_be", "total"),
    [
        (
            [*many(1, 0.9, "Skin Corr. 1A"), {"name": "soap", "percent": 1.9, "hazards": ["Skin Irrit. 2"]}],
            "Skin Irrit. 2",
            10.9,
        ),
        (
            [*many(1, 0.95, "Eye Dam. 1"), {"name": "soap", "percent": 0.5, "hazards": ["Eye Irrit. 2"]}],
            "Eye Irrit. 2",
            10,
        ),
        (many(25, 0.9, "STOT SE 3 H336"), "STOT SE 3 H336", 22.5),
        (many(20, 0.9, "Asp. Tox. 1"), "Asp. Tox. 1", 18),
        (many(12, 0.9, "Skin Irrit. 2"), "Skin Irrit. 2", 10.8),
    ],
)
def test_what_is_below_its_cut_off_is_said_where_it_would_matter(
    regime: str, parts: list[dict[str, Any]], would_be: str, total: float
) -> None:
    """Table 1.1 leaves it out (an example of the rules holds one corrosive of 0.9 % to that): it is said."""
    got = judged(*parts, regime=regime)
    assert not got["complete"]
    said = [one for one in got["findings"] if one["code"] == "small-shares-not-counted"]
    assert any(would_be in one["sentence"] and "part 0" in one["sentence"] for one in said)
    assert any(
        one["sum"] == pytest.approx(total, abs=0.5) and "cut-off" in one["rule"]
        for one in got["below_limits"]
    )


def test_small_shares_that_change_nothing_are_no_question() -> None:
    for parts in (many(9, 0.9, "STOT SE 3 H336"), many(3, 0.9, "Skin Irrit. 2"), many(1, 0.09, "Eye Dam. 1")):
        assert judged(*parts)["complete"]
    thick = judged(*many(20, 0.9, "Asp. Tox. 1"), kinematic_viscosity_40c=200, viscosity_confirmed=True)
    assert thick["complete"]


@pytest.mark.parametrize(
    ("parts", "would_be"),
    [
        (many(1, 0.05, "Acute Tox. 1 oral"), "Acute Tox. 4"),
        (many(60, 0.9, "Acute Tox. 4 oral"), "Acute Tox. 4"),
        (
            [
                *many(20, 0.9, "Acute Tox. 4 dermal"),
                {"name": "x", "percent": 60, "hazards": ["Acute Tox. 4 dermal"]},
            ],
            "",
        ),
    ],
)
def test_small_shares_of_poisons_are_said_as_well(parts: list[dict[str, Any]], would_be: str) -> None:
    """0.05 % of category 1: 0.5 / 0.0005 = 1000 mg/kg; 54 % of category 4: 500 / 0.54 = 926: category 4."""
    got = judged(*parts, regime="eu-clp")
    said = [one for one in got["findings"] if one["code"] == "small-shares-not-counted"]
    assert bool(said) is bool(would_be) is not got["complete"]
    assert all(would_be in one["sentence"] for one in said)


@pytest.mark.parametrize("regime", LAWS)
@pytest.mark.parametrize("percent", [0.01, 0.8, 4])
def test_a_corrosive_of_unknown_ph_is_a_question(regime: str, percent: float) -> None:
    """Sodium hydroxide: 0.8 % has a pH above 13. The sums alone call it harmless, and 4 % an irritant."""
    lye = {"name": "lye", "percent": percent, "hazards": ["Skin Corr. 1A"]}
    got = judged(lye, regime=regime, ph=None)
    assert "ph-not-known" in codes(got) and not got["complete"] and "lye" in str(got["findings"])
    assert "Skin Corr. 1 H314" in hazards(judged(lye, regime=regime, ph=13.3))
    for said in ({"ph": 8}, {"additive": True}):
        assert "ph-not-known" not in codes(judged({**lye, **said}, regime=regime, ph=None))
    assert "ph-not-known" not in codes(judged(lye, regime=regime, ph=7))


def test_the_ph_is_no_question_where_it_changes_nothing_or_the_list_has_answered() -> None:
    lye = {"name": "lye", "percent": 6, "hazards": ["Skin Corr. 1A"]}
    assert "ph-not-known" not in codes(judged(lye, ph=None))
    own = {
        "name": "acid",
        "percent": 9.9,
        "hazards": ["Skin Corr. 1B"],
        "limits": [{"hazard": "Skin Irrit. 2", "from": 10}],
    }
    assert "ph-not-known" not in codes(judged(own, ph=None))
    assert "ph-not-known" in codes(judged(own, ph=None, regime="us-hcs")) or hazards(
        judged(own, regime="us-hcs")
    )
