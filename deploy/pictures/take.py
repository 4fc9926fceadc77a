"""Takes the pictures of README from the demo shop: `python deploy/pictures/take.py ONE-TIME-ADDRESS`.

They are kept small (JPEG, at most about 60 kB each) and are real pages, taken by Chromium.
"""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page, sync_playwright

HERE = Path(__file__).parent
DESKTOP = {"viewport": {"width": 1180, "height": 760}}
PHONE = {"viewport": {"width": 390, "height": 760}, "has_touch": True, "is_mobile": True}
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]


def shoot(page: Page, name: str, quality: int = 55) -> None:
    page.screenshot(path=HERE / f"{name}.jpg", type="jpeg", quality=quality)


def main(address: str) -> None:
    base = "{0.scheme}://{0.netloc}".format(urlsplit(address))
    with sync_playwright() as playwright:
        program = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = playwright.chromium.launch(executable_path=program, args=FLAGS)
        desk = browser.new_context(**DESKTOP)  # type: ignore[arg-type]
        page = desk.new_page()
        page.goto(address)
        page.get_by_role("main").get_by_role("button").first.click()
        page.wait_for_url(re.compile(r".*/$"))
        shoot(page, "today", 45)
        page.goto(f"{base}/alerts")
        shoot(page, "alerts")
        page.goto(f"{base}/recipes")
        page.get_by_role("main").get_by_role("link").filter(has_text=re.compile("glaze")).first.click()
        page.get_by_role("button", name="Check the stock").click()
        page.wait_for_url(re.compile(r".*/checks/\d+.*"))
        shoot(page, "check", 48)
        phone = browser.new_context(storage_state=desk.storage_state(), **PHONE)  # type: ignore[arg-type]
        small = phone.new_page()
        small.goto(f"{base}/rags/3")
        shoot(small, "rags-phone")
        small.goto(f"{base}/store")
        small.locator("main .card-title a").nth(1).click()
        small.wait_for_url(re.compile(r".*/containers/.*"))
        shoot(small, "container-phone")
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1])
