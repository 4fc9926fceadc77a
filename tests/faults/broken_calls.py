"""Makes the n-th system call of a running process fail, or kills the process at it, with strace."""

from __future__ import annotations

import re
import signal
import subprocess
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

CALLS = ("pwrite64", "fsync", "fdatasync", "ftruncate", "unlink")
"""By which SQLite brings something to the disk, changes a file's size or takes a file away."""


@contextmanager
def traced(pid: int, log: Path, *inject: str) -> Iterator[subprocess.Popen[str]]:
    """strace on a process and all its threads, as long as the block lasts.

    Args:
        inject: such as `fsync:error=EIO:when=1` or `pwrite64:signal=KILL:when=7`. Each thread counts its own
            calls from here on; a single client is served by a single thread.

    Raises:
        RuntimeError: strace is missing or may not look at the process; the text says what it said.
    """
    command = ["strace", "-f", "-p", str(pid), "-o", str(log), "-e", "trace=" + ",".join(CALLS)]
    for one in inject:
        command += ["-e", f"inject={one}"]
    try:
        tracer = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    except FileNotFoundError as error:
        raise RuntimeError("strace is missing: install the Debian package `strace`.") from error
    assert tracer.stderr is not None
    said = tracer.stderr.readline()
    if "attached" not in said:
        tracer.kill()
        raise RuntimeError(f"strace could not be put onto the service: {said}{tracer.stderr.read()}")
    try:
        yield tracer
    finally:
        if tracer.poll() is None:
            tracer.send_signal(signal.SIGINT)
        tracer.communicate(timeout=20)


def seen(log: Path) -> Counter[str]:
    """How often each call stands in a log of strace."""
    return Counter(re.findall(r"^\d+ +(\w+)\(", log.read_text(encoding="utf-8", errors="replace"), re.M))


def struck(log: Path) -> bool:
    """Whether a call was made to fail."""
    return "(INJECTED)" in log.read_text(encoding="utf-8", errors="replace")


def spread(total: int, many: int) -> list[int]:
    """At most so many numbers from 1 to `total`, evenly, the first and the last among them.

    >>> spread(52, 4), spread(2, 4), spread(0, 4)
    ([1, 18, 35, 52], [1, 2], [])
    """
    if total <= many:
        return list(range(1, total + 1))
    return sorted({1 + round(step * (total - 1) / (many - 1)) for step in range(many)})
