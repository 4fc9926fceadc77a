"""A file reads in one sitting, a function in one look."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.tree import MIGRATIONS, ROOT, SERVICE, parsed, python_files, short

FILE_LINES = 350
BODY_LINES = 60


def long_functions(tree: ast.Module, limit: int = BODY_LINES) -> Iterator[str]:
    """Functions whose body, without the docstring, has more lines than the limit."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            continue
        body = node.body[1:] if ast.get_docstring(node, clean=False) is not None else node.body
        if body and (lines := (node.end_lineno or 0) - body[0].lineno + 1) > limit:
            yield f"{node.name} has {lines} lines"


def counted() -> list[Path]:
    files = python_files(SERVICE, ROOT / "tests", ROOT / "deploy")
    return [path for path in files if MIGRATIONS not in path.parents]


def test_no_file_is_too_long() -> None:
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in counted()}
    faults = [f"{short(path)} has {n} lines" for path, n in lengths.items() if n > FILE_LINES]
    assert not faults, "\n".join(faults)


def test_no_function_is_too_long() -> None:
    faults = [f"{short(path)}: {fault}" for path in counted() for fault in long_functions(parsed(path))]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("name", ["utils", "helpers", "services", "models", "common", "misc"])
def test_no_file_that_keeps_receiving_things(name: str) -> None:
    found = [short(path) for path in counted() if name in (path.stem, path.parent.name)]
    assert not found


def test_the_counter_counts_the_body_alone() -> None:
    text = 'def f():\n    """Doc\n    more\n    """\n    a = 1\n    return a\n'
    assert list(long_functions(ast.parse(text), limit=2)) == []
    assert list(long_functions(ast.parse(text), limit=1)) == ["f has 2 lines"]
