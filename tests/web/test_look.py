"""The look, as far as it can be counted: contrast in both themes, budgets, what templates may not hold."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from service.web.static_files import FOLDER

TEMPLATES = FOLDER.parent / "templates"
CSS = (FOLDER / "service.css").read_text(encoding="utf-8")

# Text on ground, 4.5:1 (WCAG 2.2, 1.4.3).
TEXT_PAIRS = [
    *((text, ground) for text in ("ink", "soft", "link") for ground in ("linen", "paper", "wash")),
    ("on-umber", "umber"),
    ("on-act", "act"),
    ("on-rest", "rest"),
    ("on-late", "late"),
    *((name, f"{name}-bg") for name in ("green", "amber", "orange", "red", "grey", "blue")),
    *((f"{name}-bg", name) for name in ("orange", "red")),
    ("late", "on-late"),
    ("red", "linen"),
    ("red", "paper"),
]
# Borders, icons, focus, 3:1 (1.4.11).
SHAPE_PAIRS = [
    ("edge", "linen"),
    ("edge", "paper"),
    ("edge", "wash"),
    ("focus", "linen"),
    ("focus", "paper"),
    ("focus", "wash"),
    ("act", "linen"),
    ("act", "paper"),
    ("oak", "umber"),
    *(
        (name, ground)
        for name in ("green", "amber", "orange", "red", "grey", "blue")
        for ground in ("linen", "paper")
    ),
]


def tokens(selector: str) -> dict[str, str]:
    block = re.search(re.escape(selector) + r"\s*\{(.*?)\}", CSS, re.DOTALL)
    assert block is not None
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]{6})", block[1]))


LIGHT = tokens(":root")
DARK = tokens(':root[data-theme="dark"]')


def luminance(colour: str) -> float:
    """Relative luminance of sRGB as WCAG 2.2 defines it."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_formula_against_published_values() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # WebAIM's note on the lightest grey that passes on white: #767676 is 4.54:1 (from memory).
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), TEXT_PAIRS)
def test_text_contrast(theme: dict[str, str], text: str, ground: str) -> None:
    assert contrast(theme[text], theme[ground]) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(("shape", "ground"), SHAPE_PAIRS)
def test_shape_contrast(theme: dict[str, str], shape: str, ground: str) -> None:
    assert contrast(theme[shape], theme[ground]) >= 3


def test_fixed_colours_on_the_lit_oak() -> None:
    for theme in (LIGHT, DARK):
        assert contrast("#2a1d13", theme["oak"]) >= 4.5


def test_both_dark_lists_are_the_same_and_complete() -> None:
    assert tokens(':root:not([data-theme="light"])') == DARK
    assert set(DARK) == set(LIGHT)


def test_every_token_used_is_defined() -> None:
    used = set(re.findall(r"var\(--([a-z-]+)", CSS)) - {"r", "bg", "fg"}
    assert used <= set(LIGHT)


def test_no_colour_outside_the_tokens() -> None:
    outside = re.sub(r":root[^{]*\{.*?\}", "", CSS, flags=re.DOTALL)
    outside = re.sub(r"\.strip \{.*?\}", "", outside)  # the stain sample under the header carries no meaning
    assert set(re.findall(r"#[0-9a-f]{3,8}\b", outside)) <= {"#2a1d13"}


def test_budgets() -> None:
    assert (FOLDER / "service.js").stat().st_size <= 8 * 1024
    assert (FOLDER / "service.css").stat().st_size <= 32 * 1024


def test_the_script_makes_no_markup_and_runs_no_text() -> None:
    script = (FOLDER / "service.js").read_text(encoding="utf-8")
    for word in (
        "innerHTML",
        "outerHTML",
        "insertAdjacentHTML",
        "document.write",
        "eval(",
        "Function(",
        ".style",
    ):
        assert word not in script


def pages() -> list[Path]:
    return sorted(path for path in TEMPLATES.rglob("*") if path.is_file())


@pytest.mark.parametrize("path", pages(), ids=lambda p: str(p.relative_to(TEMPLATES)))
def test_templates_hold_nothing_inline(path: Path) -> None:
    text = re.sub(r"\{#.*?#\}", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert not re.search(r"\|\s*safe\b|autoescape\s+false", text)
    assert not re.search(r"\sstyle\s*=|<style\b", text)
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)
    assert "javascript:" not in text and not re.search(r"(src|href)=[\"']https?:", text)
    assert not re.search(r"<input[^>]*type=\"number\"|\srequired[\s>]", text)


def test_markup_is_made_in_no_other_module_than_the_shell() -> None:
    web = FOLDER.parent
    makers = [p.name for p in web.rglob("*.py") if "Markup" in p.read_text(encoding="utf-8")]
    assert set(makers) <= {"render.py", "charts.py"}
