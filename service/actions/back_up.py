"""Back up a shop's records while the service runs, and restore such a copy into an empty place.

A copy is a folder: the database (`umberkeep.sqlite`, or `umberkeep.pgdump` from PostgreSQL), the folder
`files`, the heads of the rag log written down so far, and `manifest.sha256`, which `sha256sum -c` reads too.
Beside the copies a head of the rag log is written down anew each time: a log that is rewritten or cut later
then shows.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy

from service.actions.witness import FILE_NAME, append_head, witness_head
from service.config import Settings
from service.core.rag_log import Head
from service.records.database_copies import (
    CopyError,
    check_sqlite,
    copy_postgres,
    copy_sqlite,
    restore_postgres,
    settle_on_disk,
    sqlite_file,
)
from service.records.engine import open_database

SQLITE_NAME = "umberkeep.sqlite"
DUMP_NAME = "umberkeep.pgdump"
MANIFEST = "manifest.sha256"
UNFINISHED = ".unfinished"
"""Ends the name of a copy that is being made, or that broke off. It has no manifest and is never restored."""
RESTORING = "restoring-"
"""Begins the name of what a restore has not put in its place yet."""


def back_up(settings: Settings, into: Path, now: datetime) -> Path:
    """Make one dated copy below ``into`` and answer its folder.

    The copy gets its final name when all of it is on the disk. Whatever breaks it off (a kill, a full disk)
    leaves older copies as they were and at most a folder whose name ends in ``.unfinished``.

    Raises:
        CopyError: there is no database, or it cannot be copied.
        OSError: the folder cannot be written, or its disk is full.
    """
    stamp = now.astimezone(UTC).strftime("%Y-%m-%dT%H%M%SZ")
    final, partial = into / stamp, into / f"{stamp}{UNFINISHED}"
    if final.exists():
        raise CopyError(f"{final} is there already; wait a second.")
    if settings.sqlite and not sqlite_file(settings.database_url).is_file():
        where = sqlite_file(settings.database_url)
        raise CopyError(f"There is no database at {where}: name the shop's folder with --data.")
    partial.mkdir(parents=True, mode=0o700)
    try:
        _fill(settings, into, partial, now, stamp)
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise
    partial.rename(final)
    settle_on_disk(into)
    return final


def _fill(settings: Settings, into: Path, partial: Path, now: datetime, stamp: str) -> None:
    # The heads before the database: a restored log must not seem cut because a head came in between.
    _witness(settings, into, now, stamp)
    if (settings.data / FILE_NAME).is_file():
        shutil.copy2(settings.data / FILE_NAME, partial / FILE_NAME)
    # The database before the files: a file is stored before the row that names it, so each row finds its own.
    if settings.sqlite:
        copy_sqlite(sqlite_file(settings.database_url), partial / SQLITE_NAME)
    else:
        copy_postgres(settings.database_url, partial / DUMP_NAME)
    if settings.files.is_dir():
        shutil.copytree(settings.files, partial / "files")
    lines = [f"{_digest(path)}  {path.relative_to(partial)}\n" for path in _files_below(partial)]
    (partial / MANIFEST).write_text("".join(lines), encoding="utf-8")
    _settle_all(partial)


def _settle_all(folder: Path) -> None:
    for path in (*folder.rglob("*"), folder):
        settle_on_disk(path)


def _files_below(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*")) if path.is_file())


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _witness(settings: Settings, into: Path, now: datetime, stamp: str) -> None:
    """Write the head of the rag log into the data folder and beside the copies."""
    database = open_database(settings.database_url, pooled=False)
    try:
        if not sqlalchemy.inspect(database.engine).has_table("rag_chain_head"):
            return
        with database.writing() as session:
            row = witness_head(session, None, now, settings.data, where=f"back-up {stamp}")
            append_head(into / FILE_NAME, Head(row.count, row.hash, row.at, row.where))
    finally:
        database.dispose()


def check_copy(copy: Path) -> None:
    """Compare a copy with its manifest.

    Raises:
        CopyError: a file is missing, changed or not named, or the copy was never finished.
    """
    manifest = copy / MANIFEST
    if copy.name.endswith(UNFINISHED) or not manifest.is_file():
        raise CopyError(f"{copy} is not a finished copy: it broke off, or it is no copy at all.")
    named = {}
    for line in manifest.read_text(encoding="utf-8").splitlines():
        value, _, name = line.partition("  ")
        named[name] = value
    present = {str(p.relative_to(copy)): p for p in _files_below(copy) if p != manifest}
    wrong = [name for name in named if name not in present or _digest(present[name]) != named[name]]
    wrong += [name for name in present if name not in named]
    if wrong:
        raise CopyError(f"The copy is not as it was made; nothing was restored. Differs: {', '.join(wrong)}")


def restore(settings: Settings, copy: Path) -> None:
    """Put a copy into an empty place. What is already there is never overwritten.

    The embedded database comes to its place last: a restore that broke off leaves no database that a
    service would start on.

    Raises:
        CopyError: the copy is not whole, is of another engine, or the place is not empty.
        OSError: the place cannot be written, or its disk is full.
    """
    check_copy(copy)
    wanted = copy / (SQLITE_NAME if settings.sqlite else DUMP_NAME)
    if not wanted.is_file():
        kind = "SQLite" if settings.sqlite else "PostgreSQL"
        raise CopyError(f"This copy was not made from {kind}, which the settings name.")
    if settings.files.exists():
        raise CopyError(f"{settings.files} is there already: restore into a new folder with --data.")
    settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    if not settings.sqlite:
        restore_postgres(settings.database_url, wanted)
        _bring(copy, settings)
        return
    target = sqlite_file(settings.database_url)
    # A leftover write-ahead log would be played into the restored database.
    if any(target.parent.glob(f"{target.name}*")):
        raise CopyError(f"{target.parent} holds a database: restore into a new folder with --data.")
    check_sqlite(wanted)
    waiting = target.with_name(RESTORING + target.name)
    shutil.copy2(wanted, waiting)
    settle_on_disk(waiting)
    _bring(copy, settings)
    waiting.rename(target)
    settle_on_disk(target.parent)


def _bring(copy: Path, settings: Settings) -> None:
    """The stored files and the heads of the rag log."""
    if (copy / "files").is_dir():
        shutil.copytree(copy / "files", settings.files)
        _settle_all(settings.files)
    if (copy / FILE_NAME).is_file():
        shutil.copy2(copy / FILE_NAME, settings.data / FILE_NAME)
        settle_on_disk(settings.data / FILE_NAME)
