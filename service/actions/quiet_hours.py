"""The quiet hours somebody chose, as the rules read them; asked when a mail is written and when it leaves."""

from __future__ import annotations

from datetime import datetime, time
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.digest import Quiet
from service.records.notices import DigestChoice


def quiet_of(row: DigestChoice | None) -> Quiet | None:
    """The quiet hours of a choice; None where nothing was chosen."""
    if row is None or row.quiet_from is None or row.quiet_until is None:
        return None
    return Quiet(time.fromisoformat(row.quiet_from), time.fromisoformat(row.quiet_until))


def not_before(session: Session, person_id: int | None, now: datetime, zone: ZoneInfo) -> datetime:
    """``now`` itself, or when the quiet hours of this person end in which it lies."""
    row = session.get(DigestChoice, person_id, populate_existing=True) if person_id is not None else None
    quiet = quiet_of(row)
    return quiet.over(now, zone) if quiet is not None else now
