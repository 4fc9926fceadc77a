"""Signing in with a password, staying signed in, and being signed out.

The password check takes tens of milliseconds, so it stands between two short transactions: count the try,
check, then open the session. These functions take the database; everything else takes the caller's session.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from sqlmodel import Session, col, select, update

from service.actions.passwords import Hasher
from service.actions.throttle import count_try, forget_tries
from service.core.findings import Invalid
from service.core.sign_in_rules import (
    SEEN_EVERY,
    Limits,
    clock_went_back,
    has_expired,
    session_is_over,
    sign_in_name,
    token_hash,
)
from service.records.engine import Database
from service.records.people import Device, Person, WebSession

NO_MATCH = "That sign-in name and password do not belong together. Check both and try again."
"""The one sentence for every failure: unknown name, wrong password, switched off, run out."""


@dataclass(frozen=True)
class Attempt:
    """What came with a sign-in form. ``address`` is the throttle's key of the caller."""

    name: str
    password: str
    address: str
    user_agent: str = ""


@dataclass(frozen=True)
class Opening:
    """What a new session needs from outside: its token, the instant, the shop's day, the time limits."""

    token: str
    now: datetime
    today: date
    limits: Limits


class Account(Protocol):
    """What of a person says whether they may act: the row itself, or these columns of it."""

    @property
    def active(self) -> bool: ...

    @property
    def expires_on(self) -> date | None: ...


def may_act(person: Account | None, today: date) -> bool:
    """Whether somebody is there, not switched off, and their dated account has not run out."""
    return person is not None and person.active and not has_expired(person.expires_on, today)


def sign_in_with_password(data: Database, hasher: Hasher, attempt: Attempt, opening: Opening) -> int:
    """Open a session for the person whose name and password these are; returns the person's id.

    Raises:
        Invalid: they do not belong together (one sentence for every cause).
        Throttled: too many tries by this account or this address.
    """
    name = _folded(attempt.name)
    keys = [("account", name), ("address", attempt.address)]
    with data.writing() as session:
        count_try(session, keys, opening.now)
    with data.reading() as session:
        person = _by_sign_in_name(session, name)
        stored = person.password_hash if person is not None and not person.is_script else None
    checked = hasher.check(attempt.password, stored)
    if not checked.ok or person is None or not may_act(person, opening.today):
        raise Invalid(NO_MATCH)
    with data.writing() as session:
        fresh = session.get(Person, person.id, with_for_update=True)
        # Switched off, or a new password, while the old one was being checked.
        if fresh is None or not may_act(fresh, opening.today) or fresh.password_hash != stored:
            raise Invalid(NO_MATCH)
        if checked.better_hash is not None:
            fresh.password_hash = checked.better_hash
            session.add(fresh)
        forget_tries(session, keys)
        open_session(session, opening, person_id=fresh.id, user_agent=attempt.user_agent)
    assert person.id is not None
    return person.id


def check_own_password(data: Database, hasher: Hasher, person_id: int, password: str, now: datetime) -> None:
    """The person who is signed in proves it again before a change of password or PIN.

    Raises:
        Invalid: it does not match.
        Throttled: too many tries.
    """
    keys = [("own-password", str(person_id))]
    with data.writing() as session:
        count_try(session, keys, now)
    with data.reading() as session:
        person = session.get(Person, person_id)
        stored = person.password_hash if person else None
    if not hasher.check(password, stored).ok:
        words = "That is not your present password."
        raise Invalid(words, {"present_password": words})
    with data.writing() as session:
        forget_tries(session, keys)


def _folded(name: str) -> str:
    try:
        return sign_in_name(name)
    except Invalid:
        # Not a name anybody can have; counted and checked like any other, so that it takes as long.
        return "(none)"


def _by_sign_in_name(session: Session, name: str) -> Person | None:
    return session.exec(select(Person).where(col(Person.sign_in_name) == name)).one_or_none()


