"""What is met once: the first keeper of an empty shop, a one-time address, a tablet, a name tapped."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch

WIDTHS = {"phone": PHONE, "desktop": DESKTOP}
SEEN_PX = 3_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def empty(folder: Path) -> Iterator[LiveServer]:
    started = start_server(folder, demo=False)
    yield started
    started.stop()


@pytest.fixture
def demo(folder: Path) -> Iterator[LiveServer]:
    started = start_server(folder)
    yield started
    started.stop()


def look(page: Page, folder: Path, name: str) -> None:
    """A picture, and nothing wrong with the page in light or dark."""
    faults = page_faults(page)
    picture = folder / f"{name}.png"
    page.screenshot(path=picture, full_page=True)
    page.emulate_media(color_scheme="dark")
    faults += page_faults(page)
    page.emulate_media(color_scheme="light")
    assert not faults, "\n".join([name, *faults])
    assert picture.stat().st_size > SEEN_PX


@pytest.mark.parametrize("width", list(WIDTHS))
def test_the_first_keeper_of_an_empty_shop(
    width: str, browser: Browser, empty: LiveServer, folder: Path
) -> None:
    context = browser.new_context(**WIDTHS[width])  # type: ignore[arg-type]
    page = context.new_page()
    heard = watch(page)
    page.goto(empty.first_sign_in())
    look(page, folder, "address")
    if "first-keeper" not in page.url:
        page.get_by_role("main").get_by_role("button").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Set the shop up")
    look(page, folder, "first-keeper")
    page.get_by_role("button", name="Set the shop up").click()
    expect(page).to_have_title(re.compile("^Error: "))
    page.get_by_label("Your name").fill("Wilma Reed")
    page.get_by_label("Sign-in name").fill("wilma")
    page.get_by_label("Password").fill("four plain words here")
    page.get_by_label("Name of the shop").fill("Reed Lane Workshop")
    page.get_by_label("Time zone").select_option("Europe/Berlin")
    page.get_by_role("button", name="Set the shop up").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The shop")
    page.goto(empty.base)
    expect(page.get_by_text("Still to set up")).to_be_visible()
    look(page, folder, "empty-today")
    assert not heard.faults
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_a_tablet_and_a_name_tapped_on_it(
    width: str, browser: Browser, demo: LiveServer, folder: Path
) -> None:
    keeper = browser.new_context(**DESKTOP)  # type: ignore[arg-type]
    desk = keeper.new_page()
    desk.goto(demo.first_sign_in())
    look(desk, folder, "once")
    desk.get_by_role("main").get_by_role("button").first.click()
    desk.goto(f"{demo.base}/devices")
    desk.get_by_label("Name of the tablet").fill("Bench by the window")
    desk.get_by_role("button", name="Add a tablet").click()
    if not re.search(r"/tablet/\S+", desk.get_by_role("main").inner_text()):
        desk.get_by_role("button", name="Make its address").last.click()
    found = re.search(r"/tablet/[\w-]+", desk.get_by_role("main").inner_text())
    assert found is not None
    wall = browser.new_context(**WIDTHS[width])  # type: ignore[arg-type]
    page = wall.new_page()
    page.set_default_timeout(15_000)
    heard = watch(page)
    page.goto(demo.base + found.group(0))
    look(page, folder, "tablet")
    page.get_by_role("main").get_by_role("button").first.click()
    page.goto(f"{demo.base}/tap")
    look(page, folder, "tap")
    page.get_by_role("link", name="Mina Tell").click()
    page.get_by_label("PIN").fill("0000")
    page.get_by_role("button", name="Go on as Mina Tell").click()
    expect(page).to_have_title(re.compile("^Error: "))
    look(page, folder, "pin")
    page.get_by_label("PIN").fill("2648")
    page.get_by_role("button", name="Go on as Mina Tell").click()
    expect(page.get_by_text("Mina Tell").first).to_be_visible()
    assert not heard.faults
    wall.close()
    keeper.close()
