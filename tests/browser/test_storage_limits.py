"""Looking at a full cabinet and taking in one can too many, by clicks and typing, at two widths."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import WIDTHS, keeper, menu, press, seen


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def look_at_the_cabinet(page: Page) -> None:
    menu(page, "Store")
    press(page, "Storage limits")
    expect(page.get_by_role("heading", name="Storage limits")).to_be_visible()
    bar = page.get_by_role("img", name=re.compile("the limit is 60 gal.*near"))
    expect(bar).to_be_visible()
    line = page.locator("li.fill").filter(has=bar)
    line.get_by_text("How the figure came about").click()
    expect(line.get_by_text(re.compile("Spray gun cleaner, 10 containers")).first).to_be_attached()
    expect(seen(page, re.compile("fire code official"))).to_be_visible()
    assert not page_faults(page)


def take_in_too_much(page: Page) -> None:
    menu(page, "Receive")
    press(page, "Spray gun cleaner")
    page.get_by_label("How many containers alike?").fill("3")
    page.get_by_label("How much in each?").fill("5 gal")
    page.get_by_label("What does each hold when full?").fill("5 gal")
    page.get_by_label("What is each made of?").select_option(label="metal can")
    page.get_by_role("button", name="Next").click()
    page.get_by_role("button", name="Next").click()
    page.get_by_label("Place").select_option(label="Flammables cabinet, Store room, Workshop")
    page.get_by_role("button", name="Next").click()
    page.get_by_label("Sealed", exact=False).first.check()
    page.get_by_role("button", name="Take it in").click()
    expect(page.get_by_role("heading", name="It would go over a storage limit there")).to_be_visible()
    assert not page_faults(page)
    why = page.get_by_label(re.compile("If it must come in there all the same"))
    why.fill("The lorry cannot take it back")
    page.get_by_role("button", name="Next").click()
    page.get_by_role("button", name="Take it in").click()
    expect(seen(page, re.compile("Took in 3 containers of Spray gun cleaner"))).to_be_visible()
    menu(page, "Store")
    press(page, "Storage limits")
    expect(page.get_by_role("heading", name="What to move where")).to_be_visible()
    assert not page_faults(page)


@pytest.mark.parametrize("width", list(WIDTHS))
def test_a_cabinet_nearly_full_and_then_too_full(width: str, browser: Browser, server: LiveServer) -> None:
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    look_at_the_cabinet(page)
    take_in_too_much(page)
    assert not [fault for fault in heard.faults if "409" not in fault]
    context.close()
