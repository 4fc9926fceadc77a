"""Looks at a page as it stands in the browser and says in sentences what is wrong with it.

What it cannot see: text drawn over pictures (named as a fault), letters inside pictures and charts whose own
shapes lie behind them, and states that only show under a pointer. Those need eyes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from playwright.sync_api import ConsoleMessage, Error, Page

TARGET_PX = 48
"""Smallest side of a target under a finger or glove; WCAG 2.2 asks for 24 (2.5.8) or 44 (2.5.5)."""


@cache
def _script() -> str:
    return Path(__file__).with_name("page_audit.js").read_text(encoding="utf-8")


def page_faults(page: Page, target_px: int = TARGET_PX) -> list[str]:
    """Every fault of the page as it is now.

    Each begins with its kind: `document`, `overflow`, `label`, `target` (judged under a coarse pointer only)
    or `contrast` (4.5:1, for large text 3:1).
    """
    page.wait_for_load_state()
    found: list[str] = page.evaluate(_script(), {"target": target_px})
    return found


@dataclass
class Watch:
    """What a page complained of since it was watched: broken policy, errors of its own scripts."""

    faults: list[str] = field(default_factory=list)

    def _heard(self, message: ConsoleMessage) -> None:
        text = message.text
        if "Content Security Policy" in text or "Content-Security-Policy" in text:
            self.faults.append(f"policy: {text}")

    def _failed(self, error: Error) -> None:
        self.faults.append(f"script: {error.message}")


def watch(page: Page) -> Watch:
    """Starts to listen to a page; call it before the first address is opened."""
    listening = Watch()
    page.on("console", listening._heard)
    page.on("pageerror", listening._failed)
    return listening
