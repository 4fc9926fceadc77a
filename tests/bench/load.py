"""A small client that sends requests over kept connections for a while and times each one."""

from __future__ import annotations

import asyncio
import itertools
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

import uvloop

Requests = Callable[[], bytes]
"""Gives the next request as it goes over the wire."""


@dataclass
class Load:
    """What came of it: ``times`` in milliseconds, ``failed`` answers other than 2xx."""

    seconds: float = 0.0
    times: list[float] = field(default_factory=list)
    failed: int = 0
    said: bytes = b""

    @property
    def rps(self) -> float:
        return len(self.times) / self.seconds

    def share(self, part: float) -> float:
        """The time that ``part`` (0 to 1) of the requests stayed within, in milliseconds."""
        ordered = sorted(self.times)
        return ordered[min(len(ordered) - 1, int(part * len(ordered)))]

    @property
    def p50(self) -> float:
        return self.share(0.5)

    @property
    def p99(self) -> float:
        return self.share(0.99)


class Failed(Exception):  # noqa: N818
    """The service answered something other than 2xx: the measurement is worth nothing."""


class _Connection(asyncio.Protocol):
    """One client: it sends, waits for the whole answer, and sends again until it is told to stop."""

    def __init__(self, load: Load, requests: Requests, until: float, at_most: Iterator[int]) -> None:
        self.load, self.requests, self.until, self.at_most = load, requests, until, at_most
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self.got = bytearray()
        self.whole = 0
        self.started = 0.0

    def connection_made(self, transport: Any) -> None:
        self.transport = transport
        self._send()

    def _send(self) -> None:
        if time.perf_counter() >= self.until or next(self.at_most, None) is None:
            self.transport.close()
            return
        self.got.clear()
        self.whole = 0
        self.started = time.perf_counter()
        self.transport.write(self.requests())

    def data_received(self, data: bytes) -> None:
        self.got += data
        if not self.whole:
            head = self.got.find(b"\r\n\r\n")
            if head < 0:
                return
            length = _length(bytes(self.got[:head]))
            if length is None:
                self.done.set_exception(Failed(f"an answer without a length: {self.got[:300]!r}"))
                self.transport.close()
                return
            self.whole = head + 4 + length
        if len(self.got) >= self.whole:
            self.load.times.append((time.perf_counter() - self.started) * 1000)
            if self.got[9:10] != b"2":
                self.load.failed += 1
                self.load.said = bytes(self.got[:2000])
            self._send()

    def connection_lost(self, exc: Exception | None) -> None:
        if not self.done.done():
            self.done.set_result(None)


def _length(head: bytes) -> int | None:
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line.partition(b":")[2])
    return None


def run_load(
    port: int | list[int], requests: Requests, clients: int, seconds: float, *, at_most: int = 10**9
) -> Load:
    """Send ``requests`` from so many clients at once, for ``seconds`` or until ``at_most`` were sent.

    Several ports share the clients between them.

    Raises:
        Failed: something was answered other than 2xx, or nothing at all.
    """
    load = Load()

    async def work() -> None:
        loop = asyncio.get_running_loop()
        until, numbers = time.perf_counter() + seconds, iter(range(at_most))
        started = time.perf_counter()

        def client() -> _Connection:
            return _Connection(load, requests, until, numbers)

        ports = itertools.cycle([port] if isinstance(port, int) else port)
        made = [(await loop.create_connection(client, "127.0.0.1", next(ports)))[1] for _ in range(clients)]
        await asyncio.wait_for(asyncio.gather(*(one.done for one in made)), seconds + 60)
        load.seconds = time.perf_counter() - started

    # In a thread of its own: the calling one may run a loop already (the browser tests' tool leaves one).
    with ThreadPoolExecutor(1) as apart:
        apart.submit(lambda: uvloop.run(work())).result()
    if load.failed or not load.times:
        raise Failed(f"{load.failed} of {len(load.times)} answers were not 2xx: {load.said[:800]!r}")
    return load


def get(path: str, headers: str = "") -> bytes:
    """A GET as it goes over the wire; each of ``headers`` ends with a line break."""
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n{headers}\r\n".encode()


def post(path: str, body: bytes, headers: str = "") -> bytes:
    """A POST of JSON as it goes over the wire."""
    head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\n{headers}"
    return f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body
