"""Bytes that no browser sends, on real sockets: heads without an end, bodies without an end, callers without
haste, two meanings of one length. Memory stays, others are served, and nothing slips past the doors.
"""

from __future__ import annotations

import itertools
import re
import socket
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest
import uvicorn
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse
from starlette.types import Receive, Scope, Send

from service.web import connection, guard
from service.web.api_model import MAX_LIST, MAX_TEXT
from service.web.connection import BoundedConnection
from service.web.forms import MAX_FIELDS, MAX_PART
from tests.browser.live_server import LiveServer, start_server
from tests.web.raw_http import FORM, HEAD, Answered, ask, get, grown_kib, post, repeated

CHUNKED = b"POST /sign-in HTTP/1.1\r\n" + HEAD + FORM + b"Transfer-Encoding: chunked\r\n\r\n"
LONG = b"POST /sign-in HTTP/1.1\r\n" + HEAD + FORM + b"Content-Length: 200000000\r\n"
BLOCK = b"a" * 65_536


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    running = start_server(tmp_path_factory.mktemp("wire"), demo=False)
    for path in (b"/sign-in", b"/spill", b"/words", b"/nowhere"):  # templates and style are read once
        ask(port_of(running), get(path))
    ask(port_of(running), post(b"/sign-in", b"sign_in_name=a&password=" + b"b" * 60_000))
    yield running
    running.stop()


def port_of(server: LiveServer) -> int:
    return int(server.base.rsplit(":", 1)[1])


TWO_WAYS: list[tuple[str, bytes]] = [
    ("length and chunks", b"Content-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n"),
    ("chunks and length", b"Transfer-Encoding: chunked\r\nContent-Length: 5\r\n\r\n0\r\n\r\n"),
    ("two lengths", b"Content-Length: 5\r\nContent-Length: 6\r\n\r\nabcdef"),
    ("two lengths in one", b"Content-Length: 5, 6\r\n\r\nabcdef"),
    ("less than nothing", b"Content-Length: -5\r\n\r\nabcde"),
    ("plus", b"Content-Length: +5\r\n\r\nabcde"),
    ("hexadecimal", b"Content-Length: 0x5\r\n\r\nabcde"),
    ("no number that fits", b"Content-Length: " + b"9" * 40 + b"\r\n\r\nabcde"),
    ("nearly chunked", b"Transfer-Encoding: xchunked\r\n\r\n0\r\n\r\n"),
    ("chunked, then not", b"Transfer-Encoding: chunked\r\nTransfer-Encoding: identity\r\n\r\n0\r\n\r\n"),
    ("no chunk", FORM + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n\r\n"),
    ("a chunk that fits no number", FORM + b"Transfer-Encoding: chunked\r\n\r\nfffffffffffffffff\r\n"),
    ("chunk after chunk, then noise", FORM + b"Transfer-Encoding: chunked\r\n\r\n3\r\na=b\r\n-1\r\n"),
    ("a folded header", b"X-Note: a\r\n b\r\nContent-Length: 0\r\n\r\n"),
    ("space before the colon", b"Content-Length : 5\r\n\r\nabcde"),
    ("NUL in a header", b"X-Note: a\x00b\r\nContent-Length: 0\r\n\r\n"),
    ("line ends without returns", b"X-Note: a\nContent-Length: 0\n\n"),
]


@pytest.mark.parametrize(("name", "rest"), TWO_WAYS, ids=[name for name, _ in TWO_WAYS])
def test_a_length_that_can_be_read_two_ways_is_refused(server: LiveServer, name: str, rest: bytes) -> None:
    hidden = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"
    head = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\n"
    answer = ask(port_of(server), head + rest + hidden)
    assert answer.status == 400
    assert answer.text.count("HTTP/1.1 ") == 1, "what stands behind it is no request of its own"
    assert "content-security-policy: default-src 'none'" in answer.head and "nosniff" in answer.head


@pytest.mark.parametrize(
    "line",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\x00" * 50 + b"\r\n\r\n",
        b"GET /health HTTP/3.0\r\n\r\n", b"BREW /health HTTP/1.1\r\n\r\n", b"GET /\xff\xfe HTTP/1.1\r\n\r\n",
        b"CONNECT evil.example:80 HTTP/1.1\r\nHost: evil.example\r\n\r\n", b"GET health HTTP/1.1\r\n\r\n",
    ],
)  # fmt: skip
def test_what_is_no_request(server: LiveServer, line: bytes) -> None:
    answer = ask(port_of(server), line)
    assert answer.status == 400 and "connection: close" in answer.head
    assert ask(port_of(server), get(b"/health")).status == 200


