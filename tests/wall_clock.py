"""The clock on the wall of a service in a process of its own, moved by the test."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path


def library() -> str:
    """Where libfaketime lies.

    Raises:
        RuntimeError: it is not on this machine; the text names the Debian package.
    """
    for folder in ("/usr/lib", "/usr/local/lib"):
        for found in sorted(Path(folder).glob("**/faketime/libfaketime.so.1")):
            return str(found)
    raise RuntimeError("libfaketime is missing: install the Debian package `libfaketime`.")


class Wall:
    """The clock on the wall of a service, set by a file."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.set(timedelta())

    def set(self, to: timedelta | datetime) -> None:
        """So far from the true time, or to an aware instant; it runs on from there."""
        ahead = to if isinstance(to, timedelta) else to - datetime.now(UTC)
        waiting = self.file.with_suffix(".new")
        waiting.write_text(f"{int(ahead.total_seconds()):+d}\n", encoding="ascii")
        waiting.replace(self.file)

    def environment(self) -> dict[str, str]:
        """What a process needs to see this clock; what counts seconds for waiting stays true."""
        return {
            "LD_PRELOAD": library(),
            "FAKETIME_TIMESTAMP_FILE": str(self.file),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
        }
