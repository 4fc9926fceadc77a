"""A real mail server on loopback for the tests: plain, STARTTLS or TLS, with recipients it refuses."""

from __future__ import annotations

import socket
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email.message import EmailMessage
from email.parser import BytesParser
from email.policy import default
from pathlib import Path
from typing import Any

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

from service.config import MailServer

SENDER = "store@shop.example"


@dataclass
class Box:
    """What arrived, and how the server behaves. `answers` maps an address to what RCPT is answered with."""

    port: int = 0
    mails: list[tuple[str, EmailMessage]] = field(default_factory=list)
    answers: dict[str, str] = field(default_factory=dict)
    data_answer: str = ""
    slow_s: float = 0.0
    encrypted: list[bool] = field(default_factory=list)

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:  # noqa: N802
        if address in self.answers:
            return self.answers[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802
        if self.data_answer:
            return self.data_answer
        mail = BytesParser(policy=default).parsebytes(envelope.original_content or envelope.content)
        self.encrypted.append(server.transport.get_extra_info("cipher") is not None)
        for to in envelope.rcpt_tos:
            self.mails.append((to, mail))  # type: ignore[arg-type]
        if self.slow_s:
            time.sleep(self.slow_s)
        return "250 OK"

    @property
    def ids(self) -> list[str]:
        return [str(mail["Message-ID"]) for _, mail in self.mails]

    @property
    def to(self) -> list[str]:
        return [to for to, _ in self.mails]

    def server(self, security: str = "none", **more: Any) -> MailServer:
        return MailServer("127.0.0.1", self.port, security, SENDER, **more)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _sign_in(server: Any, session: Any, envelope: Any, mechanism: str, data: Any) -> AuthResult:
    right = data.login == b"store" and data.password == b"a long password"
    return AuthResult(success=right, handled=False)


@contextmanager
def mail_server(
    security: str = "none", folder: Path | None = None, *, sign_in: bool = False
) -> Iterator[Box]:
    """A server that takes mail while the block runs; `folder` gets ca.pem for starttls and tls."""
    box = Box()
    more: dict[str, Any] = {}
    context = None
    if security != "none":
        assert folder is not None
        authority = trustme.CA()
        authority.cert_pem.write_to_path(folder / "ca.pem")
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        authority.issue_cert("127.0.0.1").configure_cert(context)
    if security == "starttls":
        more = {"tls_context": context, "require_starttls": True}
    if sign_in:
        more |= {"authenticator": _sign_in, "auth_required": True, "auth_require_tls": security != "none"}
    if security == "tls":
        more["ssl_context"] = context
    controller = Controller(box, hostname="127.0.0.1", port=free_port(), **more)
    controller.start()
    box.port = controller.port
    try:
        yield box
    finally:
        controller.stop()


@contextmanager
def mute_server(drip_s: float = 0.0) -> Iterator[int]:
    """Accepts connections and never answers; or, with `drip_s`, one sign of an endless greeting each time."""
    listening = socket.create_server(("127.0.0.1", 0))
    ended = threading.Event()
    held: list[socket.socket] = []

    def accept() -> None:
        while not ended.is_set():
            try:
                one, _ = listening.accept()
            except OSError:
                return
            held.append(one)
            if drip_s:
                threading.Thread(target=drip, args=(one,), daemon=True).start()

    def drip(one: socket.socket) -> None:
        while not ended.wait(drip_s):
            try:
                one.sendall(b"2")
            except OSError:
                return

    threading.Thread(target=accept, daemon=True).start()
    try:
        yield int(listening.getsockname()[1])
    finally:
        ended.set()
        listening.close()
        for one in held:
            one.close()
