"""Back-up while somebody writes, restore into an empty place; nothing is overwritten, damage is found."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from service.records.engine import sqlite_module
from tests.house.tree import ROOT
from tests.postgres_server import PostgresServer


def copies(*arguments: str | Path, url: str = "") -> subprocess.CompletedProcess[str]:
    env = {"PATH": "/usr/bin:/bin", "LANG": "C.UTF-8"} | ({"UMBERKEEP_DATABASE_URL": url} if url else {})
    command = [sys.executable, "-m", "service", *map(str, arguments)]
    return subprocess.run(
        command, env=env, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120
    )


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A data folder with an embedded database in WAL mode and one stored sheet."""
    data = tmp_path / "the shop"
    (data / "files" / "ab").mkdir(parents=True)
    (data / "files" / "ab" / "sheet").write_bytes(b"%PDF sheet")
    return data


def test_a_back_up_writes_the_head_of_the_rag_log_down(sqlite_template: Path, tmp_path: Path) -> None:
    data, disk, new = tmp_path / "shop", tmp_path / "disk", tmp_path / "new"
    data.mkdir()
    shutil.copy(sqlite_template, data / "umberkeep.sqlite")
    made = copies("backup", "--data", data, "--to", disk)
    assert made.returncode == 0, made.stderr
    line = (disk / "witnessed-heads.txt").read_text(encoding="utf-8").splitlines()[-1]
    count, digest, _, where = line.split("\t")
    assert (count, len(digest), where.split()[0]) == ("0", 64, "back-up")
    assert (data / "witnessed-heads.txt").read_text(encoding="utf-8").splitlines()[-1] == line
    assert copies("restore", made.stdout.strip(), "--data", new).returncode == 0
    assert line in (new / "witnessed-heads.txt").read_text(encoding="utf-8")


def rows(path: Path) -> list[int]:
    connection = sqlite_module().connect(str(path))
    try:
        return [row[0] for row in connection.execute("SELECT n FROM t ORDER BY n")]
    finally:
        connection.close()


def test_a_copy_holds_what_is_committed_and_nothing_else(shop: Path, tmp_path: Path) -> None:
    writer = sqlite_module().connect(str(shop / "umberkeep.sqlite"), isolation_level=None)
    writer.execute("PRAGMA journal_mode=WAL")
    writer.execute("CREATE TABLE t (n INTEGER PRIMARY KEY)")
    writer.execute("INSERT INTO t VALUES (1), (2)")
    writer.execute("BEGIN IMMEDIATE")
    writer.execute("INSERT INTO t VALUES (3)")  # open, not committed
    assert (shop / "umberkeep.sqlite-wal").stat().st_size > 0

    made = copies("backup", "--data", shop, "--to", tmp_path / "disk two")
    assert made.returncode == 0, made.stderr
    writer.execute("COMMIT")
    writer.close()
    copy = Path(made.stdout.strip())
    assert copy.parent == tmp_path / "disk two"

    new = tmp_path / "new shop"
    restored = copies("restore", copy, "--data", new)
    assert restored.returncode == 0, restored.stderr
    assert rows(new / "umberkeep.sqlite") == [1, 2]
    assert (new / "files" / "ab" / "sheet").read_bytes() == b"%PDF sheet"
    assert rows(shop / "umberkeep.sqlite") == [1, 2, 3]


@pytest.fixture
def copy(shop: Path, tmp_path: Path) -> Path:
    database = sqlite_module().connect(str(shop / "umberkeep.sqlite"))
    database.execute("CREATE TABLE t (n INTEGER PRIMARY KEY)")
    database.execute("INSERT INTO t VALUES (1)")
    database.commit()
    database.close()
    return Path(copies("backup", "--data", shop, "--to", tmp_path / "to").stdout.strip())


def test_restore_overwrites_nothing(shop: Path, copy: Path) -> None:
    before = (shop / "umberkeep.sqlite").read_bytes()
    refused = copies("restore", copy, "--data", shop)
    assert refused.returncode == 1
    assert "restore into a new folder" in refused.stderr
    assert (shop / "umberkeep.sqlite").read_bytes() == before


def test_a_leftover_write_ahead_log_stops_a_restore(copy: Path, tmp_path: Path) -> None:
    new = tmp_path / "new"
    new.mkdir()
    (new / "umberkeep.sqlite-wal").write_bytes(b"old")
    assert "restore into a new folder" in copies("restore", copy, "--data", new).stderr


@pytest.mark.parametrize("harm", ["changed", "missing", "added", "unfinished"])
def test_a_copy_that_is_not_as_it_was_made_is_refused(copy: Path, tmp_path: Path, harm: str) -> None:
    sheet = copy / "files" / "ab" / "sheet"
    if harm == "changed":
        sheet.write_bytes(b"%PDF other")
    elif harm == "missing":
        sheet.unlink()
    elif harm == "added":
        (copy / "files" / "more").write_bytes(b"x")
    else:
        (copy / "manifest.sha256").unlink()
    refused = copies("restore", copy, "--data", tmp_path / "new")
    assert refused.returncode == 1
    assert not (tmp_path / "new").exists()


def test_the_manifest_is_one_that_the_usual_tool_reads(copy: Path) -> None:
    subprocess.run(["sha256sum", "--check", "--strict", "--quiet", "manifest.sha256"], cwd=copy, check=True)


def test_no_database_is_said(tmp_path: Path) -> None:
    refused = copies("backup", "--data", tmp_path / "nowhere")
    assert refused.returncode == 1
    assert refused.stderr.startswith("There is no database at")


def test_postgresql_is_dumped_and_restored_into_an_empty_database(
    postgres_server: PostgresServer, tmp_path: Path
) -> None:
    import psycopg

    def plain(name: str) -> str:
        return postgres_server.url(name).replace("+psycopg", "")

    for name in ("copy_from", "copy_into"):
        postgres_server.admin(f"CREATE DATABASE {name}")
    with psycopg.connect(plain("copy_from")) as connection:
        connection.execute("CREATE TABLE t AS SELECT generate_series(1, 3) AS n")
    data = tmp_path / "data"
    made = copies("backup", "--data", data, url=plain("copy_from"))
    assert made.returncode == 0, made.stderr
    copy = made.stdout.strip()

    restored = copies("restore", copy, "--data", tmp_path / "new", url=plain("copy_into"))
    assert restored.returncode == 0, restored.stderr
    with psycopg.connect(plain("copy_into")) as connection:
        assert connection.execute("SELECT sum(n) FROM t").fetchone() == (6,)

    again = copies("restore", copy, "--data", tmp_path / "third", url=plain("copy_into"))
    assert "not empty" in again.stderr
    assert "not made from SQLite" in copies("restore", copy, "--data", tmp_path / "fourth").stderr
    for name in ("copy_from", "copy_into"):
        postgres_server.admin(f"DROP DATABASE {name}")
