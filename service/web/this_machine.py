"""Whether a request comes from a browser on the machine the service runs on, through no proxy."""

from __future__ import annotations

from typing import Final

from fastapi import Request

from service.core.sign_in_rules import is_loopback

PROXY_HEADERS: Final = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")


def on_this_machine(request: Request) -> bool:
    """True for this machine's own loopback address without any sign of a proxy in between."""
    host = request.client.host if request.client else None
    return is_loopback(host) and not any(name in request.headers for name in PROXY_HEADERS)
