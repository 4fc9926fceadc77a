"""What oily rags put on every page: the notice in the header, and their part of the duty count."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session, col, func, select

from service.core.access import Actor, Permission, may
from service.core.rag_judgement import notice_due
from service.core.sign_in_rules import CLOCK_SLACK
from service.records.book_time import book_now as book_now  # asked for here by the pages
from service.records.check_queries import count_due
from service.records.duties import Duty
from service.records.rag_queries import JudgedLoad, standing_loads
from service.web.chrome import add_notice_provider, set_duty_counter
from service.web.deps import shop_zone
from service.web.render import Notice


def _standing(session: Session, now: datetime) -> tuple[datetime, list[JudgedLoad]]:
    """The loads that stand and the instant they are judged at. Asked once in a header, though two things of
    it need them: what was read is kept with the header's own session, which never writes.
    """
    kept: tuple[datetime, datetime, list[JudgedLoad]] | None = session.info.get("standing rags")
    if kept is None or kept[0] != now:
        at = book_now(session, now)
        kept = session.info["standing rags"] = (now, at, standing_loads(session, at))
    return kept[1], kept[2]


def rag_notices(session: Session, actor: Actor | None, now: datetime) -> Sequence[Notice]:
    """One notice per load from an hour before it must leave, and while it blocks. Strangers read no names."""
    at, standing = _standing(session, now)
    due = [seen for seen in standing if notice_due(seen.judgement, at)]
    return [notice_of(seen, actor, at) for seen in due]


def clock_notices(session: Session, actor: Actor | None, now: datetime) -> Sequence[Notice]:
    """One notice while this machine's clock stands before the last entry: rag times stand still then."""
    if book_now(session, now) - now <= CLOCK_SLACK:
        return []
    said = (
        "This machine's clock stands before the last entry of the book. Until it is set right, the times of "
        "oily rags stand still: watch them yourselves, and tell the keeper."
    )
    return [Notice(said, -1, "/rags", "See the rags", counts=False)]


def notice_of(seen: JudgedLoad, actor: Actor | None, at: datetime) -> Notice:
    """The notice of one load. Minutes left count to when it must leave; below zero: since when it is late."""
    judgement = seen.judgement
    minutes = -max(1, judgement.minutes_late) if judgement.blocks else judgement.minutes_left or 0
    if actor is None:
        said = "Oily rags are overdue." if judgement.blocks else "Oily rags must soon leave the building."
        return Notice(said, minutes, "/rags", "See the rags")
    where = "loose" if not seen.state.contained else seen.state.where
    said = f"{judgement.load.name}: {where}; {judgement.load.owed_by} owes it."
    button = "Put them away" if not seen.state.contained else "Record who took them"
    if not may(actor.role, Permission.HAND_IN_RAGS):
        button = "See the rags"
    return Notice(said, minutes, f"/rags/{seen.load_id}", button)


def count_duties(session: Session, actor: Actor, now: datetime) -> int:
    """What the page of duties shows of somebody: open duties, standing rag loads, checks due or late."""
    owed = select(func.count()).select_from(Duty)
    owed = owed.where(col(Duty.done_at).is_(None), col(Duty.owed_by) == actor.person_id)
    at, standing = _standing(session, now)
    loads = [seen for seen in standing if seen.row.owed_by == actor.person_id]
    checks = count_due(session, actor.person_id, at.astimezone(shop_zone(session)).date())
    return int(session.exec(owed).one()) + len(loads) + checks


def install() -> None:
    """Put both into the chrome of every page."""
    add_notice_provider(rag_notices)
    add_notice_provider(clock_notices)
    set_duty_counter(count_duties)
