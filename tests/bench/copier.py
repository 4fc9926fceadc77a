"""A checked copy made by a process of its own, as `umberkeep backup` is one: `python -m tests.bench.copier`.

It has no lower priority, so that the wait of the writers is the worst there is; the timer's unit has one.

It says "ready" when it is loaded, makes one copy for each line "source<tab>target" it is given, and answers
each with the milliseconds it took.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from service.records.database_copies import copy_sqlite


def main() -> None:
    _say("ready")
    for line in sys.stdin:
        source, target = map(Path, line.rstrip("\n").split("\t"))
        started = time.perf_counter()
        copy_sqlite(source, target)
        _say(str((time.perf_counter() - started) * 1000))


def _say(words: str) -> None:
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


@contextmanager
def copier() -> Iterator[Callable[[Path, Path], float]]:
    """A running copier: what it is called with is copied, and the answer is how many milliseconds it took."""
    command = [sys.executable, "-m", __name__]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin and process.stdout
        asked, said = process.stdin, process.stdout
        assert said.readline() == "ready\n"

        def copy(source: Path, target: Path) -> float:
            print(f"{source}\t{target}", file=asked, flush=True)
            return float(said.readline())

        yield copy


if __name__ == "__main__":
    main()
