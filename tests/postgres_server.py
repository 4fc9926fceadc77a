"""A real PostgreSQL server of the tests' own: made in a temporary folder, on a socket, gone afterwards."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path


def find_program(name: str) -> str:
    """The newest PostgreSQL server program on this machine.

    Raises:
        RuntimeError: none is there; the text names the Debian package.
    """
    folders = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: float(p.parent.name), reverse=True
    )
    for folder in folders:
        if (folder / name).exists():
            return str(folder / name)
    found = shutil.which(name)
    if found is None:
        raise RuntimeError(f"PostgreSQL's {name} is missing: install the Debian package `postgresql`.")
    return found


def _as_user(command: list[str]) -> list[str]:
    """PostgreSQL refuses to run as root; root hands over to an unprivileged user."""
    return ["runuser", "-u", _user(), "--", *command] if os.geteuid() == 0 else command


def _user() -> str:
    import pwd

    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


@dataclass
class PostgresServer:
    """A running server; `url(name)` is the address of one of its databases."""

    folder: Path

    def url(self, name: str) -> str:
        user = _user() if os.geteuid() == 0 else "tester"
        return f"postgresql+psycopg://{user}@/{name}?host={self.folder}/socket"

    def admin(self, statement: str) -> None:
        import psycopg

        user = _user() if os.geteuid() == 0 else "tester"
        with psycopg.connect(
            f"host={self.folder}/socket user={user} dbname=postgres", autocommit=True
        ) as connection:
            connection.execute(statement)  # type: ignore[call-overload,unused-ignore]

    def stop(self) -> None:
        subprocess.run(
            _as_user([find_program("pg_ctl"), "-D", f"{self.folder}/data", "-m", "immediate", "-w", "stop"]),
            check=False,
            capture_output=True,
        )
        shutil.rmtree(self.folder, ignore_errors=True)


def start_postgres() -> PostgresServer:
    """Make and start a server that keeps nothing safe (no sync): it is for tests."""
    folder = Path(tempfile.mkdtemp(prefix="ukpg", dir="/tmp"))
    (folder / "socket").mkdir()
    if os.geteuid() == 0:
        shutil.chown(folder, _user())
        shutil.chown(folder / "socket", _user())
        folder.chmod(0o755)
    user = _user() if os.geteuid() == 0 else "tester"
    subprocess.run(
        _as_user(
            [
                *(find_program("initdb"), "-D", f"{folder}/data", "-A", "trust", "-U", user),
                *("-E", "UTF8", "--no-locale", "--no-sync"),
            ]
        ),
        check=True,
        capture_output=True,
        cwd="/",
    )
    options = (
        f"-c listen_addresses='' -c unix_socket_directories={folder}/socket -c fsync=off"
        " -c synchronous_commit=off -c full_page_writes=off -c max_connections=200"
    )
    subprocess.run(
        _as_user(
            [
                *(find_program("pg_ctl"), "-D", f"{folder}/data", "-w"),
                *("-l", f"{folder}/log", "-o", options, "start"),
            ]
        ),
        check=True,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        cwd="/",
    )
    return PostgresServer(folder)
