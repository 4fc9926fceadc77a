"""One place where every error becomes a status code: ``install(app)``.

The five errors of `core.findings`, the framework's own, and what the databases raise on odd input or when
they are busy. No input gives a 5xx other than 503; a 500 is a mistake of ours and is logged once, with the
reference that the person sees (`web.guard.Watch` writes it).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from sqlalchemy import exc as sa
from sqlalchemy.orm.exc import StaleDataError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.web import storage_trouble
from service.web.problems import KINDS, Problem, answer, last_words, name_for_status
from service.web.sentences import said_of_call

_TOO_MUCH_IN_A_FORM: Final = ("Field exceeded", "Part exceeded", "Too many fields")
"""How the framework's form readers begin when a form is over `MAX_FIELDS` or `MAX_PART`."""
_UNUSABLE: Final = "Something in what you sent cannot be used: a number or a sign the books cannot hold."


def install(app: FastAPI) -> None:
    """Register every handler on ``app``. The handlers are plain functions: they run in a worker thread,
    because the page's chrome may ask the database.
    """
    handlers: dict[Any, Any] = {
        NotFound: _told, NotAllowed: _told, Invalid: _told, Refused: _told, Stale: _told,
        RequestValidationError: _not_valid,
        HTTPException: _http,
        OverflowError: _unusable, UnicodeError: _unusable, ValueError: _value_error,
        sa.StatementError: _statement, sa.DataError: _unusable,
        sa.IntegrityError: _conflict, StaleDataError: _stale_data,
        sa.OperationalError: _database, sa.InterfaceError: _database, sa.InternalError: _database,
        sa.TimeoutError: _busy,
        OSError: _os_error, ClientDisconnect: _gone,
        Exception: _unexpected,
    }
    for kind, handler in handlers.items():
        app.add_exception_handler(kind, handler)


def problem_of(error: NotFound | NotAllowed | Invalid | Refused | Stale) -> Problem:
    """One of the five errors as a problem.

    >>> problem_of(NotFound("No container has the code K7Q F2B.")).code
    404
    """
    match error:
        case NotFound():
            return Problem("not-found", error.sentence)
        case NotAllowed():
            return Problem("not-allowed", error.sentence)
        case Invalid():
            return Problem("invalid", error.sentence, errors=error.errors, readings=error.readings)
        case Refused():
            return Problem("refused", error.sentence, findings=error.verdict)
        case Stale():
            return Problem(error.kind.value, error.sentence, findings=error.verdict)


def _told(request: Request, error: NotFound | NotAllowed | Invalid | Refused | Stale) -> Response:
    return answer(request, problem_of(error))


def _said(error: dict[str, Any]) -> str:
    """The sentence for one error; an item that is no object is not told as a body that is none."""
    inside = error["type"] == "model_attributes_type" and len(error["loc"]) > 1
    return said_of_call(error | {"type": "model_type"} if inside else error, name_of(error["loc"]))


def _not_valid(request: Request, error: RequestValidationError) -> Response:
    """422 without repeating what came in: a NaN or half a surrogate pair in the answer would be a 500."""
    errors = {
        "body" if e["type"] == "json_invalid" else place(e["loc"]): _said(e)
        for e in error.errors()[:100]
    }
    unreadable = any(e["type"] == "json_invalid" for e in error.errors())
    # Two equal sentences are said once; `errors` still names each place.
    detail = "The body is not JSON." if unreadable else " ".join(list(dict.fromkeys(errors.values()))[:3])
    return answer(request, Problem("invalid", detail or KINDS["invalid"].title, errors=errors))


def place(loc: Sequence[str | int]) -> str:
    """Where in the request an error lies, in dots, without the framework's own first word.

    >>> place(("body", "components", 0, "mass_g")), place(("query", "limit")), place(("body",))
    ('components.0.mass_g', 'limit', 'body')
    """
    path = [str(part)[:80] for part in (loc[1:] if len(loc) > 1 else loc)]
    # A key of an `extra` error is the sender's own text: keep it printable.
    return ".".join(path).encode("ascii", "backslashreplace").decode()[:300]


def name_of(loc: Sequence[str | int]) -> str:
    """The last named part of ``loc`` as it stands in a sentence: a field by its own name, in quotes.

    >>> name_of(("body", "mass_g")), name_of(("body", "weekdays", 0)), name_of(("query", "limit"))
    ('“mass_g”', '“weekdays”', '“limit”')
    >>> name_of(("body",)), name_of(("body", 0))
    ('the body', 'the body')
    """
    name = next((str(part) for part in reversed(loc[1:]) if isinstance(part, str)), "")
    return f"“{place(('', name))}”" if name else "the body"


def _http(request: Request, error: HTTPException) -> Response:
    said = str(error.detail)  # ours end with a full stop; the framework's ("Not Found") are replaced
    if error.status_code == 400 and said.startswith(_TOO_MUCH_IN_A_FORM):
        return answer(request, Problem("too-large", "A field is too long, or there are too many of them."))
    name = name_for_status(error.status_code)
    own = said if said.endswith(".") else ""
    detail = own or KINDS[name].meaning
    return answer(
        request,
        Problem(name, detail, status=error.status_code, headers=error.headers or {}),
    )


def _unusable(request: Request, _: Exception) -> Response:
    return answer(request, Problem("invalid", _UNUSABLE))


def _value_error(request: Request, error: ValueError) -> Response:
    """A ValueError is a mistake of ours, unless a database driver raised it over a value it was handed."""
    if not _raised_in(error, ("sqlalchemy", "sqlite3", "pysqlite3", "psycopg")):
        raise error
    return _unusable(request, error)


def _raised_in(error: BaseException, packages: tuple[str, ...]) -> bool:
    trace = error.__traceback__
    name = ""
    while trace is not None:
        name = trace.tb_frame.f_globals.get("__name__", "")
        trace = trace.tb_next
    return name.split(".")[0] in packages


def _statement(request: Request, error: sa.StatementError) -> Response:
    """A value a column would not take. A naive instant is a mistake of ours, not of the sender."""
    cause = error.orig
    if isinstance(cause, OverflowError | UnicodeError):
        return _unusable(request, error)
    if isinstance(cause, ValueError) and "naive" not in str(cause).lower():
        return _unusable(request, error)
    raise error


def _conflict(request: Request, _: sa.IntegrityError) -> Response:
    return answer(request, Problem("conflict", KINDS["conflict"].meaning))


def _stale_data(request: Request, _: StaleDataError) -> Response:
    return answer(request, Problem("stale", KINDS["stale"].meaning))


def _database(request: Request, error: sa.DBAPIError) -> Response:
    """Locked, full or out of reach is 503; a missing table is a mistake of ours."""
    problem = storage_trouble.of_database(error)
    if problem is None:
        raise error
    return answer(request, problem, ask_chrome=False)


def _busy(request: Request, _: Exception) -> Response:
    return answer(request, storage_trouble.busy(), ask_chrome=False)


def _os_error(request: Request, error: OSError) -> Response:
    problem = storage_trouble.of_system(error)
    if problem is None:
        raise error
    return answer(request, problem, ask_chrome=False)


def _gone(request: Request, _: Exception) -> Response:
    """The caller left in the middle of the body: nobody reads this, and it is no mistake of ours."""
    return answer(request, Problem("unreadable", "The body ended before it was whole. Nothing was saved."))


def _unexpected(request: Request, _: Exception) -> Response:
    return last_words(request, getattr(request.state, "request_id", ""))
