"""Wire everything: middleware, routers, error answers, what happens at start and stop."""

from __future__ import annotations

import gc
import socket
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from datetime import datetime
from urllib.parse import urlsplit

import anyio.to_thread
from fastapi import APIRouter, Depends, FastAPI, Request
from fastapi.responses import Response

from service import __version__
from service.actions.passwords import Hasher
from service.clock import monotonic, new_id, new_secret, now_utc
from service.config import Settings, read_settings
from service.core.sign_in_rules import is_loopback
from service.records.engine import Database, DatabaseBusy, open_database
from service.web import access_gate, api_description, chrome, errors, guard, rag_notice
from service.web.doors import ROUTERS
from service.web.problems import Problem, answer
from service.web.static_files import static_route

COLLECT_AFTER = (50_000, 50, 100)
"""Thresholds of the garbage collector while it serves; Python's own are (700, 10, 10)."""


@asynccontextmanager
async def _life(app: FastAPI) -> AsyncIterator[None]:
    """Two levers against waiting, measured in `tests/bench/` (goals P5 and P6).

    As many pool threads as cores (setting THREADS), and a database pool to match: Python runs one thread at a
    time, and forty that want to run cost each other more than they do. A slow call to somewhere outside must
    therefore never sit on one of these threads: give it a pool of its own. Hashing a password is work, not
    waiting, and belongs here.

    What was made by the start (routes, models, templates) lives as long as the process: it is frozen out of
    the collector's sight, and the rest is looked through less often. A full look else stops every request
    for tens of milliseconds.
    """
    anyio.to_thread.current_default_thread_limiter().total_tokens = app.state.settings.threads
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()
    gc.set_threshold(*COLLECT_AFTER)
    yield
    gc.set_threshold(*before)
    gc.unfreeze()
    app.state.database.dispose()


def create_app(
    settings: Settings | None = None,
    database: Database | None = None,
    clock: Callable[[], datetime] = now_utc,
    *,
    hasher: Hasher | None = None,
    secret: Callable[[], str] = new_secret,
    routers: Sequence[APIRouter] = ROUTERS,
    reraise: bool = False,
) -> FastAPI:
    """The whole program as one ASGI application; the schema must be migrated already.

    Args:
        hasher: hashes passwords and PINs; tests hand in one with small parameters.
        secret: makes session tokens and one-time addresses.
        reraise: let an unexpected error through to the caller after it was answered (tests).

    Raises:
        DoorsDisagree: a route has no line in the table of who may do what, or a line no route.
    """
    settings = settings or read_settings()
    app = FastAPI(
        title="Umberkeep",
        version=__version__,
        summary="Store-room book and hazard desk of a small finishing shop",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=_life,
        dependencies=[Depends(access_gate.enforce)],
        max_body_size=guard.MAX_BODY,
    )
    app.state.settings = settings
    app.state.database = database or open_database(settings.database_url, settings.threads)
    app.state.clock = clock
    app.state.hasher = hasher or Hasher()
    app.state.secret = secret
    app.state.wake_sender = None
    errors.install(app)
    app.add_exception_handler(DatabaseBusy, _busy)
    access_gate.install(app)
    names = host_names(settings)
    guard.install(app, guard.GuardSettings(names, new_id, monotonic, reraise))
    chrome.install(app)
    rag_notice.install()
    for router in routers:
        app.include_router(router)
    app.router.routes.append(static_route)
    access_gate.check_table(app)
    api_description.install(app)
    return app


def _busy(request: Request, _: Exception) -> Response:
    words = "Others are writing at this moment. Nothing was saved. Send it again in a few seconds."
    return answer(request, Problem("busy", words, headers={"Retry-After": "2"}), ask_chrome=False)


def host_names(settings: Settings) -> tuple[str, ...]:
    """The names this service answers to: loopback, its base address, what the settings add, and, when it
    listens beyond this machine, the machine's own name and addresses.
    """
    names = {"127.0.0.1", "localhost", "::1", *settings.trusted_hosts}
    if settings.base_url:
        names.add(urlsplit(settings.base_url).hostname or "")
    if not is_loopback(settings.host) and settings.host != "localhost":
        own = socket.gethostname().lower()
        names |= {settings.host, own, f"{own}.local", *own_addresses(own)}
    return tuple(sorted(names - {""}))


def own_addresses(name: str) -> set[str]:
    """The addresses this machine has under its own name, and the one it would send from. Nothing is sent."""
    found: set[str] = set()
    with suppress(OSError):
        found |= {str(info[4][0]) for info in socket.getaddrinfo(name, None)}
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, 9))
            found.add(str(probe.getsockname()[0]))
    return found
