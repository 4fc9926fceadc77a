"""Secret addresses of calendars: made, shown once, ended; and whose an address is."""

from __future__ import annotations

from datetime import date, datetime

from sqlmodel import Session, col, select, update

from service.actions.note_change import note_change
from service.core.access import Actor
from service.core.findings import NotFound
from service.core.sign_in_rules import token_hash
from service.records.notices import CalendarFeed
from service.records.owners import Here, who_is_here


def make_feed(session: Session, actor: Actor, now: datetime, token: str) -> CalendarFeed:
    """A new address for one's own calendar; the one before ends with it. Only the token's hash is kept."""
    end_feeds_of(session, actor.person_id, now)
    row = CalendarFeed(person_id=actor.person_id, token_hash=token_hash(token), created_at=now)
    session.add(row)
    session.flush()
    note_change(session, actor, now, ("person", actor.person_id), "calendar address", "", f"number {row.id}")
    return row


def end_feed(session: Session, actor: Actor, now: datetime) -> bool:
    """End one's own address for good; False when there was none."""
    ended = end_feeds_of(session, actor.person_id, now)
    if ended:
        note_change(session, actor, now, ("person", actor.person_id), "calendar address", "in use", "ended")
    return bool(ended)


def end_feeds_of(session: Session, person_id: int, now: datetime) -> int:
    """End whatever addresses a person has: they made a new one, or were switched off. Returns how many."""
    alive = col(CalendarFeed.person_id) == person_id, col(CalendarFeed.ended_at).is_(None)
    return int(session.exec(update(CalendarFeed).where(*alive).values(ended_at=now)).rowcount)


def feed_of(session: Session, person_id: int) -> CalendarFeed | None:
    """The address of somebody that is in use, if there is one."""
    alive = col(CalendarFeed.person_id) == person_id, col(CalendarFeed.ended_at).is_(None)
    return session.exec(select(CalendarFeed).where(*alive).order_by(col(CalendarFeed.id).desc())).first()


def whose_feed(session: Session, token: str, today: date) -> Here:
    """Whose calendar a token opens.

    Raises:
        NotFound: no such address, ended, or its person is not here any more; all told alike.
    """
    wanted = select(CalendarFeed).where(
        col(CalendarFeed.token_hash) == token_hash(token), col(CalendarFeed.ended_at).is_(None)
    )
    row = session.exec(wanted).one_or_none()
    person = who_is_here(session, today).get(row.person_id) if row is not None else None
    if person is None:
        raise NotFound("There is no calendar at this address.")
    return person
