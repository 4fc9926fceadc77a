"""No worked example of solvents and air is left out: each stands in one file, and each file is run elsewhere.

tests/web/test_flash_examples.py, test_air_examples.py, test_voc_examples.py, test_ventilation_examples.py.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent


def ids(name: str) -> list[str]:
    found: list[str] = []

    def walk(held: Any) -> None:
        if isinstance(held, dict):
            if isinstance(held.get("id"), str):
                found.append(held["id"])
            for value in held.values():
                walk(value)
        elif isinstance(held, list):
            for value in held:
                walk(value)

    walk(json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8")))
    return found


def test_all_62_and_79_examples_are_held_once() -> None:
    held = [one for name in ("flash", "air", "voc", "ventilation") for one in ids(f"{name}_examples")]
    assert len(held) == len(set(held)), sorted(one for one in held if held.count(one) > 1)
    assert sum(one.startswith("WE-") for one in held) == 62
    assert sum(one.startswith("VC-") for one in held) == 79
