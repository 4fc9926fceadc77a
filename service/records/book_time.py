"""The time of the book: it never goes back, whatever the machine's clock does."""

from datetime import datetime
from typing import Final

from sqlalchemy import select
from sqlmodel import Session, col

from service.records.kept_statements import run
from service.records.shop import BookClock

_CLOCK: Final = select(col(BookClock.last_recorded_at)).where(col(BookClock.id) == 1)


def book_now(session: Session, now: datetime) -> datetime:
    """Now, or the last instant in the book if this machine's clock went back: clocks of rags run on."""
    last: datetime | None = run(session, _CLOCK).scalar_one_or_none()
    return now if last is None else max(now, last)
