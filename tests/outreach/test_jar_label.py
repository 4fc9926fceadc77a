"""The label of a jar: everything on it, nothing under the QR, no short label of what is not known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from service.core.findings import Invalid
from service.core.hazards.label import LabelFor
from service.core.hazards.regimes import Regime
from service.outreach.hazard_label_sizes import TO_3_L, TO_500_L
from service.outreach.hazard_label_words import HazardLabelAsked
from service.outreach.jar_label import JAR_SIZES, JarLabel, JarLabelAsked, jar_label, jar_label_svg
from service.outreach.letter_widths import width_of
from tests.hazard_label_cases import STAIN, asked, label, longest

STIR = "Stir before each dip; how fast it settles is not known."


def jar(hazard: HazardLabelAsked, **changed: Any) -> JarLabelAsked:
    told: dict[str, Any] = {
        "hazard": replace(hazard, code=""), "qr": "HTTPS://STORE.EXAMPLE/C/K7QF2B", "code": "K7Q F2B",
        "batch": "12", "made_on": date(2026, 11, 24), "made_by": "Ines Bakker",
        "use_first": "Use first. In date until 1 Sep 2027.", "stir": STIR,
    }  # fmt: skip
    return JarLabelAsked(**(told | changed))


def short(**changed: Any) -> HazardLabelAsked:
    us = label(STAIN, Regime.US_HCS)
    return asked(us, regime=Regime.US_HCS, label_for=LabelFor.WORKPLACE, **changed)


def apart(made: JarLabel) -> None:
    """No letter, bar or pictogram reaches into the QR, and all stand on the paper."""
    x, y, side, _, _ = made.qr
    assert x >= 0 and y >= 0 and x + side <= made.width and y + side <= made.height
    boxes = [
        (one.x, one.y - one.size, one.x + width_of(one.words, one.size, one.bold), one.y + one.size // 4)
        for one in made.lines
    ]
    boxes += [(one.x, one.y, one.x + one.box, one.y + one.box) for one in made.pictures]
    boxes += [(bar.x, bar.y, bar.x + bar.width, bar.y + bar.height) for bar in made.bars]
    for left, top, right, bottom in boxes:
        assert left >= 0 and top >= 0 and right <= made.width and bottom <= made.height
        assert right <= x or left >= x + side or bottom <= y or top >= y + side, (left, top, right, bottom)


@pytest.mark.parametrize("key", JAR_SIZES)
@pytest.mark.parametrize("hazard", [asked(label(STAIN)), asked(longest()), short(), asked(label())])
def test_nothing_overlaps_at_any_size(hazard: HazardLabelAsked, key: str) -> None:
    made = jar_label(jar(hazard), JAR_SIZES[key])
    assert {made.width, made.height} == {JAR_SIZES[key].short, JAR_SIZES[key].long}
    apart(made)
    assert made.fits is ("Not a label." not in made.words)


def test_a_workplace_jar_says_all_that_a_workplace_container_must() -> None:
    made = jar_label(jar(short(oily=True)), TO_500_L)
    for words in (
        "Walnut wiping stain", "Batch 12", "made 24 Nov 2026 by Ines Bakker", "Danger", "Flammable liquid",
        "Use first. In date until 1 Sep 2027.", "Oily rags: rags with it can ignite by themselves.", STIR,
        "K7Q F2B", "For use in this workplace only.", "Elm Yard Finishing",
    ):  # fmt: skip
        assert words in made.words, words
    assert len(made.pictures) == 3 and "Keep out of reach" not in made.words


def test_the_smallest_that_everything_fits_on_is_taken() -> None:
    mild = asked(label(regime=Regime.US_HCS), 250, regime=Regime.US_HCS, label_for=LabelFor.WORKPLACE)
    assert jar_label(jar(mild)).size.key == TO_3_L.key
    full = jar_label(jar(asked(longest())))
    assert full.fits and full.size.long > TO_3_L.long


def test_what_is_not_known_is_said_and_gets_no_short_label() -> None:
    lacking = asked(label(STAIN), complete=False, not_known=("Old varnish",))
    made = jar_label(jar(lacking, made_on=None), TO_500_L)
    assert "Not complete: hazards of Old varnish not known. Treat as dangerous." in made.words
    assert "day it was made not known" in made.words and made.bars
    with pytest.raises(Invalid) as caught:
        jar(short(complete=False, not_known=("Old varnish",)))
    assert set(caught.value.errors) == {"use"}


def test_a_size_below_the_law_or_no_volume_is_refused() -> None:
    with pytest.raises(Invalid):
        jar_label(jar(asked(label(), 20_000)), TO_3_L)
    with pytest.raises(Invalid):
        jar_label(jar(asked(label(), None)))
    assert jar_label(jar(asked(label(), None)), TO_500_L).fits


def test_words_on_the_picture_are_escaped() -> None:
    drawn = jar_label_svg(jar_label(jar(asked(label(), product="<b>Stain</b> & co")), TO_500_L))
    assert "<b>" not in drawn and "&lt;b&gt;Stain" in drawn and "<title>QR of its page</title>" in drawn
