"""Who sent this request: a person, a tablet with or without somebody tapped, a script, or nobody.

Under /api only a bearer token counts, elsewhere only the cookie: a page of another site can make a browser
send a cookie, but never an Authorization header.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from fastapi import Request
from fastapi.responses import Response
from sqlalchemy.exc import OperationalError
from sqlmodel import Session

from service.actions.api_tokens import find_api_token, note_token_use
from service.actions.sign_in import Found, find_session, is_worth_noting, note_use
from service.config import Settings
from service.core.access import Actor
from service.core.sign_in_rules import Limits
from service.records.engine import Database, DatabaseBusy
from service.web.deps import now_of, shop_today

SECURE_COOKIE: Final = "__Host-umberkeep"
PLAIN_COOKIE: Final = "umberkeep"


@dataclass(frozen=True)
class Visitor:
    """``actor`` is whom an act is booked to; a tablet without a tapped person has a ``device_id`` only."""

    actor: Actor | None = None
    session_id: int | None = None
    device_id: int | None = None
    device_name: str = ""
    tapped_until: datetime | None = None
    theme: str = "auto"
    flash: str = ""
    last_used: datetime | None = None

    @property
    def known(self) -> bool:
        return self.actor is not None or self.device_id is not None


NOBODY: Final = Visitor()


def limits_of(settings: Settings) -> Limits:
    """The time limits of a sign-in from the settings."""
    return Limits(timedelta(hours=settings.session_idle_hours), timedelta(days=settings.session_days))


def cookie_name(settings: Settings) -> str:
    """Plain http gets another name: browsers keep ``__Host-`` for https."""
    return SECURE_COOKIE if settings.secure_cookies else PLAIN_COOKIE


def set_cookie(response: Response, settings: Settings, token: str, *, device: bool = False) -> None:
    """Hand the browser its session. A tablet keeps it for years; it is switched off on the server."""
    response.set_cookie(
        cookie_name(settings), token, max_age=(365 * 5 if device else settings.session_days) * 86_400,
        path="/", secure=settings.secure_cookies, httponly=True, samesite="lax",
    )


def drop_cookie(response: Response, settings: Settings) -> None:
    response.delete_cookie(
        cookie_name(settings), path="/", secure=settings.secure_cookies, httponly=True, samesite="lax"
    )


def is_api(request: Request) -> bool:
    path = request.scope["path"]
    return bool(path == "/api" or path.startswith("/api/"))


def visitor_of(request: Request) -> Visitor:
    """Who sent this request; asked once and remembered for it. Only reads."""
    known = getattr(request.state, "visitor", None)
    if isinstance(known, Visitor):
        return known
    token = _token(request)
    visitor = NOBODY
    if token:
        database: Database = request.app.state.database
        now = now_of(request)
        with database.reading() as session:
            today = shop_today(session, now)
            find = _by_token if is_api(request) else _by_cookie
            visitor = find(session, token, request, now, today)
    request.state.visitor = visitor
    request.state.person_id = visitor.actor.person_id if visitor.actor else None
    return visitor


def forget_visitor(request: Request, now_is: Visitor | None = None) -> None:
    """The request has just signed somebody in or out: ask again, or remember who it ``now_is``."""
    request.state.visitor = now_is


def _token(request: Request) -> str:
    if is_api(request):
        scheme, _, token = request.headers.get("authorization", "").partition(" ")
        return token.strip() if scheme.lower() == "bearer" else ""
    return request.cookies.get(cookie_name(request.app.state.settings), "")


def _by_token(session: Session, token: str, request: Request, now: datetime, today: date) -> Visitor:
    found = find_api_token(session, token, today)
    if found is None:
        return NOBODY
    # The token's role counts: a name whose role was changed keeps no old right.
    actor = Actor(found.person_id, found.name, found.role, token_id=found.token_id)
    return Visitor(actor=actor, last_used=found.last_used_at)


def _by_cookie(session: Session, token: str, request: Request, now: datetime, today: date) -> Visitor:
    found = find_session(session, token, limits_of(request.app.state.settings), now, today)
    if found is None:
        return NOBODY
    return _visitor(found)


def _visitor(found: Found) -> Visitor:
    person, device, row = found.person, found.device, found.session
    actor = None
    if person is not None:
        assert person.id is not None
        actor = Actor(person.id, person.name, person.role, device_id=device.id if device else None)
    return Visitor(
        actor=actor,
        session_id=row.id,
        device_id=device.id if device else None,
        device_name=device.name if device else "",
        tapped_until=row.tapped_until if device and person else None,
        theme=person.theme if person else "auto",
        flash=row.flash,
        last_used=row.last_seen_at,
    )


def note_visit(request: Request, visitor: Visitor) -> None:
    """Write down, at most every five minutes, that a sign-in or token is in use."""
    now = now_of(request)
    if not visitor.known or not is_worth_noting(visitor.last_used, now):
        return
    database: Database = request.app.state.database
    try:
        with database.writing() as session:
            if visitor.session_id is not None:
                note_use(session, visitor.session_id, now)
            elif visitor.actor is not None and visitor.actor.token_id is not None:
                note_token_use(session, visitor.actor.token_id, now)
    except (DatabaseBusy, OperationalError):  # a full disk stops no reading; the next request notes it
        return
