"""A real Chromium at two widths and a real service for it to look at."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import watch

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # No name leads anywhere: a page that asks for something outside this machine fails to get it.
    "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
]
WAIT_MS = 15_000
expect.set_options(timeout=WAIT_MS)
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
DESKTOP = {"viewport": {"width": 1280, "height": 900}}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.parent.name == "browser":
            item.add_marker("browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    assert program, "Chromium is missing: install the Debian package chromium."
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=program, args=FLAGS)
        yield opened
        opened.close()


@pytest.fixture(scope="session")
def live_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    server = start_server(tmp_path_factory.mktemp("live"))
    yield server
    server.stop()


def _page(context: BrowserContext) -> Iterator[Page]:
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    heard = watch(page)
    yield page
    context.close()
    assert not heard.faults, "\n".join(heard.faults)


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    """A page as on a phone: 390 px wide, touched with a finger."""
    yield from _page(browser.new_context(**PHONE))  # type: ignore[arg-type]


@pytest.fixture
def desktop(browser: Browser) -> Iterator[Page]:
    """A page as on a desk: 1280 px wide, with a mouse."""
    yield from _page(browser.new_context(**DESKTOP))  # type: ignore[arg-type]
