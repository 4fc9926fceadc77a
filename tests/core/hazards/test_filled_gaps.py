"""Every precautionary statement that can be printed has no blank left, and no word changed without a gap."""

from __future__ import annotations

import re

import pytest

from service.core.hazards.filled_gaps import GAPS, filled, gear
from service.core.hazards.statements import Statement
from service.records.hazard_tables import mandated_texts
from service.records.knowledge_hazards import precaution_choices

TEXTS = mandated_texts().precaution_texts
GAP = re.compile(r"\.\.\.|[\[\]]|[a-z]/[a-z.]|CENTER/")
CHOSEN = sorted(
    set(TEXTS)
    | {
        code
        for row in precaution_choices()
        for code in (*row.prevention, *row.response, *row.storage, *row.disposal)
    }
)


@pytest.mark.parametrize("liquid", [True, False, None])
@pytest.mark.parametrize("code", CHOSEN)
def test_no_statement_keeps_a_gap(code: str, liquid: bool | None) -> None:
    statement = mandated_texts().precaution(code)
    said = filled(statement, ["H226", "H317"], liquid=liquid)
    assert not GAP.search(said.text), said.text
    assert ".." not in said.text
    assert said.code == code
    if not GAP.search(statement.text):
        assert said.text == statement.text


def test_every_row_of_the_table_is_met_by_a_statement() -> None:
    for gap in GAPS:
        assert any(gap.written in text for text in TEXTS.values()), gap.written


@pytest.mark.parametrize(
    ("code", "codes", "text"),
    [
        ("P264", ["H315"], "Wash hands thoroughly after handling."),
        ("P261", ["H317"], "Avoid breathing mist, vapours or spray."),
        (
            "P280",
            ["H314"],
            "Wear protective gloves, protective clothing, eye protection and face protection.",
        ),
        ("P280", ["H225", "H319"], "Wear protective gloves and eye protection."),
        ("P280", ["H317", "H361"], "Wear protective gloves, protective clothing and eye protection."),
        ("P280", ["H272"], "Wear protective gloves, eye protection and face protection."),
        ("P280", ["H412"], "Wear protective gloves, protective clothing and eye protection."),
        ("P301+P310", ["H304"], "IF SWALLOWED: Immediately call a POISON CENTER or doctor."),
        ("P302+P352", ["H315"], "IF ON SKIN: Wash with plenty of water."),
        (
            "P370+P378",
            ["H225", "H304"],
            "In case of fire: Use dry powder, alcohol-resistant foam or carbon dioxide to extinguish.",
        ),
    ],
)
def test_what_a_finishing_shop_reads(code: str, codes: list[str], text: str) -> None:
    said = filled(mandated_texts().precaution(code), codes, liquid=True).text
    assert said.rstrip(".") == text.rstrip(".")


@pytest.mark.parametrize("burns_otherwise", ["H228", "H250", "H260", "H272", "H290"])
def test_no_extinguisher_is_named_for_what_burns_in_another_way(burns_otherwise: str) -> None:
    for codes in ([burns_otherwise], ["H225", burns_otherwise]):
        said = filled(mandated_texts().precaution("P370+P378"), codes, liquid=True).text
        assert said.startswith("In case of fire: Use what the safety data sheet names to extinguish")


def test_the_shop_says_where_its_waste_goes() -> None:
    said = filled(Statement("P501", TEXTS["P501"]), [], waste="the drum behind the yard.")
    assert said.text == "Dispose of contents and container to the drum behind the yard."


def test_no_further_class_takes_gear_away() -> None:
    codes = ["H225", "H290", "H310", "H314", "H315", "H317", "H318", "H319", "H350", "H373", "H410"]
    for first in codes:
        for second in codes:
            assert set(re.split(", | and ", gear([first]))) <= set(
                re.split(", | and ", gear([first, second]))
            ) or (
                # What says nothing of its own gets everything until another class says what is needed.
                gear([first]) == gear([])
            )
