"""Requests written byte by byte to a socket, as no client library would send them; and what came back."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

WAIT_S = 30.0
"""How long an answer may take before the test gives up: not a figure to hold."""
HEAD = b"Host: 127.0.0.1\r\nConnection: close\r\n"
FORM = b"Content-Type: application/x-www-form-urlencoded\r\n"


@dataclass(frozen=True)
class Answered:
    """`status` is 0 when the connection ended without an answer; `text` is what came, `sent` what left."""

    status: int
    text: str
    sent: int = 0

    @property
    def head(self) -> str:
        return self.text.partition("\r\n\r\n")[0].lower()


def ask(port: int, pieces: bytes | Iterable[bytes]) -> Answered:
    """Send the pieces one after another and read until the other side closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=WAIT_S) as wire:
        sent, got = 0, bytearray()
        with suppress(ConnectionError):
            for piece in [pieces] if isinstance(pieces, bytes) else pieces:
                wire.sendall(piece)
                sent += len(piece)
        with suppress(ConnectionError):
            while piece := wire.recv(65_536):
                got += piece
    text = got.decode("latin-1")
    status = int(text[9:12]) if text.startswith("HTTP/1.1 ") else 0
    return Answered(status, text, sent)


def get(path: bytes, more: bytes = b"") -> bytes:
    """A whole GET that asks for the connection to be closed."""
    return b"GET " + path + b" HTTP/1.1\r\n" + HEAD + more + b"\r\n"


def post(path: bytes, body: bytes, more: bytes = FORM) -> bytes:
    """A whole POST with a length."""
    length = b"Content-Length: %d\r\n" % len(body)
    return b"POST " + path + b" HTTP/1.1\r\n" + HEAD + more + length + b"\r\n" + body


def repeated(first: bytes, again: bytes, times: int) -> Iterable[bytes]:
    """One piece, then another many times: a body or a header that never seems to end."""
    yield first
    for _ in range(times):
        yield again


def peak_kib(pid: int) -> int:
    """The most memory a process has held so far, in KiB (Linux)."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmHWM")).split()[1])


def grown_kib(pid: int, act: Callable[[], object]) -> int:
    """By how much the most memory ever held grew over an act."""
    before = peak_kib(pid)
    act()
    return peak_kib(pid) - before
