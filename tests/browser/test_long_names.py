"""A name of one long word breaks where it must: no page of a term is wider than a phone or the paper."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from service.clock import now_utc
from service.core.months import say_date
from tests.browser.live_server import LiveServer, start_server
from tests.browser.walking import WIDTHS, keeper, menu, press, seen

NAME = "W" * 120
PAPER, ACROSS = 718, 1031
"""Pixels between the margins of an A4 page upright, and of one across, as the plan and its list print."""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def plan_it(page: Page) -> None:
    menu(page, "Term")
    press(page, "Running term (demo)")
    press(page, "Plan a job")
    page.get_by_label("Name of the job").fill(NAME)
    page.get_by_label("Recipe", exact=True).select_option(label="Shellac sealer, about a 2 lb cut")
    page.get_by_label("For how many people?").fill("200")
    page.get_by_label("How much each?").fill("50 ml")
    page.get_by_label("First day").fill(say_date(now_utc().date() + timedelta(days=21)))
    page.get_by_role("button", name="Plan it").click()
    expect(seen(page, re.compile("^Planned W"))).to_be_visible()


def sold_by(page: Page) -> None:
    press(page, "Shellac flakes, dewaxed")
    press(page, "Packs it is sold in")
    page.get_by_label("What is in one?").fill("2.5 kg")
    page.get_by_label("Supplier").fill("M" * 120)
    page.get_by_role("button", name="Write it down").click()
    expect(seen(page, "Wrote down the pack of 2.5 kg.")).to_be_visible()


def width_of(page: Page) -> int:
    return int(page.evaluate("document.documentElement.scrollWidth"))


def test_no_page_of_a_term_is_wider_than_the_screen_or_the_paper(
    browser: Browser, server: LiveServer
) -> None:
    context, page = keeper(browser, server, **WIDTHS["phone"])
    screen = int(page.evaluate("innerWidth"))
    plan_it(page)
    addresses = [page.url]
    press(page, re.compile("The whole plan"))
    term = page.url
    sold_by(page)
    addresses += [term, page.url, f"{term}/orders", f"{term}/waste", f"{term.rsplit('/', 1)[0]}"]
    addresses += [server.base + "/suppliers", server.base + "/orders"]
    wide = {}
    for address in addresses:
        page.goto(address)
        if width_of(page) > screen:
            wide[address] = width_of(page)
    page.emulate_media(media="print")
    for address in addresses:
        paper = ACROSS if address in (term, f"{term}/orders") else PAPER
        page.set_viewport_size({"width": paper, "height": 1000})
        page.goto(address)
        if width_of(page) > paper:
            wide[f"{address} on paper"] = width_of(page)
    assert not wide
    context.close()
