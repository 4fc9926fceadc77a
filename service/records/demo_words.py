"""The sign-in words of the demo shop, as its data states them: they are invented and meant to be shown."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Final

_FILE: Final = Path(__file__).resolve().parents[2] / "seed_data" / "demo" / "shop.toml"


@cache
def demo_words() -> tuple[str, str]:
    """Password and PIN of everybody in the demo."""
    with _FILE.open("rb") as file:
        shop = tomllib.load(file)
    return shop["password"], shop["pin"]
