"""A message ready to leave, and how a try to send it can fail. Both senders speak in these."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Envelope:
    """``message_id`` is the same however often it is sent; ``name`` is whom it is for, and may be empty.

    ``page``: the same text as HTML, for a mail that has it. ``leave``: the secret address by which whoever it
    is for is not sent this kind of mail any more; "" where nobody can leave it out.
    """

    to: str
    name: str
    message_id: str
    subject: str
    text: str
    page: str = ""
    leave: str = ""


class NotSent(Exception):  # noqa: N818 - reads as what happened
    """It did not leave. ``kind``: "address" (refused for good), "message" (for now), "way" (the server)."""

    def __init__(self, kind: str, words: str) -> None:
        super().__init__(words)
        self.kind = kind
        self.words = words
