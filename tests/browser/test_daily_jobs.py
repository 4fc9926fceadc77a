"""The three daily jobs by clicks and typing alone: rags put away, stock checked and mixed, ageing met.

Each story plays on a demo shop of its own, since it changes the book.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from sqlmodel import col, select

from service.core.containers import Standing
from service.records.engine import open_database
from service.records.materials import Material
from service.records.stock import Container
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch

WIDTHS = {"phone": PHONE, "desktop": DESKTOP}
OVERDUE = re.compile(r"overdue")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[LiveServer]:
    started = start_server(tmp_path)
    yield started
    started.stop()


def keeper(browser: Browser, server: LiveServer, **settings: object) -> tuple[BrowserContext, Page]:
    """A keeper's browser, signed in by the printed address."""
    context = browser.new_context(**settings)  # type: ignore[arg-type]
    context.set_default_timeout(15_000)
    page = context.new_page()
    page.goto(server.first_sign_in())
    page.get_by_role("main").get_by_role("button").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")
    return context, page


def code_of(server: LiveServer, standing: Standing, material: str = "") -> str:
    """A container of the demo that stands so."""
    database = open_database(f"sqlite:///{server.data / 'umberkeep.sqlite'}", pooled=False)
    try:
        with database.reading() as session:
            query = (
                select(Container.code)
                .join(Material, col(Material.id) == col(Container.material_id))
                .where(col(Container.standing) == standing, col(Material.name).startswith(material))
            )
            found = session.exec(query.order_by(col(Container.id))).first()
    finally:
        database.dispose()
    assert found is not None
    return found


def notice(page: Page) -> int:
    """How many overdue rag loads stand in the header."""
    return page.locator("body").get_by_role("link", name="Put them away").count()


def draw_oil(page: Page, server: LiveServer, code: str, amount: str) -> None:
    page.goto(f"{server.base}/containers/{code}/draw")
    page.get_by_label("How much?").fill(amount)
    page.get_by_label("I am about to do it").check()
    page.get_by_role("button", name="Draw it").click()


