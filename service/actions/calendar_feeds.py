"""Secret addresses of calendars: made, shown once, ended; and whose an address is."""

from __future__ import annotations

from datetime import date, datetime
from typing import Final

from sqlmodel import Session, col, select, update

from service.actions.note_change import note_change
from service.core.access import Actor
from service.core.findings import NotFound
from service.core.sign_in_rules import token_hash
from service.records.notices import CalendarFeed
from service.records.owners import Here, who_is_here

LEFT: Final = "left"


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


def end_feeds_of(session: Session, person_id: int, now: datetime, why: str = "own") -> int:
    """End whatever addresses a person has: they made a new one, or were switched off ("left").

    Returns how many. What an address told that was ended because its person left is told as cancelled after
    that; one that its own person ended opens nothing.
    """
    alive = col(CalendarFeed.person_id) == person_id, col(CalendarFeed.ended_at).is_(None)
    ended = update(CalendarFeed).where(*alive).values(ended_at=now, ended_why=why)
    return int(session.exec(ended).rowcount)


def feed_of(session: Session, person_id: int) -> CalendarFeed | None:
    """The address of somebody that is in use, if there is one."""
    alive = col(CalendarFeed.person_id) == person_id, col(CalendarFeed.ended_at).is_(None)
    return session.exec(select(CalendarFeed).where(*alive).order_by(col(CalendarFeed.id).desc())).first()


def whose_feed(session: Session, token: str, today: date) -> tuple[CalendarFeed, Here | None]:
    """The address a token opens, and whose it is; None where that person is not here any more.

    Raises:
        NotFound: no such address, or one that its own person ended; both told alike.
    """
    row = session.exec(
        select(CalendarFeed).where(col(CalendarFeed.token_hash) == token_hash(token))
    ).one_or_none()
    if row is None or (row.ended_at is not None and row.ended_why != LEFT):
        raise nothing_here()
    here = who_is_here(session, today).get(row.person_id) if row.ended_at is None else None
    return row, here


def nothing_here() -> NotFound:
    """What every address is answered with that tells nothing."""
    return NotFound("There is no calendar at this address.")
