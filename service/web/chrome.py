"""What stands around every page: who is signed in, what has just been done, rag notices, the duty count.

Other subjects plug in with ``add_notice_provider(fn)`` and ``set_duty_counter(fn)``; both are called with
(session, actor or None, now). Leave the last act to be told with ``flash(session, request, "Drew 250 g.")``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime

from fastapi import FastAPI, Request
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, col, func, select, update

from service.core.access import Actor, may
from service.records.duties import Duty
from service.records.engine import Database, DatabaseBusy
from service.records.people import WebSession
from service.records.shop import ShopProfile
from service.web import render
from service.web.deps import now_of
from service.web.render import SECTIONS, Chrome, Flash, Notice, Section
from service.web.route_table import BY_KEY
from service.web.routes.row import PUBLIC, TABLET
from service.web.visitor import Visitor, visitor_of

NoticeProvider = Callable[[Session, Actor | None, datetime], Sequence[Notice]]
DutyCounter = Callable[[Session, Actor, datetime], int]

_notice_providers: list[NoticeProvider] = []


def add_notice_provider(provider: NoticeProvider) -> None:
    """Have ``provider`` asked for notices on every page, also for a tablet and for nobody (actor None)."""
    if provider not in _notice_providers:
        _notice_providers.append(provider)


def _open_duties(session: Session, actor: Actor, now: datetime) -> int:
    owed = select(func.count()).select_from(Duty).where(col(Duty.done_at).is_(None))
    return session.exec(owed.where(col(Duty.owed_by) == actor.person_id)).one()


_duty_counter: list[DutyCounter] = [_open_duties]


def set_duty_counter(counter: DutyCounter) -> None:
    """Replace how the number beside Today is counted."""
    _duty_counter[:] = [counter]


def install(app: FastAPI) -> None:
    """Fill the page chrome from the request's own application."""
    render.set_chrome_provider(chrome_of)


def chrome_of(request: Request) -> Chrome:
    """The chrome of one request. It reads only: a page may be built while its own write is still open."""
    visitor = visitor_of(request)
    now = now_of(request)
    database: Database = request.app.state.database
    with database.reading() as session:
        shop = session.get(ShopProfile, 1)
        notices = [n for provider in _notice_providers for n in provider(session, visitor.actor, now)]
        duties = _duty_counter[0](session, visitor.actor, now) if visitor.actor else 0
    who, role, account = _names(visitor)
    return Chrome(
        person=who,
        role=role,
        account_href=account,
        shop=shop.name if shop else "",
        notices=tuple(sorted(notices, key=lambda n: n.minutes_left)),
        duties=duties,
        flash=getattr(request.state, "flash", None),
        theme=visitor.theme,
        demo=bool(shop and shop.is_demo),
        zone=shop.time_zone if shop else "UTC",
        sections=tuple(section for section in SECTIONS if is_open_to(section, visitor)),
    )


def _names(visitor: Visitor) -> tuple[str, str, str]:
    if visitor.device_id is not None:
        if visitor.actor is None:
            return visitor.device_name, "tap your name", "/tap"
        return visitor.actor.name, visitor.actor.role.value, "/tap"
    if visitor.actor is None:
        return "Sign in", "", "/sign-in"
    return visitor.actor.name, visitor.actor.role.value, "/me"


def is_open_to(section: Section, visitor: Visitor) -> bool:
    """Whether the menu shows a section: its page exists and this visitor may open it."""
    row = BY_KEY.get(("GET", section.href))
    if row is None:
        return False
    if row.needs is PUBLIC:
        return True
    if row.needs is TABLET:
        return visitor.known
    if isinstance(row.needs, tuple):
        return visitor.actor is not None and any(may(visitor.actor.role, need) for need in row.needs)
    return visitor.actor is not None


def flash(session: Session, request: Request, text: str, href: str = "", link: str = "") -> None:
    """Tell ``text`` once at the top of the next page. Inside the act's own transaction."""
    visitor = visitor_of(request)
    if visitor.session_id is None:
        return
    kept = json.dumps({"text": text[:1200], "href": href[:300], "link": link[:120]})
    session.exec(update(WebSession).where(col(WebSession.id) == visitor.session_id).values(flash=kept))


def take_flash(request: Request, visitor: Visitor) -> None:
    """Take what is to be told out of the session, before the page is built."""
    if not visitor.flash or visitor.session_id is None:
        return
    database: Database = request.app.state.database
    try:
        with database.writing() as session:
            one = col(WebSession.id) == visitor.session_id
            session.exec(update(WebSession).where(one).values(flash=""))
    except (DatabaseBusy, OperationalError):  # told twice rather than not at all
        pass
    request.state.flash = Flash(**json.loads(visitor.flash))

