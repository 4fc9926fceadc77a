"""The nine pictograms as a browser draws them at 10 mm and 300 dots to the inch, looked at dot by dot."""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import combinations

import pytest
from PIL import Image
from playwright.sync_api import Browser

from service.core.hazards.label import PICTOGRAM_WORDS
from service.outreach.pictograms import pictogram_svg

DOTS = 118
"""10 mm from point to point: smaller than any label prints them, whose squares are 10 mm a side."""
NINE = sorted(PICTOGRAM_WORDS)
PAPER = (0, 255, 0)
_MIDDLE = (DOTS - 1) / 2


@pytest.fixture(scope="module")
def drawn(browser: Browser) -> Iterator[dict[str, Image.Image]]:
    """Every picture on a green ground, which none of them has a colour of."""
    context = browser.new_context(viewport={"width": DOTS, "height": DOTS * len(NINE)}, device_scale_factor=1)
    page = context.new_page()
    cells = "".join(f"<div>{pictogram_svg(code)}</div>" for code in NINE)
    page.set_content(
        f"<style>body{{margin:0;background:rgb{PAPER}}}div,svg{{display:block;width:{DOTS}px;height:{DOTS}px}}"
        f"</style>{cells}"
    )
    whole = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    context.close()
    yield {code: whole.crop((0, at * DOTS, DOTS, (at + 1) * DOTS)) for at, code in enumerate(NINE)}


def dots(picture: Image.Image, least: float, most: float) -> list[tuple[int, int, int]]:
    """The colours between two diamonds around the middle, in parts of the way from it to the red points."""
    found = []
    for y in range(DOTS):
        for x in range(DOTS):
            away = (abs(x - _MIDDLE) + abs(y - _MIDDLE)) / (DOTS / 2)
            if least <= away < most:
                dot = picture.getpixel((x, y))
                assert isinstance(dot, tuple)
                found.append((dot[0], dot[1], dot[2]))
    return found


def dark(picture: Image.Image) -> list[bool]:
    return [max(dot) < 128 for dot in dots(picture, 0, 0.84)]


@pytest.mark.parametrize("code", NINE)
def test_a_red_frame_with_nothing_outside(drawn: dict[str, Image.Image], code: str) -> None:
    assert set(dots(drawn[code], 1.02, 3)) == {PAPER}
    frame = dots(drawn[code], 0.88, 0.97)
    assert all(red > 200 and green < 60 and blue < 60 for red, green, blue in frame), set(frame)


@pytest.mark.parametrize("code", NINE)
def test_a_black_symbol_on_white_that_keeps_clear_of_the_frame(
    drawn: dict[str, Image.Image], code: str
) -> None:
    inside = dots(drawn[code], 0, 0.82)
    assert all(max(dot) - min(dot) <= 2 for dot in inside), "a colour stands in the white field"
    clear = dots(drawn[code], 0.815, 0.835)
    assert len(clear) > 150
    assert all(min(dot) > 200 for dot in clear), "the symbol comes too near to the frame"
    share = sum(max(dot) < 64 for dot in inside) / len(inside)
    white = sum(min(dot) > 230 for dot in inside) / len(inside)
    assert 0.10 < share < 0.50, share
    assert white > 0.40, white


@pytest.mark.parametrize(("one", "other"), list(combinations(NINE, 2)))
def test_no_two_look_alike(drawn: dict[str, Image.Image], one: str, other: str) -> None:
    """Of the dots that are black in either, at least three in ten are black in one alone."""
    pairs = list(zip(dark(drawn[one]), dark(drawn[other]), strict=True))
    either = sum(a or b for a, b in pairs)
    alone = sum(a != b for a, b in pairs)
    assert alone / either > 0.3, alone / either


@pytest.mark.parametrize("code", NINE)
def test_each_is_named_for_those_who_hear_it(browser: Browser, code: str) -> None:
    page = browser.new_page()
    page.set_content(pictogram_svg(code, 16))
    assert page.get_by_role("img", name=PICTOGRAM_WORDS[code], exact=True).count() == 1
    box = page.locator("svg").bounding_box()
    page.close()
    assert box is not None
    assert box["width"] == pytest.approx(16 * 2**0.5 / 25.4 * 96, abs=0.1)
