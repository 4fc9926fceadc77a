"""From a board coloured by eye to a labelled jar that can be made again, by clicks and typing alone.

The figures that the bench shows are asked of the calculators as well, which know nothing of the book.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from playwright.sync_api import Browser, Page, expect

from service.core.containers import Standing
from service.core.shelf_codes import show_code
from tests.browser.addresses import code_of
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.test_daily_jobs import put_rags_away
from tests.browser.walking import WIDTHS, keeper, menu, press, seen

SPIRITS_G_ML = 0.78
"""The density of the demo's mineral spirits, as its sheet says."""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def spaced(words: str) -> re.Pattern[str]:
    """These words with any kind of space between them."""
    return re.compile(r"\s+".join(map(re.escape, words.split())))


def add(page: Page, code: str, amount: str) -> None:
    page.get_by_label("Container code").fill(show_code(code))
    page.get_by_label("How much you put in").fill(amount)
    page.get_by_role("button", name="Put it in").click()
    expect(page.locator("main .flash")).to_contain_text(spaced(f"You put in {amount} of"))


def begin_sample(page: Page) -> None:
    menu(page, "Bench")
    press(page, "Colour samples")
    page.get_by_role("link", name="Begin a colour sample").click()
    page.get_by_label("What is to be matched?").fill("Lid of the oak chest")
    page.get_by_label("Wood of the board").fill("oak")
    page.get_by_label("Last grit").fill("P180")
    page.get_by_label("Bare", exact=True).check()
    page.get_by_label(re.compile("Class: glazing")).check()
    assert not page_faults(page)
    page.get_by_role("button", name="Begin at the bench").click()
    page.wait_for_url(re.compile(r".*/bench/\d+.*"))


def figure(page: Page, name: str) -> str:
    """What stands beside a name on the bench's list of what an addition changed."""
    row = page.locator("section.change dl.facts > div").filter(has=page.get_by_text(name, exact=True)).first
    return row.locator("dd").inner_text().splitlines()[0].replace("\u00a0", " ")


def asked(page: Page, server: LiveServer, token: str, call: str, body: dict[str, Any]) -> dict[str, Any]:
    headers = {"authorization": f"Bearer {token}"}
    answer = page.request.post(f"{server.base}/api/calc/{call}", data=body, headers=headers)
    assert answer.status == 200, answer.text()
    said: dict[str, Any] = answer.json()
    return said


def as_calculated(page: Page, server: LiveServer, token: str, spirits_ml: float, paste_g: float) -> None:
    """The bench says of the whole what the calculators say of its parts.

    Of the paste the book knows 40 % oil; the rest is anything from nothing to all of it pigment.
    """
    amount = {"amount": f"{spirits_ml} ml", "to": "g", "density_g_ml": SPIRITS_G_ML, "state": "liquid"}
    spirits_g = float(asked(page, server, token, "convert", amount)["value"])
    assert figure(page, "Weighs") == f"{spirits_g + paste_g:.1f} g"
    solvent = {"mass_g": spirits_g, "density_g_ml": SPIRITS_G_ML}
    ends = []
    for pigment in (0, 60):
        paste = {
            "mass_g": paste_g, "pigment_percent": pigment, "oil_percent": 40,
            "volatile_percent": 60 - pigment,
        }  # fmt: skip
        film = asked(page, server, token, "film", {"pastes": [paste], "solvents": [solvent]})
        ends.append(film["pigment_mass_percent"])
    shown = [float(text) for text in re.findall(r"[\d.]+", figure(page, "Pigment by weight"))]
    assert shown == pytest.approx(ends, abs=0.006)


