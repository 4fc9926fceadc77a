"""Whether the service lives and is ready to serve, on which database, at which revision: for watchers.

`/health/live` asks nothing but this process; who restarts a service on it does not restart it in vain while
the database is away. `/health/ready`, and `/health` by its old name, ask the database too.
"""

import threading
from concurrent.futures import Future
from typing import Any

from fastapi import APIRouter
from fastapi.responses import JSONResponse

from service import __version__
from service.records.engine import Database, engine_facts
from service.records.revisions import newest_revision, revision_of
from service.web.deps import Data

router = APIRouter(tags=["health"])
BUDGET_S = 1.0
"""Longer than this without an answer from the database counts as no answer."""


def _facts(database: Database) -> dict[str, Any]:
    facts: dict[str, Any] = dict(engine_facts(database))
    with database.engine.connect() as connection:
        facts["revision"] = revision_of(connection)
    return facts


def _within_budget(database: Database) -> dict[str, Any] | None:
    """The facts, or None. A thread of its own, because a driver that hangs cannot be interrupted."""
    answer: Future[dict[str, Any]] = Future()

    def ask() -> None:
        try:
            answer.set_result(_facts(database))
        except Exception as error:
            answer.set_exception(error)

    threading.Thread(target=ask, daemon=True).start()
    try:
        return answer.result(BUDGET_S)
    except Exception:  # any reason at all means that the books cannot be reached
        return None


_NOT_READY: dict[int | str, dict[str, Any]] = {
    503: {"description": "The database does not answer, or is at another revision."}
}


@router.head("/health/live", include_in_schema=False)
@router.get("/health/live", operation_id="live")
def live() -> JSONResponse:
    """200 as long as the process answers at all."""
    return JSONResponse({"ok": True, "program": __version__})


@router.head("/health/ready", include_in_schema=False)
@router.get("/health/ready", operation_id="ready", responses=_NOT_READY)
@router.head("/health", include_in_schema=False)
@router.get("/health", operation_id="health", responses=_NOT_READY)
def health(data: Data) -> JSONResponse:
    """200 with engine, version, journal and revision, or 503 when the database does not answer in time."""
    facts = _within_budget(data)
    wanted = newest_revision()
    ok = facts is not None and facts["revision"] == wanted
    body = {"ok": ok, "program": __version__, **(facts or {}), "wanted_revision": wanted}
    headers = {} if ok else {"Retry-After": "5"}
    return JSONResponse(body, 200 if ok else 503, headers)
