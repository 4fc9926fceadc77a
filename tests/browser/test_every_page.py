"""Every page of the route table in a real Chromium: both widths, light and dark, a picture of each."""

from __future__ import annotations

import json
import os
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from service.records.engine import Database, open_database
from service.web.route_table import ROWS
from tests.browser.addresses import NOT_PICTURED, PAGES, address
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch

LEAST_PICTURE_BYTES = 3_000
"""A page without anything on it compresses to less."""
WIDTHS = {"phone": PHONE, "desktop": DESKTOP}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """A demo shop to look at; only the sign-in fixture adds to it."""
    started = start_server(tmp_path_factory.mktemp("pages"))
    yield started
    started.stop()


@pytest.fixture(scope="module")
def book(server: LiveServer) -> Iterator[Database]:
    database = open_database(f"sqlite:///{server.data / 'umberkeep.sqlite'}", pooled=False)
    yield database
    database.dispose()


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the pictures go: UMBERKEEP_TEST_PICTURES, else a temporary folder."""
    wanted = os.environ.get("UMBERKEEP_TEST_PICTURES")
    folder = Path(wanted) if wanted else tmp_path_factory.mktemp("pictures")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture(scope="module")
def keeper_state(browser: Browser, server: LiveServer) -> dict[str, object]:
    """A keeper's sign-in, and the few things the demo lacks for some page: a fresh check, a leaking can."""
    context = browser.new_context(**DESKTOP)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(server.first_sign_in())
    page.get_by_role("main").get_by_role("button").first.click()
    page.wait_for_url(re.compile(r".*/$"))
    _check_a_recipe(page, server)
    _take_in_a_leaking_can(server)
    state = dict(context.storage_state())
    context.close()
    return state


def _check_a_recipe(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.base}/recipes")
    page.get_by_role("main").get_by_role("link").filter(has_text=re.compile("glaze")).first.click()
    page.get_by_role("button", name="Check the stock").click()
    page.wait_for_url(re.compile(r".*/checks/\d+.*"))


def _take_in_a_leaking_can(server: LiveServer) -> None:
    """By a script's call; it leaves a duty that ends by saying so."""
    token = server.command("token", "new", "--role", "keeper", "--label", "pictures").splitlines()[-1]
    body = {"once": "leaking-can-1", "material": 1, "amount": "500 g", "condition": "leaking", "person": 1}
    request = urllib.request.Request(
        f"{server.base}/api/containers",
        json.dumps(body).encode(),
        {"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=20) as answer:
        assert answer.status == 201


@pytest.fixture(scope="module", params=list(WIDTHS))
def looked_at(
    request: pytest.FixtureRequest, browser: Browser, keeper_state: dict[str, object]
) -> Iterator[tuple[str, BrowserContext]]:
    context = browser.new_context(storage_state=keeper_state, **WIDTHS[request.param])  # type: ignore[arg-type]
    context.set_default_timeout(15_000)
    yield request.param, context
    context.close()


def test_no_page_is_left_out() -> None:
    pages = {row.path for row in ROWS if row.method == "GET" and not row.path.startswith("/api/")}
    assert pages == set(PAGES) | set(NOT_PICTURED)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_at_this_width(
    path: str,
    looked_at: tuple[str, BrowserContext],
    server: LiveServer,
    book: Database,
    pictures: Path,
) -> None:
    width, context = looked_at
    with book.reading() as session:
        where = address(session, path)
    page = context.new_page()
    heard = watch(page)
    answer = page.goto(server.base + where)
    assert answer is not None
    assert answer.status == 200, f"{where} answered {answer.status}"
    faults = page_faults(page)
    name = re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "today"
    picture = pictures / f"{name}-{width}.png"
    page.screenshot(path=picture, full_page=True)
    page.emulate_media(color_scheme="dark")
    faults += [f"dark {fault}" for fault in page_faults(page) if fault.startswith("contrast")]
    page.close()
    assert not faults + heard.faults, "\n".join([where, *faults, *heard.faults])
    assert picture.stat().st_size > LEAST_PICTURE_BYTES


@pytest.mark.parametrize("path", ["/spill", "/rags/day-sheet", "/labels/print", "/labels/ruler"])
def test_a_page_on_paper(
    path: str, browser: Browser, keeper_state: dict[str, object], server: LiveServer, book: Database
) -> None:
    with book.reading() as session:
        where = address(session, path)
    context = browser.new_context(storage_state=keeper_state)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(server.base + where)
    page.emulate_media(media="print")
    nav = page.locator("header nav")
    assert not any(nav.nth(n).is_visible() for n in range(nav.count())), "the menu is not printed"
    assert len(page.pdf()) > LEAST_PICTURE_BYTES
    context.close()
