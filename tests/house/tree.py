"""What the house tests look at: the repository's folder, its files, and one service file as a syntax tree."""

from __future__ import annotations

import ast
import fnmatch
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SERVICE = ROOT / "service"
CORE = SERVICE / "core"
MIGRATIONS = SERVICE / "records" / "migrations" / "versions"


@cache
def _ignored_patterns() -> tuple[str, ...]:
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    return (".git", *(line.strip().rstrip("/") for line in lines if line.strip() and line[0] != "#"))


def is_ignored(name: str) -> bool:
    """Whether a file or folder name is one that never belongs to the project."""
    return any(fnmatch.fnmatch(name, pattern) for pattern in _ignored_patterns())


def project_files(top: Path = ROOT) -> Iterator[Path]:
    """Every file of the project below `top`, in a fixed order."""
    for path in sorted(top.iterdir()):
        if is_ignored(path.name):
            continue
        if path.is_dir():
            yield from project_files(path)
        else:
            yield path


def python_files(*tops: Path) -> list[Path]:
    return [path for top in tops for path in project_files(top) if path.suffix == ".py"]


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def short(path: Path) -> str:
    """The path as people say it: from the top of the repository."""
    return path.relative_to(ROOT).as_posix()
