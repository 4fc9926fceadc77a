"""How much, and for how long, one connection may send: the bounds the server's own parser does not have.

Without them a request line or a header that never ends is kept whole in memory, and a caller that sends a
sign a minute holds its connection for ever.
"""

from __future__ import annotations

import asyncio
from typing import Any, Final

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from service.web.guard import SECURITY_HEADERS

MAX_ADDRESS: Final = 16_384
"""Bytes of path and query together."""
MAX_HEAD: Final = 32_768
"""Bytes of request line and headers together."""
MAX_HEADERS: Final = 100
MAX_WRAPPING: Final = 1_000_000
"""Bytes that come with a body in chunks and are none of it: sizes, extensions, trailers."""
MAX_WASTE: Final = 4_000_000
"""Bytes of a body that go on arriving after the answer, before the connection is closed on them."""
PATIENCE_S: Final = 20.0
"""A request must be complete after this time ..."""
BYTES_PER_S: Final = 10_000
"""... and one second more for every so many bytes of it that have come."""

_SAID: Final = {
    400: b"The request cannot be taken apart.",
    408: b"The request was not complete in time. Nothing was saved.",
    413: b"That is more than this service takes. Nothing was saved.",
    414: b"The address is too long.",
    431: b"The headers are too long, or too many.",
}
_REASON: Final = {
    400: b"Bad Request", 408: b"Request Timeout", 413: b"Content Too Large", 414: b"URI Too Long",
    431: b"Request Header Fields Too Large",
}  # fmt: skip


class OverBound(Exception):  # noqa: N818
    """Ends the parsing of a request whose head is over a bound."""


class BoundedConnection(HttpToolsProtocol):
    """The server's connection, with the bounds of this file. Hand it to ``uvicorn.Config(http=...)``.

    A whole request that arrives in one piece costs no timer.
    """

    patience_s = PATIENCE_S
    tick_s = 1.0

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self.refusal = 400
        self.in_head = True
        self.incomplete = True
        self.head_bytes = self.address_bytes = self.header_count = 0
        self.got = self.body_bytes = self.wasted = 0
        self.waited_s = 0.0
        self.watch: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        super().connection_made(transport)  # type: ignore[arg-type]
        self._arm()

    def connection_lost(self, exc: Exception | None) -> None:
        self._disarm()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        self.got += len(data)
        # What may still belong to a head goes in by pieces, so that its bytes can be counted.
        while data and self.in_head and not self.transport.is_closing():
            room = MAX_HEAD - self.head_bytes
            if room <= 0:
                self._refuse(431 if self.address_bytes <= MAX_ADDRESS else 414)
                return
            piece, data = data[:room], data[room:]
            self.head_bytes += len(piece)
            super().data_received(piece)
        if data and not self.transport.is_closing():
            super().data_received(data)
        if self.got - self.body_bytes > MAX_HEAD + MAX_WRAPPING:
            self._refuse(413)
        elif self.incomplete:
            self._arm()
        else:
            self._disarm()

    def on_message_begin(self) -> None:
        super().on_message_begin()
        self.in_head = self.incomplete = True
        self.address_bytes = self.header_count = 0

    def on_url(self, url: bytes) -> None:
        self.address_bytes += len(url)
        if self.address_bytes > MAX_ADDRESS:
            self.refusal = 414
            raise OverBound
        super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        self.header_count += 1
        if self.header_count > MAX_HEADERS:
            self.refusal = 431
            raise OverBound
        super().on_header(name, value)

    def on_headers_complete(self) -> None:
        self.in_head, self.head_bytes = False, 0
        super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        self.body_bytes += len(body)
        if self.cycle.response_complete:
            self.wasted += len(body)
            if self.wasted > MAX_WASTE:
                self.transport.close()
        super().on_body(body)

    def on_message_complete(self) -> None:
        self.incomplete, self.in_head, self.head_bytes = False, True, 0
        self.got = self.body_bytes = 0
        super().on_message_complete()

    def _unsupported_upgrade_warning(self) -> None:
        """Nothing to tell: the request is answered as if it had not asked."""

    def send_400_response(self, msg: str) -> None:
        self._refuse(self.refusal)

    def _refuse(self, status: int) -> None:
        """Answer in bare text with the headers of every answer, and close: no route has seen the request."""
        if self.transport.is_closing():
            return
        self._disarm()
        busy = getattr(self.cycle, "response_complete", True) is False
        if not busy or not (self.pipeline or self.cycle.response_started):
            said = _SAID[status] + b"\n"
            head = [b"HTTP/1.1 %d %s" % (status, _REASON[status])]
            head += [f"{name}: {value}".encode() for name, value in SECURITY_HEADERS.items()]
            head += [
                b"Content-Type: text/plain; charset=utf-8", b"Cache-Control: no-store",
                b"Content-Length: %d" % len(said), b"Connection: close", b"", said,
            ]  # fmt: skip
            self.transport.write(b"\r\n".join(head))
        if busy:
            self.cycle.disconnected = True
            self.cycle.message_event.set()
        self.transport.close()

    def _arm(self) -> None:
        if self.watch is None and not self.transport.is_closing():
            self.waited_s, self.watch = 0.0, self.loop.call_later(self.tick_s, self._tick)

    def _disarm(self) -> None:
        if self.watch is not None:
            self.watch.cancel()
        self.watch = None

    def _tick(self) -> None:
        """One more tick has passed and the request is still not complete."""
        self.watch = None
        if self.transport.is_closing() or not self.incomplete:
            return
        # While we do not read, the caller cannot send: that time is ours.
        if not self.flow.read_paused:
            self.waited_s += self.tick_s
        if self.waited_s > self.patience_s + self.got / BYTES_PER_S:
            if self.got:
                self._refuse(408)
            else:
                self.transport.close()
            return
        self.watch = self.loop.call_later(self.tick_s, self._tick)
