"""A consistent copy of a database that may be in use, and a copy put into an empty place, on both engines."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Mapping
from pathlib import Path

from service.records.engine import sqlite_module
from service.records.whole_sqlite import faults_of

COPY_WAIT_S = 30
"""Seconds a copy waits for a database that somebody holds."""


class CopyError(Exception):
    """Why no copy was made or restored; the text is shown as it stands."""


def sqlite_file(database_url: str) -> Path:
    """Where an embedded database lies.

    >>> sqlite_file("sqlite:////var/lib/shop/umberkeep.sqlite").name
    'umberkeep.sqlite'
    """
    return Path(database_url.removeprefix("sqlite:///"))


def check_sqlite(path: Path) -> None:
    """Go through the whole file, as `whole_sqlite.faults_of` says.

    Raises:
        CopyError: it is damaged, or a row points at nothing.
    """
    try:
        found = faults_of(path)
    except sqlite_module().Error as error:
        raise CopyError(f"{path.name} is damaged: {error}.") from error
    if found:
        raise CopyError(f"{path.name} is damaged: {'; '.join(found)}.")


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy every commit made before this begins, and none that is open; on the disk when this returns.

    Raises:
        CopyError: there is no database, it cannot be read, or the disk of the copy is full.
    """
    if not source.is_file():
        raise CopyError(f"There is no database at {source}: name the shop's folder with --data.")
    # The main file alone lacks what still sits in the write-ahead log; only the engine sees both as one.
    try:
        connection = sqlite_module().connect(str(source), timeout=COPY_WAIT_S)
        try:
            connection.execute("VACUUM INTO ?", (str(target),))
        finally:
            connection.close()
    except sqlite_module().Error as error:
        raise CopyError(f"The database could not be copied: {error}.") from error
    settle_on_disk(target)
    check_sqlite(target)


def settle_on_disk(path: Path) -> None:
    """Wait until a file, or the list of names of a folder, is on the disk.

    Raises:
        OSError: the disk refuses it.
    """
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def postgres_program(name: str) -> str:
    """The newest program of that name: an older pg_dump refuses a newer server.

    Raises:
        CopyError: none is there; the text names the Debian package.
    """
    found = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{name}"),
        key=lambda path: [int(part) for part in path.parts[-3].split(".") if part.isdigit()],
        reverse=True,
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


def _run(command: list[str], env: Mapping[str, str]) -> None:
    done = subprocess.run(command, env=dict(env), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise CopyError(f"{Path(command[0]).name} ended with: {done.stderr.strip()}")


def copy_postgres(url: str, target: Path) -> None:
    """Dump one snapshot of a database in use; on the disk when this returns.

    Raises:
        CopyError: the server is away, too new for the program, or the disk of the copy is full.
    """
    address, env = postgres_access(url)
    command = [postgres_program("pg_dump"), "--format=custom", "--no-owner", "--no-privileges"]
    _run([*command, f"--file={target}", f"--dbname={address}"], env)
    settle_on_disk(target)


def restore_postgres(url: str, dump: Path) -> None:
    """Restore into an empty database, whole or not at all.

    Raises:
        CopyError: the database holds tables already, the server is away, or the dump is damaged.
    """
    import psycopg

    address, env = postgres_access(url)
    try:
        with psycopg.connect(address, password=env.get("PGPASSWORD")) as connection:
            row = connection.execute(
                "SELECT count(*) FROM pg_tables WHERE schemaname NOT IN ('pg_catalog', 'information_schema')"
            ).fetchone()
    except psycopg.Error as error:
        raise CopyError(f"The PostgreSQL database cannot be reached: {error}") from error
    if row is None or row[0]:
        raise CopyError("The PostgreSQL database is not empty: make a new one and name it in the address.")
    command = [postgres_program("pg_restore"), "--exit-on-error", "--single-transaction", "--no-owner"]
    _run([*command, "--no-privileges", f"--dbname={address}", str(dump)], env)
