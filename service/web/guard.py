"""What stands in front of every request: its name in the log, the headers, the host, where it came from.

Plain ASGI layers, outermost first: Watch (id, log line, last resort), Headers, Hosts, SameOrigin. They sit
outside the framework's own error and size layers, so a 413 and a 500 carry the same headers as a page.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlsplit

from fastapi import FastAPI
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web.problems import Problem, answer, last_words

MAX_BODY: Final = 1_000_000
"""Bytes of a common request; hand it to ``FastAPI(max_body_size=MAX_BODY)``."""
MAX_UPLOAD_BODY: Final = 10_500_000
"""Bytes of a request with a safety data sheet or a CSV; hand it to the route: ``max_body_size=...``."""

CONTENT_SECURITY_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'none'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; "
    "manifest-src 'self'; worker-src 'self'"
)
SECURITY_HEADERS: Final[dict[str, str]] = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    # Not "no-referrer": with it browsers send `Origin: null` on form posts and every post is refused.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(self), geolocation=(), microphone=()",
}
_SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
_log = logging.getLogger("umberkeep.requests")


@dataclass(frozen=True)
class GuardSettings:
    """What the guard is told: host names it answers to ("*" for any), a maker of ids, a clock for durations.

    ``reraise`` lets an unexpected error through to the caller after it was answered (for tests).
    """

    trusted_hosts: Sequence[str]
    new_id: Callable[[], str]
    monotonic: Callable[[], float]
    reraise: bool = False


def install(app: FastAPI, settings: GuardSettings) -> None:
    """Put the guard around ``app``, outside of everything the framework adds itself."""
    inner = app.build_middleware_stack

    def build() -> ASGIApp:
        return guarded(inner(), settings)

    setattr(app, "build_middleware_stack", build)  # noqa: B010 - an instance attribute, on purpose


def guarded(app: ASGIApp, settings: GuardSettings) -> ASGIApp:
    """``app`` inside the four layers."""
    app = SameOrigin(app)
    app = Hosts(app, settings.trusted_hosts)
    app = SecurityHeaders(app)
    return Watch(app, settings)


class Watch:
    """Gives each request an id, writes one log line, and answers what nobody else caught."""

    def __init__(self, app: ASGIApp, settings: GuardSettings) -> None:
        self.app = app
        self.settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        started = self.settings.monotonic()
        state: dict[str, Any] = scope.setdefault("state", {})
        request_id = state["request_id"] = self.settings.new_id()
        status = 0

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                MutableHeaders(scope=message)["X-Request-ID"] = request_id
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception as exc:
            _log.exception("unexpected error, reference %s", request_id)
            if not status:  # the framework's own handler answered already in the common case
                layer = SecurityHeaders(last_words(Request(scope), request_id))
                await layer(scope, receive, watched)
            if self.settings.reraise:
                raise exc
        finally:
            ms = round((self.settings.monotonic() - started) * 1000, 1)
            _log.info("%s", log_line(scope, status, ms))


def log_line(scope: Scope, status: int, ms: float) -> str:
    """One line of JSON about a request: never a body, a query, a header or the path as it was typed.

    JSON in ASCII, so that nothing in it can break the line or move a terminal's cursor.
    """
    state = scope.get("state", {})
    route = scope.get("route")
    person = state.get("person_id")
    return json.dumps(
        {
            "method": str(scope["method"])[:16],
            "route": getattr(route, "path", None) or "(none)",
            "status": status,
            "ms": ms,
            "person": person if isinstance(person, int) else None,
            "request_id": state.get("request_id", ""),
        },
        ensure_ascii=True,
    )


class SecurityHeaders:
    """The same headers on every answer; nothing is kept by a cache but files named by their content.

    The framework's size limit answers 413 in bare text; it is told in our own words here.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        replaced = False

        async def with_headers(message: Message) -> None:
            nonlocal replaced
            if replaced:
                return
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if message["status"] == 413 and headers.get("content-type", "").startswith("text/plain"):
                    replaced = True
                    await _too_large(scope)(scope, receive, _dressed(scope, send))
                    return
                dress(scope, headers)
            await send(message)

        await self.app(scope, receive, with_headers)


