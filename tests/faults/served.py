"""A server process that a test starts, kills and starts again on the same port and the same books."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.browser.live_server import clean_environment, free_port

ROOT = Path(__file__).resolve().parents[2]


class Nursery:
    """The process that forks servers; see quick_server."""

    def __init__(self, **env: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.quick_server"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env=clean_environment() | env,
        )
        self._turn = threading.Lock()
        assert "ready" in self._answer()

    def _answer(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        assert line, f"the process that forks servers ended with {self._process.poll()}"
        return dict(json.loads(line))

    def order(self, **what: Any) -> dict[str, Any]:
        assert self._process.stdin is not None
        with self._turn:
            self._process.stdin.write(json.dumps(what) + "\n")
            self._process.stdin.flush()
            return self._answer()

    def begin(self, log: Path, *words: object, url: str = "", **more: Any) -> int:
        """Begin the command `umberkeep …` in a process of its own; its pid."""
        env = {"UMBERKEEP_DATABASE_URL": url} if url else {}
        order = {"words": [str(word) for word in words], "env": env, "log": str(log)}
        return int(self.order(do="command", **order, **more)["pid"])

    def ended(self, pid: int) -> int:
        """Wait until a process has ended; its exit code, negative for a signal."""
        return int(self.order(do="wait", pid=pid, block=True)["code"])

    def run(self, log: Path, *words: object, url: str = "", **more: Any) -> tuple[int, str]:
        """Run a command; its exit code and what it printed."""
        log.unlink(missing_ok=True)
        code = self.ended(self.begin(log, *words, url=url, **more))
        return code, log.read_text(encoding="utf-8").strip()

    def close(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(timeout=20)
        if self._process.stdout is not None:
            self._process.stdout.close()


@contextmanager
def nursery(**env: str) -> Iterator[Nursery]:
    """The process that forks servers, with so much more in its environment and theirs."""
    made = Nursery(**env)
    try:
        yield made
    finally:
        made.close()


@dataclass
class Served:
    """A service on `data` (and `url`, empty = SQLite there). It may be down at any time.

    `waiting_s` holds the seconds of every start until `/health` answered.
    """

    nursery: Nursery
    data: Path
    url: str = ""
    env: Mapping[str, str] = field(default_factory=dict)
    port: int = field(default_factory=free_port)
    pid: int = 0
    waiting_s: list[float] = field(default_factory=list)

    @property
    def log(self) -> Path:
        return self.data.parent / f"server-{self.port}.log"

    def printed(self) -> str:
        return self.log.read_text(encoding="utf-8", errors="replace") if self.log.exists() else ""

    def start(self, *, ready: bool = True) -> None:
        """Start it; with `ready`, come back when it answers."""
        env = dict(self.env) | ({"UMBERKEEP_DATABASE_URL": self.url} if self.url else {})
        began = time.monotonic()
        order = {"data": str(self.data), "port": self.port, "env": env, "log": str(self.log)}
        self.pid = int(self.nursery.order(do="start", **order)["pid"])
        if ready:
            self.await_answer()
            self.waiting_s.append(time.monotonic() - began)

    def await_answer(self, wait_s: float = 120, *, path: str = "/health", status: int = 200) -> None:
        """Wait until ``path`` answers with ``status``; if in vain, its log ends with where it stands."""
        end = time.monotonic() + wait_s
        seen: object = None
        while time.monotonic() < end:
            with suppress(OSError, http.client.HTTPException):
                seen, _, body = self.get(path)
                if seen == status:
                    return
                seen = (seen, body[:300])
            code = self.nursery.order(do="wait", pid=self.pid, block=False)["code"] if self.pid else None
            if code is not None:
                self.pid = 0
                raise AssertionError(f"The service ended with {code}:\n{self.printed()[-4000:]}")
            time.sleep(0.01)
        if self.pid:
            self.signal(signal.SIGUSR1)
            time.sleep(1)
        raise AssertionError(f"{path} said {seen} instead of {status}:\n{self.printed()[-4000:]}")

    def get(
        self, path: str, headers: Mapping[str, str] | None = None, timeout: float = 10
    ) -> tuple[int, Mapping[str, str], bytes]:
        return self.ask("GET", path, headers, timeout=timeout)

    def ask(
        self,
        method: str,
        path: str,
        headers: Mapping[str, str] | None = None,
        body: str | bytes | None = None,
        timeout: float = 30,
    ) -> tuple[int, Mapping[str, str], bytes]:
        """One request on a connection of its own: status, headers in small letters, body."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.request(method, path, body, dict(headers or {}))
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()

    def signal(self, number: signal.Signals) -> None:
        os.kill(self.pid, number)

    def wait(self) -> int:
        """Wait for its end; its exit code, negative for a signal."""
        code = self.nursery.ended(self.pid)
        self.pid = 0
        return code

    def kill(self) -> None:
        """SIGKILL: nothing of the program runs any more."""
        self.signal(signal.SIGKILL)
        assert self.wait() == -signal.SIGKILL

    def stop(self) -> None:
        """Ask it to end; kill it after ten seconds."""
        if not self.pid:
            return
        self.signal(signal.SIGTERM)
        end = time.monotonic() + 10
        while time.monotonic() < end:
            if self.nursery.order(do="wait", pid=self.pid, block=False)["code"] is not None:
                self.pid = 0
                return
            time.sleep(0.01)
        self.kill()
