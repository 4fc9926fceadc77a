"""What a confirmation itself names is read as a name would be."""

from __future__ import annotations

import pytest

from service.core.read_confirmation import names_in_confirmation
from service.records.knowledge_never_with import never_with

NAMES = [
    "quicklime", "CaO", "KMnO4", "H2O2", "NaOCl", "HCl", "H2SO4", "HNO3", "NaOH", "KOH", "CrO3", "MnO2",
    "NH3", "CaC2", "oil of vitriol", "bleach", "lime", "zinc", "PB27", "Prussian blue",
    "C.I. Pigment Blue 27", "1305-78-8", "muriatic", "MEKP hardener", "sodium", "oxalic acid", "caustic soda",
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    "sentence",
    [
        "It is {} and I know it may meet water.",
        "Old {} that my father kept in the shed.",
        "The label reads {}, so it may go in.",
        "{}: I asked the maker.",
    ],
)
def test_a_sentence_that_names_what_some_row_stops_is_a_name(name: str, sentence: str) -> None:
    assert names_in_confirmation(never_with(), sentence.format(name), "white tub, tap water")


@pytest.mark.parametrize(
    "sentence",
    [
        "It is borax, the tub's label says so, and spirit may meet it.",
        "It is borax by its label, and water is what it is for.",
        "It is umber-coloured chalk-free filler, the maker told me so.",
        "It is pumice flour; I burnt a pinch and nothing happened.",
        "Looked up by the keeper, who says that it may meet the tap water.",
        "It is borax, I dissolved some in water and nothing happened.",
        "I know what it is from its sheet and it may meet the other.",
    ],
)
def test_a_sentence_that_names_nothing_of_the_kind_is_let_through(sentence: str) -> None:
    assert names_in_confirmation(never_with(), sentence, "white tub, tap water") == ()


def test_the_name_of_the_other_is_no_new_name() -> None:
    said = "It is borax by its label and may meet quicklime."
    assert names_in_confirmation(never_with(), said, "white tub, Quicklime") == ()
    assert names_in_confirmation(never_with(), said, "white tub, tap water")
    lime = "It is quicklime and may meet the acid."
    assert names_in_confirmation(never_with(), lime, "white tub, Oxalic acid")
