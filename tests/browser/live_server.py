"""A real service in a process of its own, with the invented shop, for the time of the browser tests."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

SIGN_IN = re.compile(r"http://127\.0\.0\.1:\d+/\S+")


def free_port() -> int:
    """A port that was free a moment ago."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def clean_environment() -> dict[str, str]:
    """The environment without settings of ours that the machine may carry."""
    return {k: v for k, v in os.environ.items() if not k.startswith("UMBERKEEP_")} | {"PYTHONUNBUFFERED": "1"}


@dataclass
class LiveServer:
    """`base` is the address without a slash at the end; `data` the shop's folder; `log` what it printed."""

    process: subprocess.Popen[bytes]
    base: str
    data: Path
    log: Path
    env: Mapping[str, str] = field(default_factory=dict)

    def printed(self) -> str:
        return self.log.read_text(encoding="utf-8", errors="replace")

    def first_sign_in(self) -> str:
        """The one-time address that the start printed; it works once."""
        found = SIGN_IN.findall(self.printed())
        assert found, f"No sign-in address was printed:\n{self.printed()}"
        return str(found[0])

    def command(self, *arguments: str) -> str:
        """What `umberkeep …` prints for this shop while it is served."""
        done = subprocess.run(
            [sys.executable, "-m", "service", *arguments, "--data", str(self.data)],
            env=clean_environment() | dict(self.env),
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def sign_in_address(self, *arguments: str) -> str:
        """A fresh one-time address, on this server's port."""
        said = self.command("sign-in-link", *arguments)
        found = re.search(r"https?://[^/\s]+(/\S+)", said)
        assert found, f"No address in: {said}"
        return self.base + found.group(1)

    def stop(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait(timeout=15)


def _answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=2) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False


def start_server(
    folder: Path, wait_s: float = 60, *, demo: bool = True, env: Mapping[str, str] | None = None
) -> LiveServer:
    """Starts the service with the invented shop (or an empty one) and waits until it answers.

    Args:
        env: more of the environment, for the service and the commands of its shop.

    Raises:
        AssertionError: it ended or stayed silent; the text holds what it printed.
    """
    port, data, log = free_port(), folder / "shop", folder / "server.log"
    command = [sys.executable, "-m", "service", "serve", "--data", str(data), "--port", str(port)]
    command += ["--demo"] if demo else []
    more = dict(env or {})
    with log.open("wb") as out:
        process = subprocess.Popen(
            command, stdout=out, stderr=subprocess.STDOUT, env=clean_environment() | more
        )
    server = LiveServer(process, f"http://127.0.0.1:{port}", data, log, more)
    end = time.monotonic() + wait_s
    while time.monotonic() < end:
        if process.poll() is not None:
            raise AssertionError(f"The service ended with {process.returncode}:\n{server.printed()}")
        if _answers(f"{server.base}/health"):
            return server
        time.sleep(0.1)
    server.stop()
    raise AssertionError(f"The service did not answer within {wait_s} s:\n{server.printed()}")