_KEPT_A_WHILE: Final = ("/static/", "/calendar/")
"""Below these a route may say for how long its answer is kept; everything else is kept nowhere."""


def dress(scope: Scope, headers: MutableHeaders) -> None:
    """Add what is missing; a route that set its own policy (an upload: ``sandbox``) keeps it."""
    for name, value in SECURITY_HEADERS.items():
        headers.setdefault(name, value)
    if not scope["path"].startswith(_KEPT_A_WHILE):
        headers["Cache-Control"] = "no-store"
    else:
        headers.setdefault("Cache-Control", "no-store")


def _dressed(scope: Scope, send: Send) -> Send:
    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            dress(scope, MutableHeaders(scope=message))
        await send(message)

    return dressed


def _too_large(scope: Scope) -> ASGIApp:
    problem = Problem("too-large", "What you sent is larger than this page takes. Nothing was saved.")
    return answer(Request(scope), problem, ask_chrome=False)


class Hosts:
    """Answers only to the names it was given; ``*.example.org`` covers the names below, ``*`` any."""

    def __init__(self, app: ASGIApp, allowed: Sequence[str]) -> None:
        self.app = app
        self.allowed = tuple(name.lower().strip("[]") for name in allowed)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket") or self.known(Headers(scope=scope)):
            await self.app(scope, receive, send)
            return
        problem = Problem(
            "unreadable",
            "This service does not answer under that name. A keeper can add the name to its settings.",
        )
        await answer(Request(scope), problem, ask_chrome=False)(scope, receive, send)

    def known(self, headers: Headers) -> bool:
        """True when there is exactly one Host and it is on the list."""
        hosts = headers.getlist("host")
        if len(hosts) != 1:
            return False
        name = host_name(hosts[0])
        if name is None:
            return False
        return any(
            pattern == "*" or name == pattern or (pattern.startswith("*.") and name.endswith(pattern[1:]))
            for pattern in self.allowed
        )


def host_name(host: str) -> str | None:
    """The name in a Host header without port, or None when it is no host at all.

    >>> host_name("Shop.local:8000"), host_name("[::1]:8000"), host_name("a b"), host_name("x/y")
    ('shop.local', '::1', None, None)
    """
    if not host or any(c.isspace() or c in "/\\@?#%" or ord(c) < 33 or ord(c) > 126 for c in host):
        return None
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:
        return None


class SameOrigin:
    """Refuses a changing request that another web page made the browser send.

    ``Sec-Fetch-Site`` decides where it is sent (https and localhost); on a plain-http LAN ``Origin`` must
    name this host. Neither header: no browser. A call under /api with a bearer token needs no such check,
    and its cookies are taken off so that they can never lend it a person.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if carries_token(scope["path"], headers):
            scope["headers"] = [(k, v) for k, v in scope["headers"] if k.lower() != b"cookie"]
        elif scope["method"] not in _SAFE_METHODS and not same_origin(headers):
            problem = Problem(
                "cross-site", "Another web page sent this. Open the page here and send the form from there."
            )
            await answer(Request(scope), problem, ask_chrome=False)(scope, receive, send)
            return
        await self.app(scope, receive, send)


def carries_token(path: str, headers: Headers) -> bool:
    """True for a call under /api with ``Authorization: Bearer …``."""
    return path.startswith("/api/") and headers.get("authorization", "").lower().startswith("bearer ")


def same_origin(headers: Headers) -> bool:
    """Whether these headers allow a changing request; every repeated header must pass."""
    sites = [site.strip().lower() for site in headers.getlist("sec-fetch-site")]
    if sites:
        return all(site in ("same-origin", "none") for site in sites)
    origins = headers.getlist("origin")
    if not origins:
        return True
    return all(_origin_host(origin) == headers.get("host", "").lower() for origin in origins)


def _origin_host(origin: str) -> str | None:
    """``host[:port]`` of an Origin header; None for ``null`` and anything that is no http origin."""
    try:
        parts = urlsplit(origin.strip().lower())
    except ValueError:
        return None
    return parts.netloc if parts.scheme in ("http", "https") and parts.netloc else None
