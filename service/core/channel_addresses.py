"""Addresses of notification services: which kinds a shop may use, and what may be shown of one.

Doors: actions/manage_channels.py, outreach/send_by_service.py.

The whole address is a secret: whoever knows it can write to the people in it, and often it holds a token.
"""

from __future__ import annotations

import re
from typing import Final

from service.core.findings import Invalid
from service.core.sign_in_rules import is_loopback

SERVICES: Final = {
    "ntfys": "ntfy", "gotifys": "Gotify", "matrixs": "Matrix", "mmosts": "Mattermost",
    "rockets": "Rocket.Chat", "nctalks": "Nextcloud Talk", "signals": "Signal",
    "jsons": "a JSON address", "tgram": "Telegram",
    "slack": "Slack", "discord": "Discord", "pover": "Pushover",
}  # fmt: skip
"""Schemes that go over TLS, and what they are called."""
NEAR_ONLY: Final = {"ntfy": "ntfy", "gotify": "Gotify", "json": "a JSON address"}
"""Without TLS: only to a relay on this machine."""
_SHAPE = re.compile(r"([a-z]+)://([!-~]{1,900})", re.ASCII)
_HOST = re.compile(r"(?:[^/@?#]*@)?(\[[0-9a-f:.]+\]|[^/:?#\[\]]+)", re.ASCII | re.IGNORECASE)
WORDS: Final = (
    "Enter the address of a notification service as its library writes it, like jsons://host/path. "
    f"Known here: {', '.join(sorted(SERVICES))}."
)


def read_service(text: str) -> str:
    """An address that may be used, as it was written.

    Raises:
        Invalid: a scheme that is not on the list, one without TLS beyond this machine, or one that asks for
            certificates not to be checked.

    >>> read_service(" ntfys://push.example/rags ")
    'ntfys://push.example/rags'
    """
    text = text.strip()
    match = _SHAPE.fullmatch(text)
    if match is None or match[1] not in SERVICES | NEAR_ONLY:
        raise Invalid(WORDS, {"address": WORDS})
    if match[1] in NEAR_ONLY:
        host = _HOST.match(match[2])
        near = (host[1] if host else "").strip("[]")
        if not (is_loopback(near) or near == "localhost"):
            words = f"{match[1]}:// goes without encryption. Beyond this machine use {match[1]}s://."
            raise Invalid(words, {"address": words})
    if re.search(r"[?&]verify=", text, re.IGNORECASE):
        words = "Leave out verify=: certificates are always checked."
        raise Invalid(words, {"address": words})
    return text


def shown_address(text: str) -> str:
    """What may be shown of an address: the service, nothing of the rest.

    >>> shown_address("tgram://123456:secret/42")
    'Telegram, address kept secret'
    """
    scheme = text.partition(":")[0]
    return f"{(SERVICES | NEAR_ONLY).get(scheme, 'a service')}, address kept secret"
