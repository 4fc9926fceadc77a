"""The project stands alone: nothing of it leads outside, and no amount is a float."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.tree import CORE, ROOT, SERVICE, is_ignored, parsed, project_files, python_files, short

TOP_LEVEL = {
    ".ci",
    ".gitignore",
    "DEVELOPERS.md",
    "README.md",
    "deploy",
    "pyproject.toml",
    "seed_data",
    "service",
    "tests",
}

# Put together from halves, so that this file does not hold what it looks for.
FOREIGN = [
    first + second
    for first, second in [
        ("/work", "/main"),
        ("/work", "/shared"),
        ("/work", "/."),
        ("..", "/shared"),
        ("shared", "/reference"),
        ("shared", "/design"),
        ("/tmp", "/uk"),
        ("/opt", "/pypi"),
        ("/opt", "/wheels"),
        ("/root", "/"),
        (".pyenv", "/"),
        ("pypi", ".org"),
        ("pythonhosted", ".org"),
        ("debian", ".org"),
        ("npmjs", ".org"),
        ("npmjs", ".com"),
        ("docker", ".io"),
        ("quay", ".io"),
        ("index", "-url"),
        ("find", "-links"),
        ("seed", " document"),
        ("trans", "cript"),
        ("language", " model"),
        ("sub", "agent"),
    ]
]
MAY_SAY = {("deploy/lock.sh", "index" + "-url")}
"""`--no-emit-…` keeps the host out of the lock; it has to name what it keeps out."""


def foreign_words(text: str) -> Iterator[str]:
    low = text.lower()
    return (word for word in FOREIGN if word in low)


def readable(path: Path) -> str:
    """The text of a file, or nothing for a picture."""
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return ""


def test_no_file_leads_outside() -> None:
    faults = [
        f"{short(path)} says {word!r}"
        for path in project_files()
        for word in foreign_words(readable(path))
        if (short(path), word) not in MAY_SAY
    ]
    assert not faults, "\n".join(faults)


def test_the_top_level_is_exactly_what_was_agreed() -> None:
    assert {path.name for path in ROOT.iterdir() if not is_ignored(path.name)} == TOP_LEVEL


def test_no_link_leads_out_of_the_repository() -> None:
    outside = [
        short(path)
        for path in project_files()
        if path.is_symlink() and not path.resolve().is_relative_to(ROOT)
    ]
    assert not outside


def float_marks(tree: ast.Module) -> list[str]:
    """Every place where `float` is called or promised."""
    return [
        f"line {node.lineno}" for node in ast.walk(tree) if isinstance(node, ast.Name) and node.id == "float"
    ]


AMOUNT_FILES = [
    *(CORE / f"{name}.py" for name in ("quantities", "ledger")),
    *python_files(SERVICE / "records"),
    *python_files(SERVICE / "actions"),
]


# Seconds of waiting, and measured figures of liquids and of air, are no amounts of the book.
NO_AMOUNTS = {
    "engine.py",
    "film_facts.py",
    "film_part.py",
    "find_solvent.py",
    "judge_air.py",
    "judge_film.py",
    "stored_kind.py",
    "judge_ventilation.py",
    "judge_voc.py",
    "mix_components.py",
    "solvent_facts.py",
}


def test_no_amount_is_a_float() -> None:
    faults = [
        f"{short(path)} {mark}: amounts are Decimal or whole numbers"
        for path in AMOUNT_FILES
        for mark in float_marks(parsed(path))
        if path.name not in NO_AMOUNTS
    ]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("line", ["x: float = 1", "def f(a: float | None) -> int: ...", "y = float('1')"])
def test_a_float_is_seen(line: str) -> None:
    assert float_marks(ast.parse(line))


def test_a_foreign_word_is_seen_in_any_letter_case() -> None:
    assert list(foreign_words("see " + FOREIGN[1].upper()))
    assert not list(foreign_words("An oxidising agent; User-Agent; shared between two benches."))
