"""The page on checking the rag log: its own lines of Python, run on a saved log by a bare interpreter."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from service.outreach.csv_tables import rag_log_rows, written
from service.records.engine import Database
from tests.house.tree import ROOT
from tests.rag_shop import make_shop

PAGE = (ROOT / "deploy" / "check-rag-log.md").read_text(encoding="utf-8")


@pytest.fixture
def saved(database: Database, tmp_path: Path) -> Path:
    shop = make_shop(database)
    shop.draw()
    shop.pass_by(minutes=5)
    shop.into_can(note='=cmd|"x"; a; quote " and\ttab')
    path = tmp_path / "rag-log.csv"
    with database.reading() as session:
        path.write_bytes("".join(written(rag_log_rows(session))).encode())
    return path


def check(path: Path) -> subprocess.CompletedProcess[str]:
    found = re.search(r"```python\n(.*?)```", PAGE, re.DOTALL)
    assert found is not None and len(found[1].strip().splitlines()) <= 16
    command = [sys.executable, "-I", "-c", found[1], str(path)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_a_dozen_lines_find_it_unbroken(saved: Path) -> None:
    done = check(saved)
    assert done.returncode == 0, done.stderr
    assert "Unbroken. Head: " in done.stdout and done.stdout.startswith("1 ")


@pytest.mark.parametrize("edit", ["change", "delete", "swap"])
def test_and_find_where_it_was_tampered_with(saved: Path, edit: str) -> None:
    lines = saved.read_bytes().split(b"\r\n")
    assert len(lines) >= 5  # header, three entries, the end
    if edit == "change":
        body = lines[2].index(b"{")  # the columns before it are not hashed
        lines[2] = lines[2][:body] + lines[2][body:].replace(b"draw", b"drew", 1)
    if edit == "delete":
        del lines[2]
    if edit == "swap":
        lines[2], lines[3] = lines[3], lines[2]
    saved.write_bytes(b"\r\n".join(lines))
    done = check(saved)
    assert done.returncode == 1 and "breaks at entry 2" in done.stderr