def printed_label(page: Page, where: str) -> tuple[str, list[str]]:
    """The text of the printed page of labels at an address, and what a decoder reads in it."""
    # A click does not wait for the page behind its link; paper of a page half come is blank.
    page.wait_for_url(re.compile(where))
    page.emulate_media(media="print")
    document = pypdfium2.PdfDocument(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    text = "\n".join(sheet.get_textpage().get_text_range() for sheet in document)
    pictures = [sheet.render(scale=300 / 72).to_pil() for sheet in document]
    document.close()
    page.emulate_media(media="screen")
    return text, [code.text for picture in pictures for code in zxingcpp.read_barcodes(picture)]


def judge_sample(page: Page) -> None:
    page.get_by_role("link", name="Finish the batch").click()
    page.get_by_label("How much it made in all").fill("31 ml")
    page.get_by_label("Onto the work").check()
    page.get_by_label("More about the rest").fill("onto the board")
    page.get_by_role("button", name="Finish the batch").click()
    menu(page, "Bench")
    press(page, "Colour samples")
    press(page, "Lid of the oak chest")
    page.get_by_label("It matches").check()
    page.get_by_role("button", name="Write the verdict down").click()
    expect(seen(page, "It matches")).to_be_visible()


def print_labels(page: Page) -> None:
    """The shelf label of the jar, and its own with what is in it."""
    jar = page.get_by_role("main").locator("h2:text-is('Jars') ~ ul .code").first.inner_text()
    press(page, "Print their labels")
    text, codes = printed_label(page, r".*/labels/print.*")
    assert "Lid of the oak chest" in text and jar in text.replace("\u00a0", " ")
    assert any(code.endswith(jar.replace(" ", "").replace("\u00a0", "")) for code in codes), codes
    page.go_back()
    page.get_by_role("link", name=spaced(f"Jar label of {jar}")).first.click()
    text, codes = printed_label(page, r".*/jar-label$")
    # The paste has no flash point in the book, and the label says that not everything is known.
    for words in ("Lid of the oak chest", "Danger", "May cause cancer", "Not complete", "rags"):
        assert words in text, f"{words}: {text}"
    assert any(jar.replace(" ", "").replace("\u00a0", "") in code for code in codes), codes


def too_small(browser: Browser, server: LiveServer, page: Page, addresses: list[str]) -> list[str]:
    """What is less than 44 px high to press on a narrow screen that says it has a mouse."""
    narrow = browser.new_context(
        viewport={"width": 390, "height": 844}, storage_state=page.context.storage_state()
    )
    looked, found = narrow.new_page(), []
    for address in addresses:
        looked.goto(server.base + address)
        small: list[str] = looked.evaluate(
            """() => [...document.querySelectorAll("main a, main button, main summary")]
               .filter(e => e.checkVisibility() && e.getBoundingClientRect().width > 2)
               .filter(e => e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 90))"""
        )
        found += [f"{address}: {one}" for one in small]
    narrow.close()
    return found


@pytest.mark.parametrize("width", list(WIDTHS))
def test_a_sample_becomes_a_labelled_jar(width: str, browser: Browser, server: LiveServer) -> None:
    """Spoon by spoon, one taken back, judged; four times of it from the stock; a jar and its label."""
    token = server.command("token", "new", "--role", "keeper", "--label", "calculators").strip()
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    put_rags_away(page)
    spirits = code_of(server, Standing.IN_DATE, "Mineral spirits", 200_000)
    paste = code_of(server, Standing.IN_DATE, "Burnt umber in oil", 20_000)

    begin_sample(page)
    add(page, spirits, "30 ml")
    expect(seen(page, "Flam. Liq. 3 H226.")).to_be_visible()
    add(page, paste, "5 g")
    expect(seen(page, re.compile("rags with it can ignite by themselves"))).to_be_visible()
    as_calculated(page, server, token, 30, 5)
    assert not page_faults(page)

    page.get_by_role("link", name="Open it, or take it back").click()
    page.get_by_label("It never went in like that").check()
    page.get_by_label("Why is it taken back?").fill("typed 5 for 2")
    page.get_by_role("button", name="Take it back").click()
    back = page.locator("main .flash")
    expect(back).to_contain_text(spaced("Took back 5 g of Burnt umber in oil"))
    expect(back).to_contain_text("stays")  # the load of rags does
    expect(seen(page, re.compile("Taking back 5.g of Burnt umber in oil.* changed this"))).to_be_visible()
    assert figure(page, "Weighs") == f"{30 * SPIRITS_G_ML:.1f} g"
    add(page, paste, "2 g")
    as_calculated(page, server, token, 30, 2)

    judge_sample(page)
    page.get_by_label("How much of it?").fill("4 times")
    page.get_by_role("button", name="Check the stock for it").click()
    expect(seen(page, "120 ml")).to_be_visible()
    expect(seen(page, "8 g")).to_be_visible()
    press(page, "Start now")
    page.get_by_label(re.compile("Class: glazing")).check()
    page.get_by_label("About to do it").check()
    page.get_by_role("button", name="Start the batch").click()
    page.wait_for_url(re.compile(r".*/bench/\d+.*"))
    as_calculated(page, server, token, 120, 8)
    running = page.url.removeprefix(server.base).partition("?")[0]
    shown = ["/bench", running, f"{running}/as-made", f"{running}/finish", "/samples", "/samples/1"]
    assert too_small(browser, server, page, shown) == []

    page.get_by_role("link", name="Finish the batch").click()
    page.get_by_label("How much is in it").fill("120 ml")
    page.get_by_label("What the jar could hold").fill("250 ml")
    page.get_by_label("More about the rest").fill("strainer")
    expect(seen(page, re.compile("next morning"))).to_be_visible()
    assert not page_faults(page)
    page.get_by_role("button", name="Finish the batch").click()
    print_labels(page)
    assert not heard.faults
    context.close()
