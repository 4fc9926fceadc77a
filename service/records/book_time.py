"""The time of the book: it never goes back, whatever the machine's clock does."""

from datetime import datetime

from sqlmodel import Session

from service.records.shop import BookClock


def book_now(session: Session, now: datetime) -> datetime:
    """Now, or the last instant in the book if this machine's clock went back: clocks of rags run on."""
    clock = session.get(BookClock, 1)
    return max(now, clock.last_recorded_at) if clock else now
