"""Hazard classes and metals as somebody copied them: the standard's own abbreviations are taken."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.hazards.read_class import read_class
from service.core.written_classes import MOST_CLASSES, read_classes, read_metals

# Abbreviations of Regulation (EC) 1272/2008, Annex VI, table 1.1, and of the UN GHS (from memory).
AS_PRINTED = [
    "Flam. Liq. 2",
    "Flam. Liq. 3 H226",
    "Flam. Sol. 1 H228",
    "Acute Tox. 4 H302",
    "Acute Tox. 4 oral",
    "Acute Tox. 3 (inhalation) H331",
    "Skin Corr. 1B H314",
    "Skin Irrit. 2, H315",
    "Eye Dam. 1 H318",
    "Eye Irrit. 2A",
    "Resp. Sens. 1 H334",
    "Skin Sens. 1A H317",
    "Muta. 1B H340",
    "Carc. 2 H351",
    "Carc. 1A",
    "Repr. 1A H360FD",
    "Repr. 2 H361f",
    "Lact. H362",
    "STOT SE 3 H336",
    "STOT RE 2 H373 (hearing organs)",
    "STOT RE 1 H372 inhalation",
    "Asp. Tox. 1 H304",
    "Aquatic Acute 1 H400",
    "Aquatic Chronic 2 H411",
    "Ozone 1 H420",
    "Self-react. C H242",
    "Org. Perox. D H242",
    "Pyr. Liq. 1 H250",
    "Self-heat. 1 H251",
    "Water-react. 2 H261",
    "Ox. Sol. 2 H272",
    "Met. Corr. 1 H290",
    "Unst. Expl. H200",
    "Press. Gas (Liq.) H280",
    "H226",
    "H350i",
    "EUH066",
    "EUH208",
    "H300 + H310",
    "EUH019 (may form explosive peroxides)",
    "EUH019 May form explosive peroxides",
    "EUH019: may form explosive peroxides",
    "EUH066 - Repeated exposure may cause skin dryness or cracking",
    "H225 Highly flammable liquid and vapour",
    "H225 – Highly flammable liquid and vapour",
    "H373 (hearing organs)",
    "H420: Harms public health and the environment by destroying ozone in the upper atmosphere",
]


@pytest.mark.parametrize("line", AS_PRINTED)
def test_classes_as_a_sheet_prints_them_are_taken_as_they_are(line: str) -> None:
    expected = " ".join(line.split())
    assert read_classes(f"  {line} ") == (expected,)


@pytest.mark.parametrize(
    "line",
    [
        "burns well",
        "dangerous",
        "flam. liq. 3",
        "Flam. Liq.",
        "3",
        "H12",
        "H2266",
        "Flam. Liq. 9 H226",
        "Toxic!",
        "Flam. Liq. 3 H226 and more words than fit",
        "<b>Carc. 1A</b>",
        "EUH",
        "EUH019 (may form explosive peroxides",
        "EUH019 may form 2 peroxides",
        "EUH019 <b>may form</b>",
        "H225 H350 may cause cancer",
        "=H226",
        "Flam. Liq. 3 H226\x00",
    ],
)
def test_remarks_are_no_classes(line: str) -> None:
    with pytest.raises(Invalid):
        read_classes(line)


@pytest.mark.parametrize("line", ["none", "None", "not classified", "Not hazardous"])
def test_none_is_an_answer_of_its_own_and_never_an_entry(line: str) -> None:
    with pytest.raises(Invalid, match="examined, none"):
        read_classes(line)
    if line.lower() == "none":
        with pytest.raises(Invalid, match="examined, none"):
            read_metals(line)


def test_lists_are_parted_deduplicated_and_bounded() -> None:
    assert read_classes("") == () and read_metals(" ,; ") == ()
    assert read_classes("H226;H226\nCarc. 1B") == ("H226", "Carc. 1B")
    with pytest.raises(Invalid):
        read_classes("\n".join(f"H{300 + n}" for n in range(MOST_CLASSES + 1)))
    assert read_metals("Pb; Cr(VI), zinc chromate") == ("Pb", "Cr(VI)", "zinc chromate")
    for odd in ("12", "<i>", "Pb\x00", "x" * 41, ",".join("abcdefghijklmnopqrstu")):
        with pytest.raises(Invalid):
            read_metals(odd)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (read_classes, read_metals):
        try:
            found = read(text)
        except Invalid:
            continue
        assert read("\n".join(found)) == found, "what was kept reads back to itself"


SAID = {
    "EUH019 (may form explosive peroxides)": ("EUH019",),
    "euh019: May form explosive peroxides.": ("EUH019",),
    "EUH 019 may form explosive peroxides": ("EUH019",),
    "H225 Highly flammable liquid and vapour": ("H225",),
    "H225: highly flammable liquid and vapour": ("H225",),
    "H304 – may be fatal if swallowed and enters airways": ("H304",),
    "H302+H312 Harmful if swallowed or in contact with skin": ("H302", "H312"),
    "H336 (May cause drowsiness or dizziness)": ("H336",),
    "H420 Harms public health and the environment by destroying ozone in the upper atmosphere": ("H420",),
}


@pytest.mark.parametrize("line", SAID)
def test_a_statement_in_words_after_its_number_is_read_by_its_number(line: str) -> None:
    read = read_class(line)
    assert (*(hazard.code for hazard in read.hazards), *read.supplements) == SAID[line]


@pytest.mark.parametrize(
    "line", ["H225 and Carc", "H225 Skin Corr", "H225 acute tox", "EUH019 and Carc", "burns H225", "H225 3"]
)
def test_words_after_a_number_never_hide_a_second_class(line: str) -> None:
    with pytest.raises(Invalid):
        read_class(line)
