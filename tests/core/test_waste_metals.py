"""Codes of metals and of acids: what nobody told may apply, and no word makes one go away that words name."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from service.core.findings import Severity
from service.core.materials import MaterialKind
from service.core.waste_codes import judge_stream
from service.core.waste_metals import Content, metals_in, metals_named, not_told, say_run
from service.core.waste_streams import JudgedStream, Stream
from service.records.knowledge_waste import waste_tables

METALS = tuple(f"D{number:03}" for number in range(4, 12))


def judged(name: str = "Sludge", **said: Any) -> JudgedStream:
    return judge_stream(waste_tables(), Stream(name=name, **said))


def test_metals_and_ph_that_nobody_told_may_apply() -> None:
    found = judged(liquid=True)
    assert {"D002", *METALS} <= set(found.having(None))
    [said] = [one for one in found.findings if one.severity is Severity.UNKNOWN and "D011" in one.sentence]
    assert "D004 to D011 are not known" in said.sentence
    solid = judged(liquid=False, self_heating=False)
    assert "D002" not in solid.having(None) and set(METALS) <= set(solid.having(None))


def test_what_is_told_decides() -> None:
    assert "D002" in judged(liquid=True, ph=Fraction(1)).having(True)
    assert "D002" in judged(liquid=True, ph=Fraction(7)).having(False)
    assert set(METALS) <= set(judged("Thinner", metals=False).having(False))
    assert set(METALS) <= set(judged("Thinner", metals=True).having(None))
    found = judged("Thinner", leached={"lead": Fraction(6)}, content={"cadmium": Fraction(1)})
    assert "D008" in found.having(True) and "D006" in found.having(False) and "D007" in found.having(None)


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ("Chrome yellow and lead white sludge", {"D007", "D008"}),
        ("Rinsings with CADMIUM RED", {"D006", "D010"}),
        ("vermilion", {"D009"}),
        ("Lithopone and emerald green", {"D004", "D005"}),
        ("silver leaf", {"D011"}),
        ("Spent thinner as led by Ba", set()),
    ],
)
def test_words_that_name_a_metal_count_against_a_word_that_none_is_in_it(words: str, codes: set[str]) -> None:
    assert set(judged(words, metals=False).having(None)) & set(METALS) == codes
    assert set(judged(metals=False, words=words).having(None)) & set(METALS) == codes


def test_materials_tell_their_metals_and_what_is_not_known_of_them() -> None:
    pigment, solvent = MaterialKind.DRY_PIGMENT, MaterialKind.SOLVENT
    told = [Content("Yellow", "A", pigment, ("Pb", "Cr")), Content("Thinner", "B", solvent, None)]
    assert set(metals_in(told)) == {"lead", "chromium"} and not_told(told) == ""
    assert "Blue (C)" in not_told([*told, Content("Blue", "C", pigment, None)])
    assert metals_in([Content("Umber", "D", pigment, ())]) == {} == metals_named("Umber")


def test_runs_of_codes_are_said_short() -> None:
    assert say_run([*METALS, "D001", "D002", "D018", "08 01 11*", "F003"]) == (
        "08 01 11*, D001, D002, D004 to D011, D018, F003"
    )
