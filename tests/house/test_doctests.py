"""The examples in core's docstrings are true."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

import pytest

from tests.house.tree import CORE, ROOT, SERVICE, python_files, short

WITH_EXAMPLES = [
    path
    for path in [*python_files(CORE), *python_files(SERVICE / "records"), SERVICE / "config.py"]
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=short)
def test_examples_are_true(path: Path) -> None:
    dotted = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    result = doctest.testmod(importlib.import_module(dotted), optionflags=doctest.ELLIPSIS)
    assert result.attempted > 0
    assert result.failed == 0


def test_core_has_examples() -> None:
    assert len([path for path in WITH_EXAMPLES if CORE in path.parents]) >= 5
