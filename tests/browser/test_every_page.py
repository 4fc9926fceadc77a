"""Every page of the route table in a real Chromium: both widths, light and dark, a picture of each."""

from __future__ import annotations

import json
import os
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page

from service.records.engine import Database, open_database
from service.web.route_table import ROWS
from tests.browser.addresses import NOT_PICTURED, PAGES, address
from tests.browser.conftest import DESKTOP, PHONE
from tests.browser.live_server import LiveServer, start_server
from tests.browser.page_audit import page_faults, watch
from tests.browser.walking import WIDTHS, fresh, sign_in

LISTS = Path(__file__).parents[2] / "seed_data" / "demo"
LEAST_PAPER_BYTES = 3_000
"""A printed page without anything on it is smaller."""
LEAST_COLOURS = 20
"""A page without anything on it has one; smoothed letters alone have more than this."""
FIRST_SCREEN = (390, 844)
LEFT_TO_OTHERS = {
    "student": (
        "mina",
        ("/", "/jobs", "/rags", "/bench", "/containers/{code}", "/containers/{code}/draw", "/me"),
    ),
    "reader": (
        "wilm",
        ("/", "/store", "/alerts", "/rags/log", "/rags/day-sheet", "/records/ledger", "/policies"),
    ),
}
"""What is looked at in other roles than the keeper's: who, and which pages."""


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
    _bring_a_list(page, server)
    state = dict(context.storage_state())
    context.close()
    return state


def _check_a_recipe(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.base}/recipes")
    page.get_by_role("main").get_by_role("link").filter(has_text=re.compile("glaze")).first.click()
    page.get_by_role("button", name="Check the stock").click()
    page.wait_for_url(re.compile(r".*/checks/\d+.*"))


def _bring_a_list(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.base}/receive/list")
    page.locator("input[type=file]").set_input_files(LISTS / "stock-list-with-mistakes.csv")
    page.get_by_role("button", name="Look at it").click()
    page.wait_for_url(re.compile(r".*/receive/list/\d+$"))


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


def colours(picture: Path) -> int:
    """How many colours the first screenful of the picture has, each counted once."""
    with Image.open(picture) as opened:
        found = opened.convert("RGB").crop((0, 0, *FIRST_SCREEN)).getcolors(maxcolors=1 << 24)
    return len(found or ())


def look(context: BrowserContext, server: LiveServer, where: str, picture: Path, status: int = 200) -> None:
    """The page is there and is itself, takes its picture, and nothing is wrong with it in light or dark."""
    page = context.new_page()
    heard = watch(page)
    answer = page.goto(server.base + where)
    assert answer is not None
    assert answer.status == status, f"{where} answered {answer.status}"
    assert page.url == server.base + where, (
        f"{where} leads on to {page.url}: it is not the page in the picture"
    )
    faults = page_faults(page)
    page.screenshot(path=picture, full_page=True)
    page.emulate_media(color_scheme="dark")
    faults += [f"dark {fault}" for fault in page_faults(page)]
    page.close()
    assert not faults + heard.faults, "\n".join([where, *faults, *heard.faults])
    assert colours(picture) >= LEAST_COLOURS


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
    stem = re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "today"
    look(context, server, where, pictures / f"{stem}-{width}.png")


@pytest.mark.parametrize("width", list(WIDTHS))
@pytest.mark.parametrize("role", list(LEFT_TO_OTHERS))
def test_pages_of_other_roles(
    role: str, width: str, browser: Browser, server: LiveServer, book: Database, pictures: Path
) -> None:
    name, paths = LEFT_TO_OTHERS[role]
    context, page = fresh(browser, **WIDTHS[width])
    sign_in(page, server, name)
    for path in paths:
        with book.reading() as session:
            where = address(session, path)
        stem = re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "today"
        look(context, server, where, pictures / f"{role}-{stem}-{width}.png")
    look(context, server, "/people", pictures / f"{role}-not-allowed-{width}.png", status=403)
    context.close()


@pytest.mark.parametrize("width", list(WIDTHS))
def test_pages_of_a_stranger(width: str, browser: Browser, server: LiveServer, pictures: Path) -> None:
    context, _ = fresh(browser, **WIDTHS[width])
    look(context, server, "/sign-in", pictures / f"sign-in-{width}.png")
    look(context, server, "/spill", pictures / f"stranger-spill-{width}.png")
    context.close()


@pytest.mark.parametrize(("where", "status"), [("/no/such/page", 404), ("/containers/AAAAAA", 404)])
def test_pages_that_are_not_there(
    where: str, status: int, looked_at: tuple[str, BrowserContext], server: LiveServer, pictures: Path
) -> None:
    width, context = looked_at
    stem = where.strip("/").lower().replace("/", "-")
    look(context, server, where, pictures / f"{stem}-{width}.png", status=status)


def test_a_blank_picture_is_told_from_a_page(browser: Browser, tmp_path: Path) -> None:
    context, page = fresh(browser, **PHONE)
    page.goto("about:blank")
    page.screenshot(path=tmp_path / "blank.png")
    assert colours(tmp_path / "blank.png") < LEAST_COLOURS
    page.set_content("<p>One sentence of letters.</p>")
    page.screenshot(path=tmp_path / "words.png")
    assert colours(tmp_path / "words.png") >= LEAST_COLOURS
    context.close()


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
    assert len(page.pdf()) > LEAST_PAPER_BYTES
    context.close()
