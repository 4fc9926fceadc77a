"""Wire everything: middleware, routers, error answers, what happens at start and stop."""

from __future__ import annotations

import gc
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from pathlib import Path

import anyio.to_thread
from fastapi import Depends, FastAPI
from fastapi.staticfiles import StaticFiles

from service import __version__
from service.clock import now_utc
from service.config import Settings, read_settings
from service.records.engine import Database, open_database
from service.web import chrome, errors, guard
from service.web.access_gate import check_table, enforce
from service.web.doors import ROUTERS

THREADS = 4
"""Requests worked on at once; the database pool is matched to it (more threads than cores only fight)."""

STATIC = Path(__file__).parent / "web" / "static"


@asynccontextmanager
async def _life(app: FastAPI) -> AsyncIterator[None]:
    anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
    gc.collect()
    gc.freeze()
    yield
    app.state.database.dispose()


def create_app(
    settings: Settings | None = None,
    database: Database | None = None,
    clock: Callable[[], datetime] = now_utc,
) -> FastAPI:
    """The whole program as one ASGI application; the schema must be migrated already."""
    settings = settings or read_settings()
    app = FastAPI(
        title="Umberkeep",
        version=__version__,
        summary="Store-room book and hazard desk of a small finishing shop",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        lifespan=_life,
        dependencies=[Depends(enforce)],
        max_body_size=guard.MAX_BODY_BYTES,
    )
    app.state.settings = settings
    app.state.database = database or open_database(settings.database_url, THREADS)
    app.state.clock = clock
    errors.install(app)
    guard.install(app, settings)
    chrome.install(app)
    for router in ROUTERS:
        app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    check_table(app)
    return app
