"""One mail over the shop's server: plain text, HTML beside it or not, encrypted as set, bounded in time."""

from __future__ import annotations

import smtplib
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from email.errors import MessageError
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import SMTP
from email.utils import format_datetime
from typing import Final

from service.config import MailServer
from service.core.findings import Invalid
from service.core.mail_addresses import one_line, read_address
from service.outreach.envelope import Envelope, NotSent

STEP_S: Final = 10.0
"""How long the server may take over one answer."""
SEND_WITHIN_S: Final = 60.0
"""How long a whole try may take, against a server that answers a sign at a time. A claim lasts longer."""


def letter(envelope: Envelope, sender: str, shop: str, now: datetime) -> EmailMessage:
    """The mail as it leaves. No name or subject can add a line to its head.

    Raises:
        NotSent: an address that no mail can carry.
    """
    mail = EmailMessage(policy=SMTP)
    try:
        if read_address(envelope.to) != envelope.to:
            raise ValueError
        mail["From"] = Address(_head(shop), addr_spec=sender)
        mail["To"] = Address(_head(envelope.name), addr_spec=envelope.to)
        mail["Subject"] = _head(envelope.subject, 200)
        mail["Date"] = format_datetime(now)
        mail["Message-ID"] = one_line(envelope.message_id, 250)
        mail["Auto-Submitted"] = "auto-generated"
        if envelope.leave:
            # RFC 2369; the second line (RFC 8058) only for an address that a mail program may post to.
            mail["List-Unsubscribe"] = f"<{one_line(envelope.leave, 900)}>"
            if envelope.leave.startswith("https://"):
                mail["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
        mail.set_content(envelope.text, charset="utf-8", cte="quoted-printable")
        if envelope.page:
            mail.add_alternative(envelope.page, subtype="html", charset="utf-8", cte="quoted-printable")
    except (MessageError, Invalid, ValueError, IndexError) as error:
        raise NotSent("address", "This address cannot be written on a mail.") from error
    return mail


def send_by_mail(
    server: MailServer, envelope: Envelope, shop: str, now: datetime, *,
    step_s: float = STEP_S, within_s: float = SEND_WITHIN_S,
) -> None:
    """Send one mail to one address.

    Raises:
        NotSent: refused, out of reach, or too slow; the words hold no password.
    """
    mail = letter(envelope, server.sender, shop, now)
    try:
        with _connected(server, step_s, within_s) as smtp:
            smtp.send_message(mail, from_addr=server.sender, to_addrs=[envelope.to])
            with suppress(smtplib.SMTPException, OSError):
                smtp.quit()  # it was taken already
    except (smtplib.SMTPException, OSError, UnicodeError) as error:
        raise _not_sent(server, error) from None


def _not_sent(server: MailServer, error: Exception) -> NotSent:
    """What went wrong in words, and whether the address, the message or the server is at fault."""
    kind, said = "way", f"The mail server cannot be used: {getattr(error, 'strerror', None) or error}"
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, answer = next(iter(error.recipients.values()))
        kind = "address" if 500 <= code < 600 else "message"
        said = f"The mail server refused the address: {code} {_text(answer)}"
    elif isinstance(error, smtplib.SMTPResponseException):
        kind = "message" if isinstance(error, smtplib.SMTPDataError) else "way"
        refused = {smtplib.SMTPDataError: "the message", smtplib.SMTPAuthenticationError: "the sign-in"}
        what = refused.get(type(error), "to go on")
        said = f"The mail server refused {what}: {error.smtp_code} {_text(error.smtp_error)}"
    elif isinstance(error, ssl.SSLError):
        said = f"The connection to the mail server could not be encrypted: {error.reason or 'TLS failed'}"
    elif isinstance(error, TimeoutError):
        said = "The mail server did not answer in time."
    return NotSent(kind, _words(server, said))


def _head(text: str, most: int = 100) -> str:
    """A text for the head. The library would decode what looks encoded, line breaks and all."""
    return one_line(text, most).replace("=?", "= ?")


@contextmanager
def _connected(server: MailServer, step_s: float, within_s: float) -> Iterator[smtplib.SMTP]:
    context = ssl.create_default_context(cafile=server.ca or None) if server.security != "none" else None
    smtp: smtplib.SMTP = (
        smtplib.SMTP_SSL(timeout=step_s, context=context)
        if server.security == "tls"
        else smtplib.SMTP(timeout=step_s)
    )
    overdue = threading.Event()

    def cut() -> None:
        overdue.set()
        with suppress(OSError, AttributeError):
            if smtp.sock is not None:
                smtp.sock.shutdown(socket.SHUT_RDWR)

    watch = threading.Timer(within_s, cut)
    watch.daemon = True
    watch.start()
    try:
        # The name is kept for the check of the certificate.
        smtp._host = server.host  # type: ignore[attr-defined]
        smtp.connect(server.host, server.port)
        if server.security == "starttls":
            smtp.starttls(context=context)
        if server.user:
            smtp.login(server.user, server.password)
        yield smtp
    except (smtplib.SMTPServerDisconnected, OSError) as error:
        if overdue.is_set():
            raise TimeoutError from error
        raise
    finally:
        watch.cancel()
        smtp.close()


def _text(said: bytes | str) -> str:
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else said


def _words(server: MailServer, said: str) -> str:
    """What a server says is shown on a page: one line, and never the password, should it send it back."""
    if server.password:
        said = said.replace(server.password, "(password)")
    return one_line(said, 300)