@pytest.mark.parametrize(
    ("pieces", "status"),
    [
        ([get(b"/health", b"X-Note: " + b"a" * 70_000 + b"\r\n")], 431),
        ([get(b"/health", b"X" * 70_000 + b": a\r\n")], 431),
        ([get(b"/health", b"".join(b"X-%d: a\r\n" % n for n in range(200)))], 431),
        ([get(b"/health?" + b"a" * 70_000)], 414),
        ([get(b"/" + b"%41" * 25_000)], 414),
        ([get(b"/health?" + b"a" * (connection.MAX_ADDRESS + 1))], 414),
        ([get(b"/health?" + b"a" * 16_000, b"X-Note: " + b"a" * 15_000 + b"\r\n")], 200),
        ([get(b"/health", b"".join(b"X-%d: a\r\n" % n for n in range(90)))], 200),
    ],
    ids=["long header", "long name", "many headers", "long query", "long path", "one over", "just", "many"],
)  # fmt: skip
def test_the_bounds_of_a_head(server: LiveServer, pieces: list[bytes], status: int) -> None:
    assert ask(port_of(server), pieces).status == status


ENDLESS: dict[str, tuple[Callable[[], Iterable[bytes]], set[int]]] = {
    "a header": (lambda: repeated(b"GET /health HTTP/1.1\r\n" + HEAD + b"X-Note: ", BLOCK, 3000), {431}),
    "headers": (lambda: repeated(b"GET /health HTTP/1.1\r\n" + HEAD, b"X: " + BLOCK + b"\r\n", 3000), {431}),
    "an address": (lambda: repeated(b"GET /health?", BLOCK, 3000), {414}),
    "empty lines": (lambda: repeated(b"\r\n", b"\r\n" * 32_768, 3000), {431}),
    "a body with a length": (lambda: repeated(LONG + b"\r\n", BLOCK, 3000), {413}),
    "a body in chunks": (lambda: repeated(CHUNKED, b"10000\r\n" + BLOCK + b"\r\n", 3000), {413}),
    "chunks of one byte": (lambda: repeated(CHUNKED, b"1\r\na\r\n" * 10_000, 3000), {413}),
    "a chunk extension": (lambda: repeated(CHUNKED + b"1;", BLOCK, 3000), {413}),
    "trailers": (lambda: repeated(CHUNKED + b"1\r\na\r\n0\r\n", b"X: " + BLOCK + b"\r\n", 3000), {413}),
    "a trailer": (lambda: repeated(CHUNKED + b"1\r\na\r\n0\r\nX: ", BLOCK, 3000), {413}),
}
"""Each would be about 200 MB (the small chunks 180) if it were taken."""


@pytest.mark.parametrize("name", ENDLESS)
def test_what_never_ends_is_cut_short_in_little_memory(server: LiveServer, name: str) -> None:
    make, statuses = ENDLESS[name]
    answers: list[Answered] = []
    grown = grown_kib(server.process.pid, lambda: answers.append(ask(port_of(server), make())))
    assert answers[0].status in statuses
    assert answers[0].sent < 30_000_000, "refused as it comes, not at its end"
    assert grown < 40_000
    assert ask(port_of(server), get(b"/health")).status == 200


def test_a_packed_body_is_never_unpacked(server: LiveServer) -> None:
    more = FORM + b"Content-Encoding: gzip\r\n"
    packed = b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03" + b"\xed\xc1\x01\x0d" * 10_000
    grown = grown_kib(server.process.pid, lambda: ask(port_of(server), post(b"/sign-in", packed, more)))
    assert ask(port_of(server), post(b"/sign-in", packed, more)).status in {400, 415, 422}
    assert grown < 40_000


def test_no_body_is_waited_for_that_would_be_refused_anyway(server: LiveServer) -> None:
    answer = ask(port_of(server), LONG + b"Expect: 100-continue\r\n\r\n")
    assert answer.status == 413 and "100 continue" not in answer.text.lower()
    assert ask(port_of(server), LONG + b"\r\n").status == 413


def test_a_caller_who_leaves_in_the_middle_is_no_mistake_of_ours(server: LiveServer) -> None:
    with socket.create_connection(("127.0.0.1", port_of(server))) as wire:
        wire.sendall(post(b"/sign-in", b"sign_in_name=" + b"a" * 1000)[:-500])
        wire.shutdown(socket.SHUT_WR)
    for _ in range(50):
        if '"status": 400' in server.printed():
            break
        time.sleep(0.1)
    assert "Traceback" not in server.printed() and "unexpected error" not in server.printed()
    assert '"status": 500' not in server.printed()


@pytest.mark.parametrize(
    ("line", "headers", "status"),
    [
        (b"/health", b"Host: evil.example\r\n", 400),
        (b"/health", b"", 400),
        (b"/health", b"Host: 127.0.0.1\r\nHost: evil.example\r\n", 400),
        (b"/health", b"Host: evil.example\r\nX-Forwarded-Host: 127.0.0.1\r\n", 400),
        (b"/health", b"Host: 127.0.0.1@evil.example\r\n", 400),
        (b"http://evil.example/health", b"Host: evil.example\r\n", 400),
        (b"/health", b"Host: 127.0.0.1\r\nX-Forwarded-Host: evil.example\r\n", 200),
    ],
)
def test_only_known_names(server: LiveServer, line: bytes, headers: bytes, status: int) -> None:
    answer = ask(port_of(server), b"GET " + line + b" HTTP/1.1\r\nConnection: close\r\n" + headers + b"\r\n")
    assert answer.status == status
    assert "evil.example" not in answer.text


