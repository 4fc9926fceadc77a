"""A real PostgreSQL server of the tests' own: made in a temporary folder, on a socket, gone afterwards."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
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
    durable: bool = False

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

    def _control(self, *words: str) -> None:
        subprocess.run(
            _as_user([find_program("pg_ctl"), "-D", f"{self.folder}/data", "-w", *words]),
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd="/",
        )

    def start(self) -> None:
        """Start it, also after it was halted or killed."""
        options = (
            f"-c listen_addresses='' -c unix_socket_directories={self.folder}/socket -c max_connections=200"
        )
        if not self.durable:
            options += " -c fsync=off -c synchronous_commit=off -c full_page_writes=off"
        try:
            self._control("-l", f"{self.folder}/log", "-o", options, "start")
        except subprocess.CalledProcessError as error:
            said = (self.folder / "log").read_text(encoding="utf-8", errors="replace")
            raise AssertionError(f"PostgreSQL did not start:\n{said[-2000:]}") from error

    def halt(self, mode: str = "fast") -> None:
        """End it as an administrator does (`fast`), or as after a broken backend (`immediate`)."""
        self._control("-m", mode, "stop")

    def kill(self) -> None:
        """SIGKILL to every one of its processes, and wait until they are gone: as if the power went."""
        head = int((self.folder / "data" / "postmaster.pid").read_text(encoding="ascii").split()[0])
        os.kill(head, signal.SIGSTOP)  # else it forks another backend between the list and the kill
        mine = [head, *children(head)]
        for pid in mine:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        # A backend that is still ending holds the shared memory, and the next start would refuse.
        end = time.monotonic() + 20
        while any(_alive(pid) for pid in mine) and time.monotonic() < end:
            time.sleep(0.005)
        # Dead but not buried yet still counts as running; after a real loss of power nobody has that number.
        (self.folder / "data" / "postmaster.pid").unlink()
        (self.folder / "socket" / ".s.PGSQL.5432.lock").unlink()

    def stop(self) -> None:
        """End it and throw its folder away."""
        with suppress(subprocess.CalledProcessError):
            self.halt("immediate")
        shutil.rmtree(self.folder, ignore_errors=True)


def children(parent: int) -> list[int]:
    """The processes that a process has begun and that have not been buried."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            if int((folder / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()[1]) == parent:
                found.append(int(folder.name))
    return found


def _alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def start_postgres(*, durable: bool = False) -> PostgresServer:
    """Make and start a server.

    Args:
        durable: with its own safe settings; otherwise it keeps nothing safe (no sync), which is for tests
            that do not kill it.
    """
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
    server = PostgresServer(folder, durable)
    server.start()
    return server
