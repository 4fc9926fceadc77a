"""The floors hold: imports point downward only, core is pure and says what it is and who uses it."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from tests.house.import_rules import (
    FLOORS,
    LEAVES,
    WIRING,
    floor_of,
    import_faults,
    impure_calls,
    time_questions,
)
from tests.house.tree import CORE, SERVICE, parsed, python_files, short


def module_name(path: Path) -> str:
    parts = path.relative_to(SERVICE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def core_files() -> list[Path]:
    """The files of core that hold a subject; a package's own file only names the package."""
    return [path for path in python_files(CORE) if path.name != "__init__.py"]


def test_every_module_has_a_floor() -> None:
    known = {*FLOORS, *LEAVES, *WIRING, ""}
    homeless = [short(p) for p in python_files(SERVICE) if floor_of(module_name(p)) not in known]
    assert not homeless, f"A new top-level subject needs a floor in the design first: {homeless}"
    assert len(python_files(SERVICE)) > 20


def test_imports_point_downward_only() -> None:
    faults = [
        f"{short(path)} {fault}"
        for path in python_files(SERVICE)
        for fault in import_faults(parsed(path), module_name(path), is_package=path.name == "__init__.py")
    ]
    assert not faults, "\n".join(faults)


def test_core_asks_no_clock_and_touches_nothing() -> None:
    faults = [f"{short(path)} {fault}" for path in core_files() for fault in impure_calls(parsed(path))]
    assert not faults, "\n".join(faults)


def test_only_the_clock_asks_the_time() -> None:
    faults = [
        f"{short(path)} {fault}"
        for path in python_files(SERVICE)
        if path.name != "clock.py"
        for fault in time_questions(parsed(path))
    ]
    assert not faults, "\n".join(faults)


def doors(docstring: str) -> list[str]:
    """The files named after `Doors:`, up to the next empty line."""
    found = re.search(r"^Doors: (.+?)(?:\n\s*\n|\Z)", docstring, re.DOTALL | re.MULTILINE)
    return re.findall(r"[\w/.-]+\.(?:py|html)", found.group(1)) if found else []


def test_core_files_say_what_they_are_and_who_uses_them() -> None:
    faults = []
    for path in core_files():
        docstring = ast.get_docstring(parsed(path)) or ""
        first = docstring.partition("\n")[0]
        if not first:
            faults.append(f"{short(path)}: no docstring")
        elif first.startswith("Doors:"):
            faults.append(f"{short(path)}: the first line says what the file is; the doors come after it")
        if not doors(docstring):
            faults.append(f"{short(path)}: no `Doors:` line naming the files that use it")
    assert not faults, "\n".join(faults)


def test_doors_lead_somewhere() -> None:
    faults = [
        f"{short(path)}: its door {door} does not exist"
        for path in core_files()
        for door in doors(ast.get_docstring(parsed(path)) or "")
        if not (SERVICE / door).is_file()
    ]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("service.core.rags", "import sqlmodel"),
        ("service.core.rags", "import os.path"),
        ("service.core.rags", "from service.records import stock"),
        ("service.core.rags", "from service import clock"),
        ("service.core.rags", "def f():\n    from ..records.stock import X"),
        ("service.records.stock", "from service.actions.draw import draw"),
        ("service.records.stock", "from ..web import forms"),
        ("service.actions.draw", "from service.outreach.labels import print_label"),
        ("service.outreach.labels", "import service.actions.draw"),
        ("service.actions.draw", "from service.web.forms import Posted"),
        ("service.web.pages.store", "from service.app import create_app"),
        ("service.config", "from service.records.engine import open_database"),
        ("service.clock", "from service import records"),
        ("service.app", "from service.cli import main"),
        ("service.web.pages.store", "from tests.conftest import NOW"),
    ],
)
def test_the_rule_sees_an_import_that_points_up(module: str, line: str) -> None:
    assert import_faults(ast.parse(line), module)


@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("service.core.rags", "from datetime import UTC, datetime\nfrom service.core.findings import stop"),
        ("service.core.hazards.label", "from ..findings import stop"),
        ("service.actions.draw", "from service.records import stock\nfrom service.clock import Clock"),
        ("service.web.pages.store", "from service.actions.draw import draw\nimport fastapi"),
        ("service.cli", "from service.app import create_app"),
        ("service.records.stock", "import sqlmodel"),
    ],
)
def test_the_rule_lets_an_import_that_points_down_pass(module: str, line: str) -> None:
    assert import_faults(ast.parse(line), module) == []


@pytest.mark.parametrize("line", ["datetime.now(UTC)", "date.today()", "open('x')", "uuid.uuid4()"])
def test_the_rule_sees_a_call_that_is_not_pure(line: str) -> None:
    assert impure_calls(ast.parse(line))


def test_doors_are_read_over_several_lines() -> None:
    text = "What it is.\n\nDoors: records/a.py (why),\nweb/pages/b.py, web/parts/c.html.\n\nNot d.py."
    assert doors(text) == ["records/a.py", "web/pages/b.py", "web/parts/c.html"]
