"""An hour with an inspector: let in by a keeper, the pack read on a phone and saved, a past day, and out."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import col, select

from service.core.rag_log import day_words
from service.core.written_days import read_day
from service.records.engine import open_database
from service.records.people import Person
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import fresh, keeper, menu, press, seen
from tests.web.test_inspection_pack import KEYS, pdf_text

HEIGHT = "() => document.documentElement.scrollHeight"
NAME = "Hanne Lund, fire authority"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def let_in(page: Page) -> str:
    """The address that a keeper makes, read off the page."""
    menu(page, "People")
    press(page, "Let an inspector in")
    assert not page_faults(page)
    page.get_by_label("Name").fill(NAME)
    page.get_by_role("button", name="Make the address").click()
    expect(seen(page, re.compile("It works once, and is shown only now"))).to_be_visible()
    assert not page_faults(page)
    return "".join(page.locator("p.code").inner_text().split())


def read_each_section(page: Page) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^Inspection pack of [0-9]+ [A-Z]"))
    for key in KEYS:
        section = page.locator(f"details#{key}")
        section.scroll_into_view_if_needed()
        expect(section.get_by_role("heading", level=2)).to_be_visible()
    expect(page.get_by_role("heading", name="What is not in here")).to_be_visible()
    assert not page_faults(page)
    parts = page.locator("details[data-folds]")
    assert page.locator("details[data-folds][open]").count() == 0 and page.evaluate(HEIGHT) < 12_000
    page.get_by_role("navigation", name="Sections").get_by_role("link").first.click()
    expect(seen(page, "Boiled linseed oil")).to_be_visible()
    assert not page_faults(page)
    printed = " ".join(pdf_text(page.pdf()))
    assert "Boiled linseed oil" in printed and "SHA-256" in printed
    for number in range(parts.count()):
        assert parts.nth(number).locator("h2").inner_text() in printed
    assert page.locator("details[data-folds][open]").count() == 1, "and it is folded again"


def saved(page: Page) -> zipfile.ZipFile:
    with page.expect_download() as download:
        page.get_by_role("link", name="Save all of it (ZIP with PDF)").click()
    return zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes()))


def look_through(archive: zipfile.ZipFile) -> None:
    assert archive.testzip() is None
    names = archive.namelist()
    assert {f"{key}.csv" for key in KEYS} < set(names)
    filled = 0
    for name in names:
        if name.endswith(".csv"):
            header, *rows = csv.reader(io.StringIO(archive.read(name).decode("utf-8-sig")))
            assert {len(row) for row in rows} <= {len(header)}
            filled += bool(rows)
    assert filled > 10
    (paper,) = (name for name in names if name.endswith(".pdf"))
    whole = " ".join(pdf_text(archive.read(paper)))
    for title in ("Hazardous chemicals", "Storage against its limits", "Log of oily rags", "Training"):
        assert title in whole


def cannot_write(page: Page, server: LiveServer) -> None:
    """No form of the pack posts, and what a keeper posts is refused."""
    assert page.locator("main form[method=post]").count() == 0
    here = page.context.request
    for path in ("/people/new", "/recurring-checks/new", "/places/new", "/receive/1", "/inspectors"):
        answer = here.post(f"{server.base}{path}", form={"name": "x"}, headers={"origin": server.base})
        assert answer.status in (403, 404, 405), path
    assert here.get(f"{server.base}/people").status == 403


BROKEN = """() => {
  const found = [];
  for (const cell of document.querySelectorAll("td.num, td.whole, tbody th")) {
    const walk = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT);
    for (let text = walk.nextNode(); text; text = walk.nextNode()) {
      const wanted = cell.matches(".num") ? /\\S.*\\S|\\S/g : /[^\\s\\u00ad()\\/-]+/g;
      for (const word of text.data.matchAll(wanted)) {
        const range = document.createRange();
        range.setStart(text, word.index);
        range.setEnd(text, word.index + word[0].length);
        if (range.getClientRects().length > 1) found.push(word[0]);
      }
    }
  }
  return found;
}"""
"""Words of the tables that are drawn on two lines; of a figure, a day or an instant all is one."""


EVERY_WORD = BROKEN.replace("td.num, td.whole, tbody th", "td, tbody th, thead th:not(.num)")
PAPER_PX = {"A4": 1032, "letter": 965}
"""Between the margins of a page that lies across."""
TOO_WIDE = """() => [...document.querySelectorAll("main table")]
  .filter((one) => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1).length"""


def nothing_is_broken_on_paper(page: Page) -> None:
    page.emulate_media(media="print")
    for paper, width in PAPER_PX.items():
        page.set_viewport_size({"width": width, "height": 700})
        assert page.evaluate(EVERY_WORD) == [], paper
        assert page.evaluate(TOO_WIDE) == 0, paper
    page.emulate_media(media="screen")


def end_it(server: LiveServer) -> None:
    """Their last day is over."""
    database = open_database(f"sqlite:///{server.data / 'umberkeep.sqlite'}", pooled=False)
    with database.writing() as session:
        person = session.exec(select(Person).where(col(Person.name) == NAME)).one()
        assert person.expires_on is not None
        person.expires_on -= timedelta(days=40)
        session.add(person)
    database.dispose()


def test_an_hour_with_an_inspector(browser: Browser, server: LiveServer) -> None:
    context, page = keeper(browser, server, **DESKTOP)
    address = let_in(page)
    page.goto(f"{server.base}/inspection-pack")
    assert not page_faults(page)  # at the width of a desk
    assert page.evaluate(BROKEN) == []
    nothing_is_broken_on_paper(page)
    context.close()

    context, page = fresh(browser, **PHONE)
    heard = watch(page)
    page.goto(address)
    expect(seen(page, re.compile("you change nothing"))).to_be_visible()
    assert not page_faults(page)
    page.get_by_role("button", name="Open the books").click()
    read_each_section(page)
    look_through(saved(page))

    title = page.get_by_role("heading", level=1).inner_text()
    day = read_day(title.removeprefix("Inspection pack of ")) - timedelta(days=4)
    page.get_by_label("As it stood at the end of").fill(day.isoformat())
    page.get_by_role("button", name="Show that day").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Inspection pack of {day_words(day)}")
    expect(seen(page, re.compile("This is what the books said at the end of that day"))).to_be_visible()
    archive = saved(page)
    assert f"inspection-pack-{day.isoformat()}.pdf" in archive.namelist()
    page.get_by_label("As it stood at the end of").fill("next Tuesday")
    page.get_by_role("button", name="Show that day").click()
    expect(page).to_have_title(re.compile("^Error: "))
    assert not page_faults(page)
    page.goto(f"{server.base}/inspection-pack")
    cannot_write(page, server)

    end_it(server)
    page.goto(f"{server.base}/inspection-pack")
    expect(seen(page, re.compile("Your access to these books ended"))).to_be_visible()
    assert not page_faults(page)
    assert page.context.request.get(f"{server.base}/inspection-pack.zip", max_redirects=0).status == 303
    page.goto(address)
    expect(seen(page, re.compile("used or is too old"))).to_be_visible()
    context.close()
    assert not heard.faults
