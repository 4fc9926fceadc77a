"""Which precautions a label keeps: first aid before all else, general ones for the public alone."""

from __future__ import annotations

from typing import Any

import pytest

from tests.web.test_calc_classify import client

RINSE_EYES = "P305+P351+P338"


def label(regime: str, *hazards: str, **more: Any) -> list[str]:
    """The precautionary statements of a label, by code."""
    answer = client.post("/api/calc/label", json={"regime": regime, "hazards": list(hazards), **more})
    assert answer.status_code == 200, answer.text
    return [one["code"] for one in answer.json()["precautionary_statements"]]


@pytest.mark.parametrize("regime", ["eu-clp", "un-ghs", "us-hcs"])
@pytest.mark.parametrize(
    ("hazards", "needed"),
    [
        (
            ["Skin Corr. 1B", "Acute Tox. 3 oral", "Flam. Liq. 2"],
            {RINSE_EYES, "P310", "P304+P340", "P301+P330+P331", "P303+P361+P353", "P210"},
        ),
        (
            ["Met. Corr. 1", "Skin Corr. 1A", "Ox. Liq. 2"],
            {RINSE_EYES, "P310", "P304+P340", "P303+P361+P353"},
        ),
        (["Skin Corr. 1A", "EUH071", "Acute Tox. 2 inhalation"], {RINSE_EYES, "P310", "P304+P340"}),
        (
            ["Flam. Liq. 2", "Skin Irrit. 2", "Eye Irrit. 2", "STOT SE 3 H336", "Aquatic Chronic 2"],
            {RINSE_EYES},
        ),
        (["Flam. Liq. 2", "Eye Irrit. 2", "STOT SE 2"], {RINSE_EYES, "P308+P311"}),
        (["Eye Dam. 1", "Flam. Liq. 2", "Carc. 1B", "STOT RE 1"], {RINSE_EYES, "P310"}),
        (["Asp. Tox. 1", "Flam. Liq. 2", "Carc. 1B", "Muta. 1B", "Repr. 1A"], {"P301+P310", "P331"}),
        (["Resp. Sens. 1", "Flam. Liq. 2", "Carc. 1B"], {"P304+P340", "P342+P311"}),
        (["STOT SE 1", "Flam. Liq. 1", "Carc. 1A"], {"P308+P311"}),
        (
            ["Acute Tox. 1 dermal", "Flam. Liq. 1", "Carc. 1A"],
            {"P302+P352|P303+P361+P353", "P310", "P361+P364"},
        ),
        (["Acute Tox. 3 vapour", "Acute Tox. 3 dermal", "Flam. Liq. 2"], {"P304+P340", "P311|P310"}),
    ],
)
def test_first_aid_is_never_cut(regime: str, hazards: list[str], needed: set[str]) -> None:
    """CLP Article 28(3): more than six where the nature and severity of the hazards needs them."""
    said = set(label(regime, *hazards))
    assert all(set(one.split("|")) & said for one in needed), (needed, said)
    assert "P501" in said, "one on disposal for the public, CLP Article 28(2)"


def test_milder_classes_keep_to_six_and_three() -> None:
    said = label(
        "eu-clp", "Flam. Liq. 3", "Skin Irrit. 2", "STOT SE 3 H336", "STOT RE 2", "Aquatic Chronic 2"
    )
    assert len(said) <= 6 + 3


@pytest.mark.parametrize("regime", ["eu-clp", "un-ghs", "us-hcs"])
def test_the_general_three_are_for_the_public(regime: str) -> None:
    general = {"P101", "P102", "P103"}
    assert general <= set(label(regime, "Flam. Liq. 2"))
    assert not general & set(label(regime, "Flam. Liq. 2", label_for="workplace"))
    assert not general & set(label(regime, "Flam. Liq. 2", audience="workplace"))


def test_the_us_wants_both_statements_on_instructions() -> None:
    assert {"P201", "P202"} <= set(label("us-hcs", "Carc. 1B"))
    assert "P202" not in label("eu-clp", "Carc. 1B")
