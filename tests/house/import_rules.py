"""Which floor a module lives on, which modules a file imports, and what each floor may take from below."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator

FLOORS = ("core", "records", "actions", "outreach", "web")
WIRING = ("app", "sending", "serving", "demo_loader", "cli", "__main__")
LEAVES = ("clock", "config")
"""Usable by every floor above core; they themselves stand on core alone."""

MAY_IMPORT = {
    "core": {"core"},
    "clock": {"core"},
    "config": {"core"},
    "records": {"core", "records", *LEAVES},
    "actions": {"core", "records", "actions", *LEAVES},
    "outreach": {"core", "records", "outreach", *LEAVES},
    "web": {*FLOORS, *LEAVES},
    "app": {*FLOORS, *LEAVES},
    "demo_loader": {"core", "records", "actions", "demo_loader", *LEAVES},
    "sending": {"core", "records", "actions", "outreach", *LEAVES},
    "serving": {*FLOORS, *LEAVES, "app", "demo_loader", "sending"},
    "cli": {*FLOORS, *LEAVES, "app", "sending", "serving"},
    "__main__": {"cli"},
}

CORE_LIBRARIES: frozenset[str] = frozenset({"holidays", "thermo"})
"""General libraries of knowledge that core may use besides the standard library."""

IMPURE = frozenset(
    {
        "asyncio", "ftplib", "getpass", "glob", "http", "importlib", "locale", "logging", "multiprocessing",
        "os", "pathlib", "random", "secrets", "shutil", "signal", "smtplib", "socket", "sqlite3", "ssl",
        "subprocess", "tempfile", "threading", "time", "tkinter", "urllib", "webbrowser",
    }
)  # fmt: skip
"""Parts of the standard library that read a clock, dice, files, the environment or a network."""

CLOCK_CALLS = frozenset({"now", "today", "utcnow"})
CLOCK_OWNERS = frozenset({"datetime", "date", "dt"})
IMPURE_CALLS = frozenset({"open", "print", "input", "exec", "eval", "__import__", "uuid1", "uuid4", "getenv"})


def imported(tree: ast.Module, module: str, *, is_package: bool = False) -> Iterator[tuple[int, str]]:
    """Line and full dotted name of every import, wherever it stands, relative ones resolved.

    `from service import core` counts as `service.core`: the name after `from` may be a module.
    """
    package = module if is_package else module.rpartition(".")[0]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parts = package.split(".")
                above = ".".join(parts[: len(parts) - node.level + 1])
                base = f"{above}.{base}" if base else above
            yield from ((node.lineno, f"{base}.{alias.name}") for alias in node.names)


def floor_of(dotted: str) -> str:
    """The floor of a dotted name inside service: `service.core.rags` is on `core`; `service` is no floor."""
    parts = dotted.split(".")
    return parts[1] if len(parts) > 1 and parts[0] == "service" else ""


def import_faults(tree: ast.Module, module: str, *, is_package: bool = False) -> list[str]:
    """One sentence for each import that this module's floor may not make."""
    own = floor_of(module)
    faults = []
    for line, name in imported(tree, module, is_package=is_package):
        top = name.split(".")[0]
        floor = floor_of(name)
        if top == "service" and floor in MAY_IMPORT and floor not in MAY_IMPORT.get(own, set()):
            faults.append(f"line {line}: {own or 'service'} may not import {name}")
        if top in {"tests", "deploy"}:
            faults.append(f"line {line}: {name} is not part of the service")
        if own != "core" or top == "service":
            continue
        if top in IMPURE:
            faults.append(f"line {line}: core may not import {name}: it is not pure")
        elif top not in sys.stdlib_module_names and top not in CORE_LIBRARIES:
            faults.append(f"line {line}: core may not import {name}: only the standard library and core")
    return faults


def _last_name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else getattr(node, "attr", "")


def time_questions(tree: ast.Module) -> list[str]:
    """One sentence for each `datetime.now()`, `date.today()` or `time.time()`."""
    faults = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            owner, asked = _last_name(node.func.value), node.func.attr
            if (owner in CLOCK_OWNERS and asked in CLOCK_CALLS) or (owner, asked) == ("time", "time"):
                faults.append(f"line {node.lineno}: {owner}.{asked}() asks the time; take it as a parameter")
    return faults


def impure_calls(tree: ast.Module) -> list[str]:
    """One sentence for each call that asks the time, throws dice or touches the outside."""
    called = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return time_questions(tree) + [
        f"line {node.lineno}: {_last_name(node.func)}() is not pure"
        for node in called
        if _last_name(node.func) in IMPURE_CALLS
    ]