def test_a_socket_is_not_opened_wider(server: LiveServer) -> None:
    asked = (
        b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: Upgrade, close\r\nUpgrade: websocket\r\n"
        b"Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    )
    assert ask(port_of(server), asked).status == 200


# --- callers without haste, on a server whose patience is short --------------------------------------


class Hasty(BoundedConnection):
    patience_s = 0.4
    tick_s = 0.1


async def echo(scope: Scope, receive: Receive, send: Send) -> None:
    """Answers with the length of the body."""
    try:
        body = await Request(scope, receive).body()
    except ClientDisconnect:
        return
    await PlainTextResponse(str(len(body)))(scope, receive, send)


@pytest.fixture(scope="module")
def hasty() -> Iterator[int]:
    config = uvicorn.Config(echo, http=Hasty, ws="none", log_config=None, log_level="warning", lifespan="off")
    running = uvicorn.Server(config)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)
        thread = threading.Thread(target=running.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not running.started:
            time.sleep(0.01)
        yield listening.getsockname()[1]
        running.should_exit = True
        thread.join(timeout=20)


def slowly(first: bytes, drop: bytes) -> Iterable[bytes]:
    yield first
    for _ in itertools.repeat(None, 200):
        time.sleep(0.05)
        yield drop


@pytest.mark.parametrize(
    ("first", "drop", "status"),
    [
        (b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Note: ", b"a", 408),
        (b"G", b"E", 400),
        (b"\r\n", b"\r\n", 408),
        (post(b"/", b"a" * 100)[:-100], b"a", 408),
        (b"POST / HTTP/1.1\r\n" + HEAD + b"Transfer-Encoding: chunked\r\n\r\n", b"1\r\na\r\n", 408),
    ],
    ids=["head", "nonsense", "empty lines", "body", "chunks"],
)
def test_one_sign_at_a_time_is_ended_not_waited_for(
    hasty: int, first: bytes, drop: bytes, status: int
) -> None:
    answer = ask(hasty, slowly(first, drop))
    assert answer.status == status and "connection: close" in answer.head
    assert answer.sent < len(first) + 100 * len(drop)


def test_a_connection_that_says_nothing_is_closed(hasty: int) -> None:
    assert ask(hasty, b"").status == 0


def test_whoever_is_slow_but_steady_is_heard(hasty: int) -> None:
    """Ten times the patience, at more than the least rate."""
    body = b"a" * 100_000
    whole = post(b"/", body)
    pieces = [whole[start : start + 2500] for start in range(0, len(whole), 2500)]

    def steadily() -> Iterable[bytes]:
        for piece in pieces:
            time.sleep(0.05)
            yield piece

    answer = ask(hasty, steadily())
    assert answer.status == 200 and answer.text.endswith("100000")


def test_hundred_idle_callers_keep_nobody_out(hasty: int) -> None:
    waiting = [socket.create_connection(("127.0.0.1", hasty)) for _ in range(100)]
    for wire in waiting:
        wire.sendall(b"GET / HTTP/1.1\r\nHost: ")
    assert ask(hasty, get(b"/")).status == 200
    for wire in waiting:
        wire.settimeout(20)
        assert wire.recv(100).startswith(b"HTTP/1.1 408")
        wire.close()


def test_two_requests_in_one_piece_are_both_answered(hasty: int) -> None:
    first = b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 40000\r\n\r\n" + b"a" * 40_000
    answer = ask(hasty, first + get(b"/second"))
    assert answer.text.count("HTTP/1.1 200") == 2


def test_the_bounds_are_told_to_developers_as_they_are() -> None:
    told = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    told = told.partition("## What odd input meets")[2].partition("\n## ")[0]
    for bound in (
        connection.MAX_ADDRESS, connection.MAX_HEAD, connection.MAX_HEADERS, connection.MAX_WRAPPING,
        int(connection.PATIENCE_S), connection.BYTES_PER_S, guard.MAX_BODY, guard.MAX_UPLOAD_BODY,
        MAX_FIELDS, MAX_PART, MAX_LIST, MAX_TEXT,
    ):  # fmt: skip
        plain = f"{bound:,}".replace(",", " ") if bound >= 10_000 else str(bound)
        assert re.search(rf"\b{plain}\b", told), plain
    assert connection.MAX_ADDRESS < connection.MAX_HEAD < guard.MAX_BODY < connection.MAX_WASTE
