"""What is met once: the first keeper of an empty shop, one-time addresses, a tablet, a name tapped."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from service.core.containers import Standing
from service.core.shelf_codes import show_code
from tests.browser.addresses import code_of
from tests.browser.conftest import DESKTOP
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import WIDTHS, draw_here, fresh, menu, press, scan, seen

SEEN_PX = 3_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@pytest.fixture
def empty(folder: Path) -> Iterator[LiveServer]:
    started = start_server(folder, demo=False)
    yield started
    started.stop()


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    started = start_server(tmp_path_factory.mktemp("demo"))
    yield started
    started.stop()


def press_button(page: Page) -> None:
    """The one button of a page that asks whether to go on."""
    page.get_by_role("main").get_by_role("button").first.click()
    page.wait_for_load_state()


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


def tablet(page: Page, server: LiveServer, name: str) -> str:
    """A keeper adds a tablet; its address is answered, which works once."""
    menu(page, "People and settings")
    press(page, "Tablets and scripts")
    page.get_by_label("Name of the tablet").fill(name)
    page.get_by_role("button", name="Add a tablet").click()
    added = page.get_by_role("list", name="Tablets").get_by_role("listitem").filter(has_text=name)
    added.get_by_role("button", name="Make its address").click()
    text = seen(page, re.compile(r"/tablet/")).inner_text()
    found = re.search(r"/tablet/[\w-]+", text)
    assert found is not None
    return server.base + found.group(0)


@pytest.mark.parametrize("width", list(WIDTHS))
def test_a_student_draws_at_the_tablet(width: str, browser: Browser, demo: LiveServer, folder: Path) -> None:
    """The tablet is signed in as itself; a name is tapped, the PIN given, and the draw is under that name."""
    context, desk = fresh(browser, **DESKTOP)
    desk.goto(demo.sign_in_address())
    look(desk, folder, "once")
    press_button(desk)
    address = tablet(desk, demo, f"Bench by the window, {width}")
    wall, page = fresh(browser, **WIDTHS[width])
    heard = watch(page)
    page.goto(address)
    look(page, folder, "tablet")
    press_button(page)
    page.goto(f"{demo.base}/tap")
    look(page, folder, "tap")
    press(page, "Mina Tell")
    page.get_by_label("PIN").fill("0000")
    page.get_by_role("button", name="Go on as Mina Tell").click()
    expect(page).to_have_title(re.compile("^Error: "))
    look(page, folder, "pin")
    page.get_by_label("PIN").fill("2648")
    page.get_by_role("button", name="Go on as Mina Tell").click()
    expect(page.locator("header .who-name")).to_have_text("Mina Tell")
    alcohol = code_of(demo, Standing.IN_DATE, "Denatured alcohol")
    menu(page, "Today")
    scan(page, alcohol)
    draw_here(page, "20 ml")
    expect(seen(page, re.compile("Drew 20 ml"))).to_be_visible()
    menu(desk, "Records")
    press(desk, "Ledger")
    newest = desk.locator("main tbody tr").filter(has_text=show_code(alcohol)).first
    expect(newest).to_contain_text("Mina Tell")
    expect(newest).to_contain_text("Class: glazing sample boards")
    assert not heard.faults
    wall.close()
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_a_new_password_by_an_address(width: str, browser: Browser, demo: LiveServer, folder: Path) -> None:
    """A keeper makes it for somebody who forgot; the new password signs in."""
    context, desk = fresh(browser, **DESKTOP)
    desk.goto(demo.sign_in_address())
    press_button(desk)
    menu(desk, "People and settings")
    press(desk, "Odo Farrow")
    desk.get_by_role("button", name="Make the address").click()
    found = re.search(r"/set-password/[\w-]+", seen(desk, re.compile("/set-password/")).inner_text())
    assert found is not None
    own, page = fresh(browser, **WIDTHS[width])
    heard = watch(page)
    page.goto(demo.base + found.group(0))
    look(page, folder, "set-password")
    page.get_by_label("New password").fill(f"{width} of four new words")
    page.get_by_role("button", name="Set the password").click()
    page.wait_for_url(re.compile(r".*/(sign-in)?$"))
    page.context.clear_cookies()
    page.goto(f"{demo.base}/sign-in")
    page.get_by_label("Sign-in name").fill("odo")
    page.get_by_label("Password").fill(f"{width} of four new words")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_text("Signed in as Odo Farrow.")).to_be_visible()
    assert not heard.faults
    own.close()
    context.close()
