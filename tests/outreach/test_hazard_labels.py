"""Hazard labels: size by volume, nothing cut off or covered, and no harmless look of what is not known."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.hazards.classes import Signal
from service.core.hazards.filled_gaps import filled
from service.core.hazards.label import PICTOGRAM_WORDS, Label, LabelFor
from service.core.hazards.read_class import read_classes
from service.core.hazards.regimes import Regime
from service.core.hazards.statements import Statement
from service.outreach.hazard_label_sizes import (
    SIZES,
    SMALL,
    TO_3_L,
    TO_50_L,
    TO_500_L,
    HazardLabelSize,
    size_for,
)
from service.outreach.hazard_label_words import Basis, Maker
from service.outreach.hazard_labels import (
    HazardLabel,
    fold_out,
    hazard_label,
    hazard_label_svg,
    hazard_page_css,
)
from service.outreach.letter_widths import width_of
from tests.hazard_label_cases import ALLERGENS, LONGEST, STAIN, asked, label, longest

NOT_A_LABEL = "Not a label. Too much text for this size"


@pytest.mark.parametrize(
    ("litres", "key", "paper", "pictogram"),
    [
        ("0.125", "25x38", "25 × 38 mm", 10),
        ("0.126", "52x74", "52 × 74 mm", 16),
        ("3", "52x74", "52 × 74 mm", 16),
        ("3.001", "74x105", "74 × 105 mm", 23),
        ("50", "74x105", "74 × 105 mm", 23),
        ("50.001", "105x148", "105 × 148 mm", 32),
        ("500", "105x148", "105 × 148 mm", 32),
        ("500.001", "148x210", "148 × 210 mm", 46),
    ],
)
def test_the_table_of_the_law(litres: str, key: str, paper: str, pictogram: int) -> None:
    size = size_for(Decimal(litres) * 1000)
    assert (size.key, size.words) == (key, paper)
    assert size.side >= pictogram * 100
    # A fifteenth of the smallest label; on the small front, which is no whole label, 1 cm².
    least = 1000**2 if size.hint else size.short * size.long / 15
    assert size.side**2 >= least


def test_a_small_container_may_have_the_whole_label_too() -> None:
    assert size_for(Decimal(30), whole=True) is TO_3_L


def test_a_volume_nobody_told_is_asked_for() -> None:
    with pytest.raises(Invalid, match="how much the container holds"):
        hazard_label(asked(label(), None))
    with pytest.raises(Invalid, match="how much the container holds"):
        hazard_label(asked(label(), None), SMALL)
    assert hazard_label(asked(label(), None), TO_50_L).side == 2300


def test_a_size_below_the_law_is_refused() -> None:
    with pytest.raises(Invalid, match="at least 74 × 105 mm"):
        hazard_label(asked(label(), 5000), TO_3_L)


def sentences(of: Label, regime: Regime = Regime.EU_CLP) -> list[str]:
    codes = [one.code for one in of.hazard_statements]
    said = [filled(one, codes, liquid=True) for one in of.precautionary_statements]
    return [one.text for one in (*of.hazard_statements, *said, *of.supplemental)]


@pytest.mark.parametrize("classes", [(), ("Skin Sens. 1",), STAIN, LONGEST])
@pytest.mark.parametrize("regime", Regime)
@pytest.mark.parametrize("size", [one for one in SIZES.values() if not one.hint])
def test_all_of_it_or_a_paper_that_says_it_is_no_label(
    classes: tuple[str, ...], regime: Regime, size: HazardLabelSize
) -> None:
    of = label(classes, regime, ("toluene",) if classes else (), ALLERGENS if classes == LONGEST else ())
    made = hazard_label(asked(of, regime=regime), size)
    if made.fits:
        for sentence in (*sentences(of), "Walnut wiping stain", "K7Q F2B", "Elm Yard", "555 0100"):
            assert sentence in made.words
        assert [one.code for one in made.pictures] == list(of.pictograms)
        assert made.x_height >= 120
        if of.signal_word:
            assert any(line.words == of.signal_word.value for line in made.lines)
    else:
        assert NOT_A_LABEL in made.words and made.larger is not None
        assert f"Take the next size ({made.larger.words}) or a fold-out." in made.words
        assert not made.pictures
        assert not any(sentence in made.words for sentence in sentences(of))


def test_the_longest_text_needs_a_larger_paper_and_has_one() -> None:
    longest_asked = asked(longest())
    assert not hazard_label(longest_asked).fits
    assert not hazard_label(longest_asked, TO_50_L).fits
    assert hazard_label(longest_asked, TO_500_L).fits
    assert fold_out(longest_asked).size is TO_500_L


def test_more_than_the_largest_paper_holds_asks_for_a_fold_out() -> None:
    named = tuple(f"substance number {number} with a long chemical name" for number in range(150))
    made = fold_out(asked(label(LONGEST, contains=named)))
    assert not made.fits and made.larger is None
    assert made.words.endswith("(148 × 210 mm). Take a fold-out.")


def test_the_small_front_sends_the_reader_to_the_fold_out() -> None:
    small = asked(label(), 100)
    made = hazard_label(small)
    assert made.size is SMALL and made.fits and made.fold_out and made.side == 1000
    for words in (
        "Walnut wiping stain",
        "Warning",
        "Elm Yard Finishing",
        "555 0100",
        "All else: see fold-out.",
    ):
        assert words in made.words
    assert any("must hang on the container" in note for note in made.notes)
    whole = fold_out(small)
    assert whole.size is TO_3_L and whole.fits and not whole.fold_out


@pytest.mark.parametrize("regime", Regime)
@pytest.mark.parametrize("classes", [(), ("Skin Sens. 1",), STAIN])
@pytest.mark.parametrize("names", [(), ("Old varnish",), tuple(f"Powder {n}" for n in range(1, 8))])
@pytest.mark.parametrize("size", SIZES.values())
def test_what_is_not_complete_says_so_on_every_paper(
    classes: tuple[str, ...], names: tuple[str, ...], regime: Regime, size: HazardLabelSize
) -> None:
    of = label(classes, regime)
    volume = 100 if size.hint else 1000
    made = hazard_label(asked(of, volume, regime=regime, complete=False, not_known=names), size)
    assert "no class" not in made.words
    loud = " ".join(line.words for line in made.lines if line.white)
    if made.fits:
        assert loud.startswith("Not complete: ") and loud.endswith(" known. Treat as dangerous.")
        for name in names[:4]:
            assert name in loud
        assert ("and 3 more" in loud) == (len(names) == 7)
    else:
        assert loud.startswith(NOT_A_LABEL)
    white = [line for line in made.lines if line.white]
    for line in white:
        right = line.x + width_of(line.words, line.size, line.bold)
        assert any(bar.y < line.y < bar.y + bar.height and right <= bar.x + bar.width for bar in made.bars)


def test_unknown_hazards_alone_are_the_largest_words() -> None:
    made = hazard_label(asked(label(()), complete=False, not_known=("Old varnish",)))
    assert max(line.size for line in made.lines) == next(line.size for line in made.lines if line.white)


def test_examined_without_a_class_is_said_and_called_no_proof() -> None:
    said = "Worked out from its composition under EU CLP: no class. That does not mean harmless."
    assert said in hazard_label(asked(label(()))).words
    told = "Examined by the supplier under EU CLP: no class. That does not mean harmless."
    assert told in hazard_label(asked(label(()), basis=Basis.SUPPLIER)).words


@pytest.mark.parametrize("maker", [Maker("Elm Yard Finishing", "2 Elm Yard", "555 0100"), Maker("")])
@pytest.mark.parametrize("size", SIZES.values())
def test_a_line_never_ends_between_tel_and_its_number(maker: Maker, size: HazardLabelSize) -> None:
    volume = 100 if size is SMALL else 1000
    for of in (label(), label(regime=Regime.US_HCS), longest()):
        made = hazard_label(asked(of, volume, maker=maker), size)
        lines = [line.words for line in made.lines]
        assert not made.fits or any(f"Tel.\u00a0{maker.phone[:3] or '___'}" in line for line in lines), lines
        assert not any(line.endswith("Tel.") for line in lines)


def test_what_was_not_tested_on_the_whole_is_said_and_never_complete() -> None:
    one = "zinc dust (In contact with water releases flammable gases)"
    told = asked(label(()), complete=False, not_known=("zinc dust",), not_tested=(one,))
    made = hazard_label(told, TO_50_L)
    assert f"Not tested on the whole: {one}. Treat it as that." in made.words
    with pytest.raises(Invalid):
        asked(label(()), not_tested=(one,))


def test_oily_rags_are_said_beside_any_class_and_without_one() -> None:
    for of in (label(()), label(STAIN)):
        said = "Oily rags: rags with it can ignite by themselves."
        assert said in hazard_label(asked(of, oily=True), TO_50_L).words
        assert said not in hazard_label(asked(of), TO_50_L).words


def test_a_class_without_advice_sends_to_the_data_sheet() -> None:
    held = label(("Skin Sens. 1",))
    of = replace(held, without_advice=read_classes(["Flam. Liq. 3"]).hazards)
    assert "No advice is held here for" not in hazard_label(asked(held), TO_50_L).words
    made = hazard_label(asked(of), TO_50_L)
    assert made.fits and "No advice is held here for Flam. Liq. 3" in made.words


def test_unknown_parts_cannot_be_complete() -> None:
    with pytest.raises(Invalid, match="Old varnish"):
        asked(label(), complete=True, not_known=("Old varnish",))


def test_the_us_workplace_label_has_the_words_and_no_advice() -> None:
    of = label(STAIN, Regime.US_HCS)
    made = hazard_label(asked(of, regime=Regime.US_HCS, label_for=LabelFor.WORKPLACE))
    assert made.fits and made.side >= 1000
    for statement in of.hazard_statements:
        assert statement.text in made.words
    assert not any(one.text in made.words for one in of.precautionary_statements)
    assert "For use in this workplace only." in made.words
    with pytest.raises(Invalid, match="Only US law"):
        asked(label(), label_for=LabelFor.WORKPLACE)


def test_what_is_not_recorded_of_the_shop_is_a_line_to_write_on() -> None:
    made = hazard_label(asked(label(), maker=Maker("Elm Yard Finishing")))
    assert "Elm Yard Finishing, ____________________. Tel. ______________ " in f"{made.words} "


def test_where_the_classes_come_from() -> None:
    ours = hazard_label(asked(label())).words
    theirs = hazard_label(asked(label(), basis=Basis.SUPPLIER)).words
    assert "Calculated from the composition, EU CLP, 26 Nov 2026." in ours
    assert "From the supplier's data sheet, EU CLP, 26 Nov 2026." in theirs


def test_letters_the_eu_will_want_larger_are_noted() -> None:
    made = hazard_label(asked(label()))
    assert any("from 2028 the EU asks for 1.4 mm here" in note for note in made.notes) == (
        made.x_height < 140
    )
    assert not any("2028" in note for note in hazard_label(asked(label()), TO_500_L).notes)


def faults(made: HazardLabel) -> list[str]:
    """What reaches over the paper or over something else, by the counted widths."""
    found = []
    for one in made.pictures:
        if min(one.x, one.y) < 0 or one.x + one.box > made.width or one.y + one.box > made.height:
            found.append(f"{one} leaves the paper")
    for one, other in combinations(made.pictures, 2):
        if abs(one.x - other.x) + abs(one.y - other.y) < one.box:
            found.append(f"{one} and {other} meet")
    for line in made.lines:
        right, top, bottom = (
            line.x + width_of(line.words, line.size, line.bold),
            line.y - line.size,
            line.y + line.size // 4,
        )
        if line.x < 0 or right > made.width or top < 0 or bottom > made.height:
            found.append(f"{line} leaves the paper")
        for one in made.pictures:
            half, middle = one.box // 2, one.y + one.box // 2
            off = max(0, top - middle, middle - bottom)
            if off < half and right > one.x + off:
                found.append(f"{line} runs into {one}")
    for before, after in zip(made.lines, made.lines[1:], strict=False):
        if after.y - before.y < after.size:
            found.append(f"{before} and {after} meet")
    return found


WORDS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Zs", "Zl", "Zp")), min_size=1, max_size=60
)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.sampled_from(sorted(PICTOGRAM_WORDS)), unique=True, max_size=6),
    st.lists(st.lists(WORDS, min_size=1, max_size=12).map(" ".join), max_size=8),
    st.lists(WORDS, min_size=1, max_size=4).map(" ".join),
    st.sampled_from(sorted(SIZES)),
    st.booleans(),
)
def test_nothing_leaves_the_paper_or_meets_something_else(
    codes: list[str], texts: list[str], product: str, key: str, complete: bool
) -> None:
    statements = tuple(Statement("H300", text) for text in texts)
    of = Label(tuple(codes), Signal.DANGER if codes else None, statements, (), (), (), (), (), ())
    made = hazard_label(asked(of, 100, product=product, complete=complete), SIZES[key])
    assert faults(made) == []
    # Long words are parted, so letters are compared without the spaces between.
    said, wanted = made.words.replace(" ", ""), "".join(product.split())
    assert (
        (wanted in said and len(made.pictures) == len(codes))
        if made.fits
        else NOT_A_LABEL.replace(" ", "") in said
    )
    if made.fits and not SIZES[key].hint:
        assert all("".join(text.split()) in said for text in texts)


def test_words_of_the_shop_are_no_markup() -> None:
    made = hazard_label(asked(label(), product='<script>alert(1)</script> & "oil"'))
    drawn = hazard_label_svg(made)
    assert "<script" not in drawn
    picture = ET.fromstring(drawn)
    assert picture.attrib["width"] == f"{made.width / 100:g}mm"
    titles = [one.text for one in picture.iter("{http://www.w3.org/2000/svg}title")]
    assert titles == ["exclamation mark"]
    assert hazard_page_css(made).startswith(f"@page {{ size: {made.width / 100:g}mm {made.height / 100:g}mm;")
