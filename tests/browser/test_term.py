"""From planning a job to taking in what was ordered for it, by clicks and typing, with and without script."""

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
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import WIDTHS, keeper, menu, press, seen


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def plan_a_job(page: Page) -> None:
    """Two hundred bottles of sealer in three weeks: far more flakes than the house has."""
    menu(page, "Term")
    press(page, "Running term (demo)")
    press(page, "Plan a job")
    page.get_by_label("Name of the job").fill("Open day, small bottles")
    page.get_by_label("Recipe", exact=True).select_option(label="Shellac sealer, about a 2 lb cut")
    page.get_by_label("For how many people?").fill("200")
    page.get_by_label("How much each?").fill("50 ml")
    page.get_by_label("First day").fill(say_date(now_utc().date() + timedelta(days=21)))
    page.get_by_role("button", name="Plan it").click()
    expect(seen(page, re.compile("Planned Open day, small bottles on 1 day"))).to_be_visible()
    expect(seen(page, re.compile("of Shellac flakes, dewaxed is missing"))).to_be_visible()


def say_how_it_is_sold(page: Page) -> None:
    press(page, re.compile("The whole plan"))
    press(page, "Shellac flakes, dewaxed")
    expect(page.get_by_role("img", name=re.compile("Shellac flakes, dewaxed from"))).to_be_visible()
    assert not page_faults(page)
    press(page, "Packs it is sold in")
    page.get_by_label("What is in one?").fill("2.5 kg")
    page.get_by_label("Price of one").fill("64.00")
    page.get_by_label("Supplier").fill("Lower Mill Colours")
    page.get_by_label("How long does it take to come?").fill("2")
    page.get_by_role("button", name="Write it down").click()
    expect(seen(page, "Wrote down the pack of 2.5 kg.")).to_be_visible()
    assert not page_faults(page)


def order_it(page: Page) -> None:
    menu(page, "Term")
    press(page, "Running term (demo)")
    press(page, re.compile("^Order list"))
    expect(seen(page, re.compile("Storage limits after the delivery"))).to_be_visible()
    assert not page_faults(page)
    stays_whole_on_paper(page)
    press(page, re.compile("^I ordered this: Lower Mill Colours"))
    page.get_by_role("button", name="I ordered this").click()
    expect(seen(page, re.compile("Wrote down order 3"))).to_be_visible()
    assert not page_faults(page)


BROKEN_DAYS = """() => {
  const found = [], walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  for (let text = walk.nextNode(); text; text = walk.nextNode())
    for (const day of text.data.matchAll(/\\d+\u00a0[A-Z][a-z]{2}\u00a0\\d{4}/g)) {
      const range = document.createRange();
      range.setStart(text, day.index);
      range.setEnd(text, day.index + day[0].length);
      if (range.getClientRects().length > 1) found.push(day[0]);
    }
  return found;
}"""


def stays_whole_on_paper(page: Page) -> None:
    """No day is broken in two, no material's block over two pages, and each page has the table's head."""
    before = page.viewport_size
    assert before is not None
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 900, "height": 700})
    assert page.locator("table").first.is_visible() and page.evaluate(BROKEN_DAYS) == []
    for place, name, wanted in (
        (".order-list section", "breakInside", "avoid"), ("tbody tr", "breakInside", "avoid"),
        ("thead", "display", "table-header-group"),
    ):  # fmt: skip
        told = page.locator(place).first.evaluate(f"one => getComputedStyle(one).{name}")
        assert told == wanted, place
    page.emulate_media(media="screen")
    page.set_viewport_size(before)


def take_it_in(page: Page) -> None:
    card = page.locator("li.card").filter(has_text=re.compile(r"Shellac flakes, dewaxed, .*\s×\s2\.5\skg"))
    card.get_by_label("How many came?").fill("1")
    card.get_by_label("Lot").fill("S-2209")
    card.get_by_role("button", name="It came: take it in").click()
    expect(page.get_by_label("How much in each?")).to_have_value("2.5 kg")
    page.get_by_role("button", name="Next").click()
    expect(page.get_by_label("Lot")).to_have_value("S-2209")
    expect(page.get_by_label("Supplier")).to_have_value("Lower Mill Colours")
    page.get_by_role("button", name="Next").click()
    page.get_by_role("button", name="Next").click()
    page.get_by_label("Sealed", exact=False).first.check()
    page.get_by_role("button", name="Take it in").click()
    expect(seen(page, re.compile("Took in 1 container of Shellac flakes, dewaxed"))).to_be_visible()
    menu(page, "Term")
    press(page, re.compile("^Orders that were placed"))
    press(page, "Order 3")
    expect(seen(page, re.compile(r"1 of \d+,\s2\.5\skg"))).to_be_visible()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_planned_ordered_and_taken_in(width: str, browser: Browser, server: LiveServer) -> None:
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    plan_a_job(page)
    assert not page_faults(page)
    say_how_it_is_sold(page)
    order_it(page)
    take_it_in(page)
    assert not heard.faults
    context.close()


def test_the_same_without_script(browser: Browser, server: LiveServer) -> None:
    context, page = keeper(browser, server, java_script_enabled=False, **WIDTHS["phone"])
    plan_a_job(page)
    say_how_it_is_sold_without_audit(page)
    context.close()


def say_how_it_is_sold_without_audit(page: Page) -> None:
    press(page, re.compile("The whole plan"))
    press(page, "Shellac flakes, dewaxed")
    press(page, "Packs it is sold in")
    page.get_by_label("What is in one?").fill("2.5 kg")
    page.get_by_role("button", name="Write it down").click()
    expect(seen(page, "Wrote down the pack of 2.5 kg.")).to_be_visible()
    page.emulate_media(media="print")
    assert not page.locator("header.top").is_visible()
