"""The gate every request passes: the table row of its route, and what the caller may.

``actor: Signed`` hands a page the person it acts for.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Annotated, Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, FastAPI, Request
from fastapi.responses import RedirectResponse, Response
from fastapi.routing import APIRoute
from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute, Mount, Route

from service.core.access import Actor, Permission, may, require
from service.core.findings import NotAllowed
from service.web.chrome import take_flash
from service.web.problems import Problem, answer, wants_json
from service.web.route_table import BY_KEY, ROWS
from service.web.routes.row import LOOPBACK, OWN_SIGN_IN, PUBLIC, SIGNED_IN, TABLET, Door, RouteRow
from service.web.sign_in_form import (
    BEARER,
    Carried,
    asks_for_page,
    carried_from,
    path_with_query,
    show_sign_in,
    show_tap,
)
from service.web.this_machine import on_this_machine
from service.web.visitor import Visitor, is_api, note_visit, visitor_of

NOT_BY_PIN: Final = frozenset({Permission.PEOPLE, Permission.TOKENS, Permission.PROFILES})
"""A PIN on a shared tablet does not open these: they are done after signing in with the password."""


class DoorsDisagree(RuntimeError):  # noqa: N818
    """Routes and table do not match: the service does not start."""


class SignInNeeded(Exception):  # noqa: N818
    """Nobody is signed in, or nobody is tapped on the tablet: answered by way of the sign-in page."""


def enforce(request: Request) -> None:
    """The application-wide dependency: refuses whatever the row of the matched route does not allow."""
    row = row_of(request)
    if row is None:
        raise NotAllowed("This address has no line in the table of who may do what.")
    if row.needs is PUBLIC:
        return
    if row.needs is LOOPBACK:
        _this_machine_only(request)
        return
    visitor = visitor_of(request)
    admit(visitor, row)
    note_visit(request, visitor)
    if request.method == "GET" and asks_for_page(request):
        take_flash(request, visitor)


def row_of(request: Request) -> RouteRow | None:
    """The line of the table for the matched route."""
    path = getattr(request.scope.get("route"), "path", "")
    return BY_KEY.get((request.method, path))


def admit(visitor: Visitor, row: RouteRow) -> None:
    """Whether this visitor may pass a row that is not open to everybody.

    Raises:
        SignInNeeded: nobody is signed in, or tapped.
        NotAllowed: their role does not cover it.
    """
    if row.needs is TABLET:
        if not visitor.known:
            raise SignInNeeded
        return
    if visitor.actor is None:
        raise SignInNeeded
    if row.needs is OWN_SIGN_IN:
        if visitor.actor.device_id is not None or visitor.actor.token_id is not None:
            raise NotAllowed("Sign in with your password on another device for this.")
        return
    if isinstance(row.needs, Door):
        if row.needs is not SIGNED_IN:
            raise NotAllowed("This address cannot be used from here.")
        return
    _judge(visitor.actor, row.needs)


def _judge(actor: Actor, needs: tuple[Permission, ...]) -> None:
    if not any(may(actor.role, permission) for permission in needs):
        require(actor, needs[0])
    if actor.device_id is not None and all(permission in NOT_BY_PIN for permission in needs):
        raise NotAllowed(
            "A PIN on a shared tablet does not open this. Sign in with your password on another device."
        )


def _this_machine_only(request: Request) -> None:
    if not on_this_machine(request):
        raise NotAllowed(
            "This address works only in a browser on the machine the service runs on, through no proxy."
        )


def current_actor(request: Request) -> Actor:
    """The person this request acts for.

    Raises:
        SignInNeeded: there is none.
    """
    actor = visitor_of(request).actor
    if actor is None:
        raise SignInNeeded
    return actor


async def _seen(request: Request) -> Visitor:
    """The gate has asked already who it is; only what is open to everybody asks here, in a pool thread."""
    known = getattr(request.state, "visitor", None)
    return known if isinstance(known, Visitor) else await run_in_threadpool(visitor_of, request)


async def _signed(request: Request) -> Actor:
    await _seen(request)
    return current_actor(request)


Signed = Annotated[Actor, Depends(_signed)]
Seen = Annotated[Visitor, Depends(_seen)]


async def ask_to_sign_in(request: Request, _: Exception) -> Response:
    """401 for scripts, 303 to the sign-in page for a look, and for a post the sign-in page that keeps it."""
    if is_api(request):
        words = "Send a token in the Authorization header: Bearer and the token."
        if request.headers.get("authorization"):
            words = "That token is not known here, or has been ended."
        return answer(request, Problem("sign-in", words, headers=BEARER))
    visitor = await run_in_threadpool(visitor_of, request)
    tablet = visitor.device_id is not None
    if request.method in ("GET", "HEAD"):
        if wants_json(request.url.path, request.headers.get("accept", "")):
            return answer(request, Problem("sign-in", "Sign in on the page /sign-in first."))
        where = "/tap" if tablet else "/sign-in"
        return RedirectResponse(f"{where}?{urlencode({'next': path_with_query(request)})}", 303)
    carried: Carried = await carried_from(request)
    show = show_tap if tablet else show_sign_in
    return await run_in_threadpool(show, request, carried, status=401)


def install(app: FastAPI) -> None:
    """Register how a missing sign-in is answered."""
    app.add_exception_handler(SignInNeeded, ask_to_sign_in)


def flat(routes: Iterable[BaseRoute], prefix: str = "") -> Iterator[tuple[str, str, BaseRoute]]:
    """(method, full path, route) of every route, also inside included routers."""
    for route in routes:
        inner: APIRouter | None = getattr(route, "original_router", None)
        if inner is not None:
            context = getattr(route, "include_context", None)
            yield from flat(inner.routes, prefix + getattr(context, "prefix", ""))
        elif isinstance(route, Mount):
            yield from flat(route.routes or [], prefix + route.path)
        elif isinstance(route, Route | APIRoute):
            methods = set(route.methods or ())
            if not isinstance(route, APIRoute):
                methods.discard("HEAD")  # added by the framework to its plain routes
            for method in sorted(methods):
                yield method, prefix + route.path, route


def check_table(app: FastAPI, rows: tuple[RouteRow, ...] = ROWS) -> None:
    """Compare the routes with the table, both ways.

    Raises:
        DoorsDisagree: a route without a line, a line without a route, two lines for one, a line that asks
            for something of a route that the gate cannot stand before.
    """
    table: dict[tuple[str, str], RouteRow] = {row.key: row for row in rows}
    found = {(method, path): route for method, path, route in flat(app.routes)}
    faults = [f"no line for {method} {path}" for method, path in found if (method, path) not in table]
    faults += [f"no route for {method} {path}" for method, path in table if (method, path) not in found]
    faults += _doubles(rows)
    faults += _ungated(found, table)
    if faults:
        raise DoorsDisagree("The route table does not match the routes: " + "; ".join(sorted(faults)))


def _doubles(rows: tuple[RouteRow, ...]) -> list[str]:
    keys = [row.key for row in rows]
    return [f"two lines for {key[0]} {key[1]}" for key in set(keys) if keys.count(key) > 1]


def _ungated(found: Mapping[tuple[str, str], Any], table: Mapping[tuple[str, str], RouteRow]) -> list[str]:
    """The gate is a dependency of the framework's own routes; and it sees a route's own path, no prefix."""
    faults = []
    for (method, path), route in found.items():
        row = table.get((method, path))
        if row is None:
            continue
        if not isinstance(route, APIRoute) and row.needs is not PUBLIC:
            faults.append(f"{method} {path} is no gated route, so it can only be public")
        if isinstance(route, APIRoute) and route.path != path:
            faults.append(f"{path} is included with a prefix; write the full path in its router")
    return faults