def open_session(
    session: Session,
    opening: Opening,
    *,
    person_id: int | None = None,
    device_id: int | None = None,
    user_agent: str = "",
) -> WebSession:
    """A new session of a person or a device; only the token's hash is kept."""
    row = WebSession(
        token_hash=token_hash(opening.token),
        person_id=person_id,
        device_id=device_id,
        created_at=opening.now,
        last_seen_at=opening.now,
        expires_at=opening.now + opening.limits.longest,
        user_agent="".join(sign for sign in user_agent if sign.isprintable())[:200],
    )
    session.add(row)
    session.flush()
    return row


@dataclass(frozen=True)
class Found:
    """A session that holds, and who it belongs to: a person, or a device and perhaps who tapped on it."""

    session: WebSession
    person: Person | None
    device: Device | None


def find_session(
    session: Session, token: str, limits: Limits, now: datetime, today: date
) -> Found | None:
    """The session a token opens, or None: unknown, ended, over its time, switched off, run out."""
    wanted = select(WebSession).where(col(WebSession.token_hash) == token_hash(token))
    row = session.exec(wanted).one_or_none()
    if row is None or row.ended_at is not None:
        return None
    if row.device_id is not None:
        return _device_session(session, row, now, today)
    if now >= row.expires_at or session_is_over(row.created_at, row.last_seen_at, limits, now):
        return None
    person = session.get(Person, row.person_id)
    return Found(row, person, None) if may_act(person, today) else None


def run_out(session: Session, token: str, today: date) -> date | None:
    """The last day of the person whose session a token opened, if that is what ended it."""
    wanted = (
        select(Person)
        .join(WebSession, col(WebSession.person_id) == col(Person.id))
        .where(col(WebSession.token_hash) == token_hash(token), col(WebSession.ended_at).is_(None))
    )
    person = session.exec(wanted).one_or_none()
    return person.expires_on if person is not None and has_expired(person.expires_on, today) else None


def _device_session(session: Session, row: WebSession, now: datetime, today: date) -> Found | None:
    """A tablet on the wall stays signed in until a keeper switches it off: by itself it may do nothing."""
    device = session.get(Device, row.device_id)
    if device is None or not device.active:
        return None
    if row.tapped_person_id is None or row.tapped_until is None or now >= row.tapped_until:
        return Found(row, None, device)
    if clock_went_back(row.last_seen_at, now):
        return Found(row, None, device)
    person = session.get(Person, row.tapped_person_id)
    return Found(row, person if may_act(person, today) else None, device)


def is_worth_noting(last: datetime | None, now: datetime) -> bool:
    """Whether the last use is long enough ago to be written down again."""
    return last is None or now - last >= SEEN_EVERY


def note_use(session: Session, session_id: int, now: datetime) -> None:
    """Write down that a session is in use. Never revives one that has been ended meanwhile."""
    alive = col(WebSession.id) == session_id, col(WebSession.ended_at).is_(None)
    session.exec(update(WebSession).where(*alive).values(last_seen_at=now))


def end_session(session: Session, session_id: int, now: datetime) -> None:
    """Sign out: the token opens nothing any more, whoever kept a copy."""
    alive = col(WebSession.id) == session_id, col(WebSession.ended_at).is_(None)
    session.exec(
        update(WebSession).where(*alive).values(ended_at=now, tapped_person_id=None, tapped_until=None)
    )


def end_sessions_of(session: Session, person_id: int, now: datetime) -> None:
    """End every sign-in of a person: new password, new role, switched off. Also where they tapped."""
    alive = col(WebSession.person_id) == person_id, col(WebSession.ended_at).is_(None)
    session.exec(update(WebSession).where(*alive).values(ended_at=now))
    end_taps_of(session, person_id)


def end_taps_of(session: Session, person_id: int) -> None:
    """Let a person be tapped on no tablet any more."""
    tapped = col(WebSession.tapped_person_id) == person_id
    session.exec(update(WebSession).where(tapped).values(tapped_person_id=None, tapped_until=None))