def put_rags_away(page: Page, server: LiveServer) -> None:
    """From the header to the can, and out of the building with the hauler."""
    page.goto(server.base)
    page.get_by_role("link", name="Put them away").first.click()
    page.get_by_role("button", name="In the rag can now").click()
    expect(page.get_by_text("Contained").first).to_be_visible()
    page.goto(f"{server.base}/rags/hand-over")
    page.get_by_label("Rag load 3").check()
    page.get_by_label("The hauler took them").check()
    page.get_by_label("Name of the hauler, municipality or laundry").fill("Bell Lane Haulage")
    page.get_by_label("Just now").check()
    page.get_by_role("button", name="They left").click()
    expect(page.get_by_text("1 rag load left the building")).to_be_visible()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_the_rags_of_last_night(width: str, browser: Browser, server: LiveServer) -> None:
    """Overdue rags stand in every header and block the oil; handed over, the oil is free again."""
    context, page = keeper(browser, server, **WIDTHS[width])
    heard = watch(page)
    for path in ("/", "/store", "/recipes", "/words", "/spill"):
        page.goto(server.base + path)
        assert notice(page) >= 1, f"no notice on {path}"
    oil = code_of(server, Standing.IN_DATE, "Boiled linseed oil")
    draw_oil(page, server, oil, "50 ml")
    expect(page.get_by_text("Nothing was booked.")).to_be_visible()
    expect(page.get_by_role("link", name=re.compile("Put the rags away"))).to_be_visible()
    assert not page_faults(page)
    put_rags_away(page, server)
    page.goto(server.base)
    assert not page.get_by_text(OVERDUE).count()
    draw_oil(page, server, oil, "50 ml")
    expect(page.get_by_text(re.compile("Drew 50 ml"))).to_be_visible()
    page.goto(f"{server.base}/rags/log")
    expect(page.get_by_text("Bell Lane Haulage").filter(visible=True).first).to_be_visible()
    page.goto(f"{server.base}/rags/day-sheet")
    page.get_by_role("button", name=re.compile("Write the head down")).click()
    page.wait_for_load_state()
    page.emulate_media(media="print")
    assert len(page.pdf()) > 5_000
    assert not heard.faults
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_checked_before_mixing(width: str, browser: Browser, server: LiveServer) -> None:
    """The check says what to take from where and what is short; a start draws everything."""
    context, page = keeper(browser, server, **WIDTHS[width])
    put_rags_away(page, server)
    page.goto(f"{server.base}/recipes")
    page.get_by_role("link", name="Hall panelling, whole room").click()
    page.get_by_role("button", name="Check the stock").click()
    expect(page.get_by_text(re.compile("of Burnt umber in japan is missing"))).to_be_visible()
    assert not page.get_by_role("link", name="Start now").count()
    page.goto(f"{server.base}/recipes")
    page.get_by_role("link", name="Walnut glaze, one bench").click()
    page.get_by_role("button", name="Check the stock").click()
    expect(page.get_by_role("heading", name="Take from the shelf")).to_be_visible()
    page.get_by_role("link", name="Start now").click()
    page.get_by_label("A new job for this").check()
    page.get_by_label("About to do it").check()
    page.get_by_role("button", name="Start the batch").click()
    page.wait_for_url(re.compile(r".*/bench/\d+.*"))
    expect(page.get_by_text("Mineral spirits").filter(visible=True).first).to_be_visible()
    assert not page_faults(page)
    page.goto(f"{server.base}/records/ledger")
    expect(page.get_by_text(re.compile("250 ml")).filter(visible=True).first).to_be_visible()
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_warned_of_ageing_colours(width: str, browser: Browser, server: LiveServer) -> None:
    """An alert leads to the container; a past one refuses a draw, says why, and is thrown away."""
    context, page = keeper(browser, server, **WIDTHS[width])
    page.goto(f"{server.base}/alerts")
    aged = code_of(server, Standing.LOOK_FIRST, "Shellac")
    page.locator(f"main a[href='/containers/{aged}/check']").first.click()
    page.get_by_label(re.compile("It is sound")).check()
    page.get_by_label("I look at it now").check()
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url(re.compile(rf".*/containers/{aged}$"))
    past = code_of(server, Standing.PAST, "Gum turpentine")
    draw_oil(page, server, past, "20 ml")
    expect(page.get_by_text(re.compile("It is past its date")).first).to_be_visible()
    expect(page.get_by_text("Nothing was booked.")).to_be_visible()
    page.goto(f"{server.base}/containers/{past}/discard")
    page.get_by_label("Handed to the hauler").check()
    page.get_by_label(re.compile("All of it, with the container")).check()
    page.get_by_label("I am about to do it").check()
    page.get_by_role("button", name="Throw it away").click()
    page.goto(f"{server.base}/alerts")
    assert not page.locator(f"main a[href='/containers/{past}/discard']").count()
    context.close()


def test_the_rags_without_script(browser: Browser, server: LiveServer) -> None:
    """The wall tablet after a bad update: no script at all, and the rags are still put away."""
    context, page = keeper(browser, server, java_script_enabled=False, **DESKTOP)
    put_rags_away(page, server)
    page.goto(server.base)
    assert not page.get_by_text(OVERDUE).count()
    context.close()


def test_what_can_mean_two_things_is_asked(browser: Browser, server: LiveServer) -> None:
    """Two ounces of a liquid: the readings are buttons, and the chosen one is booked."""
    context, page = keeper(browser, server, **PHONE)
    thinner = code_of(server, Standing.IN_DATE, "Denatured alcohol")
    draw_oil(page, server, thinner, "2 oz")
    page.get_by_role("button", name=re.compile("a US fluid ounce")).click()
    page.wait_for_url(re.compile(rf".*/containers/{thinner}$"))
    expect(page.get_by_text(re.compile("Drew")).first).to_be_visible()
    draw_oil(page, server, thinner, "2 oz")
    page.wait_for_url(re.compile(rf".*/containers/{thinner}$"))
    context.close()
