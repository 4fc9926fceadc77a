"""Backs up a shop's records while the service runs, and restores such a copy into an empty place.

A copy is a folder: the database (`umberkeep.sqlite`, or `umberkeep.pgdump` from PostgreSQL), the folder
`files`, the heads of the rag log written down so far, and `manifest.sha256`, which `sha256sum -c` reads too.
Beside the copies a head of the rag log is written down anew each time: a log that is rewritten or cut later
then shows. Called by backup.sh and restore.sh.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy

from service.actions.witness import FILE_NAME, Head, append_head, witness_head
from service.config import SettingError, Settings, read_settings
from service.records.engine import open_database, sqlite_module

SQLITE_NAME = "umberkeep.sqlite"
DUMP_NAME = "umberkeep.pgdump"
MANIFEST = "manifest.sha256"


class CopyError(Exception):
    """Why no copy was made or restored; the text is shown as it stands."""


def database_file(settings: Settings) -> Path:
    """Where the embedded database lies."""
    return Path(settings.database_url.removeprefix("sqlite:///"))


def check_sqlite(path: Path) -> None:
    """Raises CopyError unless the database file is whole and no row points at nothing."""
    connection = sqlite_module().connect(str(path))
    try:
        found = [row[0] for row in connection.execute("PRAGMA integrity_check(5)")]
        orphans = connection.execute("PRAGMA foreign_key_check").fetchall()
    finally:
        connection.close()
    if found != ["ok"] or orphans:
        raise CopyError(f"{path.name} is damaged: {'; '.join(found)}; {len(orphans)} rows point at nothing.")


def copy_sqlite(source: Path, target: Path) -> None:
    """A consistent copy of a database that may be in use."""
    if not source.is_file():
        raise CopyError(f"There is no database at {source}: name the shop's folder with --data.")
    # The main file alone lacks what still sits in the write-ahead log; only the engine sees both as one.
    connection = sqlite_module().connect(str(source), timeout=30)
    try:
        connection.execute("VACUUM INTO ?", (str(target),))
    finally:
        connection.close()
    with target.open("rb+") as file:
        os.fsync(file.fileno())
    check_sqlite(target)


def postgres_program(name: str) -> str:
    """The newest program of that name: an older pg_dump refuses a newer server."""
    found = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda p: float(p.parts[-3]), reverse=True
    )
    program = str(found[0]) if found else shutil.which(name)
    if program is None:
        raise CopyError(f"{name} is missing: install the Debian package postgresql-client.")
    return program


def postgres_access(url: str) -> tuple[str, Mapping[str, str]]:
    """The address without its password, and the environment that carries the password unseen by `ps`."""
    from psycopg.conninfo import conninfo_to_dict, make_conninfo

    parts = conninfo_to_dict(url.replace("postgresql+psycopg://", "postgresql://", 1))
    password = parts.pop("password", None)
    extra = {"PGPASSWORD": str(password)} if password else {}
    return make_conninfo("", **parts), {**os.environ, **extra}


def run_postgres(command: list[str], env: Mapping[str, str]) -> None:
    done = subprocess.run(command, env=dict(env), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise CopyError(f"{Path(command[0]).name} ended with: {done.stderr.strip()}")


def copy_postgres(url: str, target: Path) -> None:
    address, env = postgres_access(url)
    command = [postgres_program("pg_dump"), "--format=custom", "--no-owner", "--no-privileges"]
    run_postgres([*command, f"--file={target}", f"--dbname={address}"], env)


def restore_postgres(url: str, dump: Path) -> None:
    """Restores into an empty database, whole or not at all."""
    import psycopg

    address, env = postgres_access(url)
    with psycopg.connect(address, password=env.get("PGPASSWORD")) as connection:
        row = connection.execute(
            "SELECT count(*) FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema')"
        ).fetchone()
    if row is None or row[0]:
        raise CopyError("The PostgreSQL database is not empty: make a new one and name it in the address.")
    command = [postgres_program("pg_restore"), "--exit-on-error", "--single-transaction", "--no-owner"]
    run_postgres([*command, "--no-privileges", f"--dbname={address}", str(dump)], env)


def files_below(folder: Path) -> Iterator[Path]:
    return (path for path in sorted(folder.rglob("*")) if path.is_file())


def digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def check_copy(copy: Path) -> None:
    """Raises CopyError when a file of the copy is missing, changed, or not in its manifest."""
    manifest = copy / MANIFEST
    if not manifest.is_file():
        raise CopyError(f"{copy} is not a finished copy: it has no {MANIFEST}.")
    named = {}
    for line in manifest.read_text(encoding="utf-8").splitlines():
        value, _, name = line.partition("  ")
        named[name] = value
    present = {str(p.relative_to(copy)): p for p in files_below(copy) if p != manifest}
    wrong = [name for name in named if name not in present or digest(present[name]) != named[name]]
    wrong += [name for name in present if name not in named]
    if wrong:
        raise CopyError(f"The copy is not as it was made; nothing was restored. Differs: {', '.join(wrong)}")


def witness(settings: Settings, into: Path, now: datetime, stamp: str) -> None:
    """Writes the head of the rag log into the data folder and beside the copies."""
    database = open_database(settings.database_url, pooled=False)
    try:
        if not sqlalchemy.inspect(database.engine).has_table("rag_chain_head"):
            return
        with database.writing() as session:
            row = witness_head(session, None, now, settings.data, where=f"back-up {stamp}")
            append_head(into / FILE_NAME, Head(row.count, row.hash, row.at, row.where))
    finally:
        database.dispose()


def back_up(settings: Settings, into: Path) -> Path:
    """Makes one dated copy below `into`; a copy that broke off is never under its final name."""
    now = datetime.now(UTC)
    stamp = now.strftime("%Y-%m-%dT%H%M%SZ")
    final, partial = into / stamp, into / f"{stamp}.unfinished"
    if final.exists():
        raise CopyError(f"{final} is there already; wait a second.")
    partial.mkdir(parents=True, mode=0o700)
    # The heads before the database: a restored log must not seem cut because a head came in between.
    if not settings.sqlite or database_file(settings).is_file():
        witness(settings, into, now, stamp)
    if (settings.data / FILE_NAME).is_file():
        shutil.copy2(settings.data / FILE_NAME, partial / FILE_NAME)
    # The database before the files: a file is stored before the row that names it, so each row finds its own.
    if settings.sqlite:
        copy_sqlite(database_file(settings), partial / SQLITE_NAME)
    else:
        copy_postgres(settings.database_url, partial / DUMP_NAME)
    if settings.files.is_dir():
        shutil.copytree(settings.files, partial / "files")
    lines = [f"{digest(path)}  {path.relative_to(partial)}\n" for path in files_below(partial)]
    (partial / MANIFEST).write_text("".join(lines), encoding="utf-8")
    partial.rename(final)
    return final


def restore(settings: Settings, copy: Path) -> None:
    """Puts a copy into an empty place. What is already there is never overwritten."""
    check_copy(copy)
    wanted = copy / (SQLITE_NAME if settings.sqlite else DUMP_NAME)
    if not wanted.is_file():
        kind = "SQLite" if settings.sqlite else "PostgreSQL"
        raise CopyError(f"This copy was not made from {kind}, which the settings name.")
    if settings.files.exists():
        raise CopyError(f"{settings.files} is there already: restore into a new folder with --data.")
    settings.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    if settings.sqlite:
        target = database_file(settings)
        # A leftover write-ahead log would be played into the restored database.
        if any(target.parent.glob(f"{target.name}*")):
            raise CopyError(f"{target.parent} holds a database: restore into a new folder with --data.")
        check_sqlite(wanted)
        shutil.copy2(wanted, target)
    else:
        restore_postgres(settings.database_url, wanted)
    if (copy / "files").is_dir():
        shutil.copytree(copy / "files", settings.files)
    if (copy / FILE_NAME).is_file():
        shutil.copy2(copy / FILE_NAME, settings.data / FILE_NAME)


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="sh deploy/backup.sh or restore.sh")
    commands = parser.add_subparsers(dest="command", required=True)
    making = commands.add_parser("backup", prog="sh deploy/backup.sh", description=back_up.__doc__)
    making.add_argument("--to", type=Path, help="folder that takes the dated copy (default: DATA/backups)")
    taking = commands.add_parser("restore", prog="sh deploy/restore.sh", description=restore.__doc__)
    taking.add_argument("copy", type=Path, help="the dated folder that backup.sh made")
    for command in (making, taking):
        command.add_argument(
            "--data", help="the shop's data folder (default: UMBERKEEP_DATA, else .data/shop)"
        )
    given = parser.parse_args(arguments)
    try:
        settings = read_settings(data=given.data)
        if given.command == "backup":
            sys.stdout.write(f"{back_up(settings, given.to or settings.data / 'backups')}\n")
        else:
            restore(settings, given.copy)
            sys.stdout.write(f"Restored into {settings.data}. Now run `umberkeep check-ledger`.\n")
    except (CopyError, SettingError, OSError, sqlite_module().Error) as error:
        sys.stderr.write(f"{error}\n")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
