"""Going about the pages as a person does: by the menu, the links and the buttons, never by an address."""

from __future__ import annotations

import re

from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect

from service.core.shelf_codes import show_code
from tests.browser.conftest import DESKTOP, PHONE, WAIT_MS
from tests.browser.live_server import LiveServer

WIDTHS = {"phone": PHONE, "desktop": DESKTOP}


def fresh(browser: Browser, **settings: object) -> tuple[BrowserContext, Page]:
    """A browser that nobody has signed in with."""
    context = browser.new_context(**settings)  # type: ignore[arg-type]
    context.set_default_timeout(WAIT_MS)
    return context, context.new_page()


def keeper(browser: Browser, server: LiveServer, **settings: object) -> tuple[BrowserContext, Page]:
    """A keeper's browser, signed in by the address that the start printed."""
    context, page = fresh(browser, **settings)
    page.goto(server.first_sign_in())
    page.get_by_role("main").get_by_role("button").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Today")
    return context, page


def sign_in(page: Page, server: LiveServer, name: str) -> None:
    """By the name and the password that the demo's own sign-in page states."""
    page.goto(f"{server.base}/sign-in")
    password = page.get_by_label("Accounts of the demo").locator(".code").first.inner_text()
    page.get_by_label("Sign-in name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^(Today$|Inspection pack)"))


def menu(page: Page, words: str) -> None:
    """A link of the menu; on a phone the menu is unfolded first."""
    fold = page.locator("header details.fold > summary")
    if fold.is_visible():
        fold.click()
    links = page.locator("header nav").get_by_role("link", name=re.compile(f"^{words}"))
    links.filter(visible=True).first.click()
    expect(page.get_by_role("heading", level=1)).to_be_visible()


def seen(page: Page, text: str | re.Pattern[str]) -> Locator:
    """The first place of the page where the text can be seen: a table and its cards hold it twice."""
    return page.get_by_role("main").get_by_text(text).filter(visible=True).first


def press(page: Page, words: str | re.Pattern[str]) -> None:
    """The first link of the page with these words that can be seen."""
    page.get_by_role("main").get_by_role("link", name=words, exact=True).filter(visible=True).first.click()


def container(page: Page, code: str) -> None:
    """From the menu through the store to one container."""
    menu(page, "Store")
    press(page, show_code(code))
    page.wait_for_url(re.compile(rf".*/containers/{code}$"))


def scan(page: Page, code: str) -> None:
    """As a scanner types it: the code and Enter."""
    page.get_by_label("Scan or type a code").fill(code.lower())
    page.get_by_label("Scan or type a code").press("Enter")
    page.wait_for_url(re.compile(rf".*/containers/{code}$"))


def act(page: Page, words: str) -> None:
    """A button of a container's page, unfolding the rarer ones."""
    link = page.get_by_role("main").get_by_role("link", name=words, exact=True)
    if not link.is_visible():
        page.get_by_text("Something else").click()
    link.click()


def draw(page: Page, code: str, amount: str) -> None:
    """From the menu to the container, and some of it drawn in the job that the page offers."""
    container(page, code)
    draw_here(page, amount)


def draw_here(page: Page, amount: str) -> None:
    """From a container's page."""
    act(page, "Draw from it")
    page.get_by_label("How much?").fill(amount)
    page.get_by_label("I am about to do it").check()
    page.get_by_role("button", name="Draw it").click()
