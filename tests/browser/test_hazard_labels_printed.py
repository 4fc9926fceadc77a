"""Hazard labels printed by a real browser on paper of their own size, and measured with a ruler of dots."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from service.core.hazards.filled_gaps import filled
from service.core.hazards.label import LabelFor
from service.core.hazards.regimes import Regime
from service.outreach.hazard_label_sizes import ABOVE, SIZES, TO_50_L, TO_500_L
from service.outreach.hazard_label_words import HazardLabelAsked
from service.outreach.hazard_labels import HazardLabel, hazard_label, hazard_label_svg, hazard_page_css
from service.outreach.letter_widths import FAMILY, X_HEIGHT, width_of
from tests.hazard_label_cases import STAIN, asked, label, longest
from tests.house.tree import ROOT

DPI = 600
LABELS_CSS = (ROOT / "service" / "web" / "static" / "labels.css").read_text(encoding="utf-8")
DOT = 25.4 / DPI


@dataclass(frozen=True)
class Paper:
    """A printed label: its sides in mm, its dots, its text, and each letter with its box in mm from below."""

    sides: tuple[float, float]
    dots: Image.Image
    text: str
    letters: list[tuple[str, tuple[float, float, float, float]]]


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    yield page
    page.close()


def paper(page: Page, made: HazardLabel, family: str = FAMILY) -> Paper:
    page.set_content(
        f"<style>{hazard_page_css(made)} body{{margin:0}} {LABELS_CSS}</style>"
        + hazard_label_svg(made).replace(FAMILY, family)
    )
    document = pypdfium2.PdfDocument(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    assert len(document) == 1
    sheet = document[0]
    words = sheet.get_textpage()
    text = words.get_text_range()
    letters = []
    for at in range(words.count_chars()):
        letter = words.get_text_range(at, 1)
        if letter.strip():
            left, bottom, right, top = (side / 72 * 25.4 for side in words.get_charbox(at))
            letters.append((letter, (left, bottom, right, top)))
    width, height = sheet.get_size()
    found = Paper(
        (width / 72 * 25.4, height / 72 * 25.4),
        sheet.render(scale=DPI / 72).to_pil().convert("RGB"),
        re.sub(r"\s+", " ", text),
        letters,
    )
    document.close()
    return found


def is_red(dot: object) -> bool:
    return isinstance(dot, tuple) and dot[0] > 180 and dot[1] < 90 and dot[2] < 90


def sides_of_pictograms(printed: Paper, made: HazardLabel) -> list[float]:
    """The side of each square in mm, from its left to its right point and from its upper to its lower one."""
    found = []
    for one in made.pictures:
        near = 0.25
        left, top = one.x / 100 - near, one.y / 100 - near
        reach = one.box / 100 + 2 * near
        middle_x, middle_y = (one.x + one.box / 2) / 100, (one.y + one.box / 2) / 100
        wide = [
            x for x in range(int(left / DOT), int((left + reach) / DOT))
            if is_red(printed.dots.getpixel((x, round(middle_y / DOT))))
        ]  # fmt: skip
        high = [
            y for y in range(int(top / DOT), int((top + reach) / DOT))
            if is_red(printed.dots.getpixel((round(middle_x / DOT), y)))
        ]  # fmt: skip
        found += [(max(line) - min(line) + 1) * DOT / 2**0.5 for line in (wide, high)]
    return found


CASES: dict[str, tuple[HazardLabelAsked, str | None, float]] = {
    "the longest text for a litre, on the third paper": (asked(longest()), TO_500_L.key, 16),
    "the longest text for 20 litres": (asked(longest(), 20_000), TO_500_L.key, 23),
    "the longest text for 200 litres": (asked(longest(), 200_000), ABOVE.key, 32),
    "the longest text for 1000 litres": (asked(longest(), 1_000_000), ABOVE.key, 46),
    "a stain of a litre": (asked(label(STAIN)), TO_50_L.key, 16),
    "an everyday litre": (asked(label()), None, 16),
    "the front of a small bottle": (asked(label(), 100), None, 10),
    "not complete": (asked(label(STAIN), complete=False, not_known=("Old varnish",)), TO_50_L.key, 16),
    "a US workplace jar": (
        asked(longest(Regime.US_HCS), regime=Regime.US_HCS, label_for=LabelFor.WORKPLACE),
        TO_50_L.key,
        10,
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_on_paper_the_pictograms_are_large_enough_and_nothing_is_lost(page: Page, case: str) -> None:
    wanted, key, least_side = CASES[case]
    made = hazard_label(wanted, SIZES[key] if key else None)
    assert made.fits
    printed = paper(page, made)
    assert printed.sides == pytest.approx((made.width / 100, made.height / 100), abs=0.4)
    sides = sides_of_pictograms(printed, made)
    assert len(sides) == 2 * len(wanted.label.pictograms)
    # A dot at each end is mixed from red and white and does not count as red.
    assert min(sides) >= least_side - 2 * DOT, sides
    for letter, (left, bottom, right, top) in printed.letters:
        inside = (
            left > 0.5 and bottom > 0.5 and right < made.width / 100 - 0.5 and top < made.height / 100 - 0.5
        )
        assert inside, (letter, left, bottom, right, top)
    assert lowest_letter(printed) >= 1.19
    if not made.size.hint:
        assert_whole(printed.text, wanted)


def assert_whole(text: str, wanted: HazardLabelAsked) -> None:
    of = wanted.label
    codes = [one.code for one in of.hazard_statements]
    whole = [one.text for one in (*of.hazard_statements, *of.supplemental)]
    if wanted.label_for is LabelFor.SUPPLY:
        whole += [filled(one, codes, liquid=True).text for one in of.precautionary_statements]
    # A hyphen at the end of a printed line is read back as a sign of its own.
    bare = re.sub(r"[\s\ufffe\u00ad-]", "", text)
    for sentence in [*whole, wanted.product, wanted.maker.phone]:
        assert re.sub(r"[\s-]", "", sentence) in bare, sentence


def lowest_letter(printed: Paper) -> float:
    """The height of a small x or its like in mm."""
    return min(top - bottom for letter, (_, bottom, _, top) in printed.letters if letter in "xvzur")


def test_letters_of_another_family_are_as_high(page: Page) -> None:
    made = hazard_label(asked(label()))
    assert made.x_height < 125
    assert f"font-size-adjust: {X_HEIGHT};" in LABELS_CSS
    assert lowest_letter(paper(page, made, "DejaVu Serif")) >= 1.19


def test_the_longest_text_is_as_long_as_it_gets() -> None:
    of = longest()
    assert len(of.hazard_statements) == 9
    assert len(of.precautionary_statements) >= 8
    assert "cobalt" in of.supplemental[0].text and of.supplemental[0].code == "EUH208"
    assert len(of.pictograms) == 5


def test_too_much_text_is_printed_as_no_label(page: Page) -> None:
    printed = paper(page, hazard_label(asked(longest())))
    assert "Not a label. Too much text for this size (52 × 74 mm)." in printed.text
    assert not any(is_red(dot) for _, dot in printed.dots.getcolors(2**20) or [])


def test_counted_widths_are_never_less_than_drawn_ones(page: Page) -> None:
    made = hazard_label(asked(longest(), 200_000, volume="200 l"), ABOVE)
    page.set_content(hazard_label_svg(made))
    drawn = page.locator("svg.hazard-label > text").evaluate_all(
        "all => all.map(one => one.getComputedTextLength())"
    )
    assert len(drawn) == len(made.lines)
    for width, line in zip(drawn, made.lines, strict=True):
        counted = width_of(line.words, line.size, line.bold)
        assert width <= counted + line.size / 10, line.words
        assert width > counted * 0.8, line.words


def test_the_unknown_is_loud_on_paper(page: Page) -> None:
    made = hazard_label(asked(label(()), complete=False, not_known=("Old varnish",), volume_ml=Decimal(500)))
    printed = paper(page, made)
    assert "Not complete: hazards of Old varnish not known. Treat as dangerous." in printed.text
    bars = printed.dots.convert("L").point(lambda level: 255 if level < 100 else 0)
    share = bars.histogram()[255] / (bars.width * bars.height)
    assert share > 0.1, share
