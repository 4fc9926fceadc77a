"""Takes README's pictures anew from a fresh demo shop: `python -m tests.browser.take_pictures`.

They are real pages, taken by Chromium and kept small: WebP, at most 60 kB each.
"""

from __future__ import annotations

import io
import re
import shutil
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from service.core.containers import Standing
from tests.browser.addresses import code_of
from tests.browser.conftest import FLAGS
from tests.browser.live_server import LiveServer, start_server
from tests.browser.test_daily_jobs import put_rags_away
from tests.browser.test_the_bench import add, begin_sample
from tests.browser.walking import container, keeper, menu, press

FOLDER = Path(__file__).parents[2] / "deploy" / "pictures"
LARGEST_BYTES = 60_000
DESK = {"viewport": {"width": 1180, "height": 900}}
HAND = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}


def keep(page: Page, name: str, *, below: str = "") -> None:
    """One screenful, from the heading ``below`` on if named, with as much quality as the size allows."""
    if below:
        heading = page.get_by_role("heading", name=re.compile(below)).first
        heading.evaluate("heading => heading.scrollIntoView({block: 'start'})")
    shown = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    for quality in range(80, 20, -10):
        written = io.BytesIO()
        shown.save(written, "WEBP", quality=quality, method=6)
        if written.tell() <= LARGEST_BYTES:
            break
    (FOLDER / f"{name}.webp").write_bytes(written.getvalue())


def at_the_desk(page: Page) -> None:
    keep(page, "today")
    menu(page, "Alerts")
    keep(page, "alerts", below="Alerts")
    menu(page, "Labels")
    for n in range(8):
        page.locator("input[name=c]").nth(n).check()
    page.get_by_label(re.compile("3 × 8")).check()
    page.get_by_role("button", name="Show the labels").click()
    page.wait_for_url(re.compile(r".*/labels/print.*"))
    keep(page, "labels", below="8 labels")
    menu(page, "Recipes")
    press(page, "Walnut glaze, one bench")
    page.get_by_role("button", name="Check the stock").click()
    page.wait_for_url(re.compile(r".*/checks/\d+.*"))
    keep(page, "check", below="Check result")


def at_the_bench(page: Page, server: LiveServer) -> None:
    put_rags_away(page)
    begin_sample(page)
    add(page, code_of(server, Standing.IN_DATE, "Mineral spirits", 200_000), "30 ml")
    add(page, code_of(server, Standing.IN_DATE, "Boiled linseed oil", 20_000), "10 ml")
    keep(page, "bench", below="changed this")


def in_the_hand(page: Page, server: LiveServer) -> None:
    container(page, code_of(server, Standing.IN_DATE, "Boiled linseed oil"))
    keep(page, "container-phone", below="Boiled linseed oil")
    page.get_by_role("link", name="Put them away").first.click()
    press(page, "Something else")
    page.wait_for_url(re.compile(r".*/step.*"))
    keep(page, "rags-phone")


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        server = start_server(Path(folder))
        try:
            context, page = keeper(browser, server, **DESK)
            at_the_desk(page)
            phone = browser.new_context(storage_state=context.storage_state(), **HAND)  # type: ignore[arg-type]
            hand = phone.new_page()
            hand.goto(server.base)
            in_the_hand(hand, server)
            at_the_bench(page, server)
        finally:
            server.stop()
            browser.close()


if __name__ == "__main__":
    main()
