"""The three daily jobs by clicks and typing alone: rags put away, stock checked and mixed, ageing met.

Each story plays on a demo shop of its own, since it changes the book.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from service.core.containers import Standing
from tests.browser.addresses import code_of
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import WIDTHS, act, container, draw, keeper, menu, press, seen

OVERDUE = re.compile("overdue")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def put_rags_away(page: Page) -> None:
    """From the header to the can, and out of the building with the hauler."""
    page.get_by_role("link", name="Put them away").first.click()
    page.get_by_role("button", name="In the rag can now").click()
    expect(page.get_by_text("Contained").first).to_be_visible()
    menu(page, "Rags")
    press(page, "The whole can left")
    page.get_by_role("link", name=re.compile("” left$")).first.click()
    expect(page.get_by_text("Rag load 3").first).to_be_visible()
    page.get_by_label("The hauler took them").check()
    page.get_by_label("Name of the hauler, municipality or laundry").fill("Bell Lane Haulage")
    page.get_by_label("Just now").check()
    page.get_by_role("button", name="It left, with all of this").click()
    expect(page.get_by_text("1 rag load left the building")).to_be_visible()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_the_rags_of_last_night(width: str, browser: Browser, server: LiveServer) -> None:
    """Overdue rags stand in every header and block the oil; handed over, the oil is free again."""
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    notice = page.get_by_label("Oily rags").filter(has_text=OVERDUE)
    for words in ("Today", "Store", "Recipes", "Records", "Words"):
        menu(page, words)
        expect(notice).to_be_visible()
    oil = code_of(server, Standing.IN_DATE, "Boiled linseed oil")
    draw(page, oil, "50 ml")
    expect(page.get_by_text("Nothing was booked.")).to_be_visible()
    expect(seen(page, re.compile(r"Rag load 3 .* overdue; Ivo Lindgate owes it"))).to_be_visible()
    assert not page_faults(page)
    press(page, re.compile("Put the rags away"))
    page.wait_for_url(re.compile(r".*/rags.*"))
    put_rags_away(page)
    for words in ("Today", "Store", "Rags"):
        menu(page, words)
        expect(notice).to_have_count(0)
    draw(page, oil, "50 ml")
    expect(seen(page, re.compile("Drew 50 ml"))).to_be_visible()
    menu(page, "Rags")
    press(page, re.compile("Rag log"))
    expect(seen(page, re.compile("Bell Lane Haulage"))).to_be_visible()
    press(page, "Day sheet")
    page.get_by_role("button", name=re.compile("Write the head down")).click()
    expect(seen(page, re.compile("written down"))).to_be_visible()
    page.emulate_media(media="print")
    assert not page.locator("header.top").is_visible()
    assert seen(page, re.compile("Bell Lane Haulage")).is_visible()
    assert len(page.pdf()) > 5_000
    assert not heard.faults
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_checked_before_mixing(width: str, browser: Browser, server: LiveServer) -> None:
    """The check says what to take from where and what is short; a start draws everything."""
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    put_rags_away(page)
    menu(page, "Recipes")
    press(page, "Hall panelling, whole room")
    page.get_by_role("button", name="Check the stock").click()
    # The demo writes this line in grams: 900 g, of which 180 g and about 100 g are in the house.
    expect(seen(page, "620 g of Burnt umber in japan is missing; 900 g is needed.")).to_be_visible()
    assert not page_faults(page)
    assert not page.get_by_role("link", name="Start now").count()
    menu(page, "Recipes")
    press(page, "Walnut glaze, one bench")
    page.get_by_label("How much do you want to make?").fill("1/2 time")
    page.get_by_role("button", name="Check the stock").click()
    expect(page.get_by_role("heading", name="Take from the shelf")).to_be_visible()
    press(page, "Start now")
    page.get_by_label("A new job for this").check()
    page.get_by_label("About to do it").check()
    page.get_by_role("button", name="Start the batch").click()
    page.wait_for_url(re.compile(r".*/bench/\d+.*"))
    expect(seen(page, "125 ml")).to_be_visible()
    assert not page_faults(page)
    menu(page, "Records")
    press(page, "Ledger")
    expect(seen(page, "\N{MINUS SIGN}125 ml")).to_be_visible()
    assert not heard.faults
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_warned_of_ageing_colours(width: str, browser: Browser, server: LiveServer) -> None:
    """An alert leads to the container; a past one refuses a draw, says why, and is thrown away."""
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    menu(page, "Alerts")
    aged = code_of(server, Standing.LOOK_FIRST)
    page.locator(f"main a[href='/containers/{aged}/check']").first.click()
    look = page.url
    page.get_by_label(re.compile("^Sound")).check()
    page.get_by_label("I look at it now").check()
    page.get_by_role("button", name="Write it down").click()
    # It is sealed: nobody sees through a lid.
    expect(page.get_by_text("Write its opening down first").first).to_be_visible()
    page.goto(look.replace("/check", "/open"))
    page.get_by_label("Now", exact=True).check()
    page.get_by_label("I am about to do it").check()
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url(re.compile(rf".*/containers/{aged}$"))
    page.goto(look)
    page.get_by_label(re.compile("^Sound")).check()
    page.get_by_label("I look at it now").check()
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url(re.compile(rf".*/containers/{aged}$"))
    past = code_of(server, Standing.PAST, "Gum turpentine")
    draw(page, past, "20 ml")
    expect(seen(page, re.compile("It is past its date"))).to_be_visible()
    expect(page.get_by_text("Nothing was booked.")).to_be_visible()
    assert not page_faults(page)
    menu(page, "Alerts")
    discard = page.locator(f"main a[href='/containers/{past}/discard']")
    discard.first.click()
    page.get_by_label("Handed to the hauler").check()
    page.get_by_label(re.compile("All of it, with the container")).check()
    page.get_by_label("I am about to do it").check()
    page.get_by_role("button", name="Throw it away").click()
    page.wait_for_url(re.compile(rf".*/containers/{past}$"))
    menu(page, "Alerts")
    expect(discard).to_have_count(0)
    expect(page.locator(f"main a[href='/containers/{aged}/check']")).to_have_count(0)
    assert not heard.faults
    context.close()


def test_the_rags_without_script(browser: Browser, server: LiveServer) -> None:
    """The wall tablet after a bad update: no script at all, and the rags are still put away."""
    context, page = keeper(browser, server, java_script_enabled=False, **DESKTOP)
    expect(page.get_by_label("Oily rags").filter(has_text=OVERDUE)).to_be_visible()
    put_rags_away(page)
    menu(page, "Today")
    expect(page.get_by_text(OVERDUE)).to_have_count(0)
    context.close()


def test_what_can_mean_two_things_is_asked(browser: Browser, server: LiveServer) -> None:
    """Two ounces of a liquid: the readings are buttons, and the chosen one is booked."""
    context, page = keeper(browser, server, **PHONE)
    thinner = code_of(server, Standing.IN_DATE, "Denatured alcohol")
    draw(page, thinner, "2 oz")
    reading = page.get_by_role("button", name=re.compile("a US fluid ounce"))
    expect(reading).to_be_visible()
    assert not page_faults(page)
    reading.click()
    page.wait_for_url(re.compile(rf".*/containers/{thinner}$"))
    # They read as they were meant; of 29.573 53 ml each (NIST Special Publication 811, appendix B.8).
    expect(seen(page, re.compile(r"Drew 2 US fl oz"))).to_be_visible()
    # The choice is remembered: it is not asked twice.
    draw(page, thinner, "2 oz")
    page.wait_for_url(re.compile(rf".*/containers/{thinner}$"))
    context.close()


def test_a_container_past_its_date_offers_the_discard_first(browser: Browser, server: LiveServer) -> None:
    context, page = keeper(browser, server, **PHONE)
    container(page, code_of(server, Standing.PAST))
    expect(page.get_by_role("main").locator(".acts a").first).to_have_text("Throw it away")
    act(page, "Look at its condition")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Look at its condition")
    context.close()
