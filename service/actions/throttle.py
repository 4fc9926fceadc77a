"""Wrong tries, counted in the database per account, per address, per person and tablet.

A try is counted before the secret is checked and taken back when it was right: many tries sent at once
cannot all slip in before the first failure is written.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy.dialects import postgresql, sqlite
from sqlmodel import Session, col, delete, select

from service.core.sign_in_rules import FORGOTTEN_AFTER, FREE_TRIES, clock_went_back, wait_after
from service.records.people import Throttle


class Throttled(Exception):  # noqa: N818 - reads as what happened
    """Too many wrong tries: 429. ``wait_s`` whole seconds, for Retry-After."""

    def __init__(self, wait: timedelta) -> None:
        self.wait_s = max(1, -int(-wait.total_seconds() // 1))
        unit = f"{self.wait_s} seconds" if self.wait_s < 120 else f"{-(-self.wait_s // 60)} minutes"
        self.sentence = f"Too many tries did not match. Wait {unit}, then try again."
        super().__init__(self.sentence)


def count_try(session: Session, keys: list[tuple[str, str]], now: datetime) -> None:
    """Count one try under every key, or refuse it.

    Raises:
        Throttled: one of the keys has to wait; nothing is counted then.
    """
    rows = [_locked_row(session, kind, key, now) for kind, key in sorted(keys)]
    waiting = max((row.wait_until for row in rows if row.wait_until is not None), default=None)
    if waiting is not None and waiting > now:
        raise Throttled(waiting - now)
    for row in rows:
        row.failures = min(row.failures, FREE_TRIES + 20) + 1
        row.wait_until = now + wait_after(row.failures)
        row.last_at = now
        session.add(row)


def forget_tries(session: Session, keys: list[tuple[str, str]]) -> None:
    """The secret was right: the keys start afresh."""
    for kind, key in keys:
        session.exec(delete(Throttle).where(col(Throttle.kind) == kind, col(Throttle.key) == key))


def _locked_row(session: Session, kind: str, key: str, now: datetime) -> Throttle:
    insert = sqlite.insert if session.get_bind().dialect.name == "sqlite" else postgresql.insert
    values = {"kind": kind, "key": key, "failures": 0, "wait_until": None, "last_at": now}
    session.execute(insert(Throttle).values(**values).on_conflict_do_nothing())
    wanted = select(Throttle).where(col(Throttle.kind) == kind, col(Throttle.key) == key)
    row = session.exec(wanted.with_for_update()).one()
    if now - row.last_at > FORGOTTEN_AFTER:
        row.failures, row.wait_until = 0, None
    elif row.wait_until is not None and clock_went_back(row.last_at, now):
        # Nobody waits for years because the clock once stood there.
        row.wait_until, row.last_at = now + wait_after(row.failures), now
        session.add(row)
    return row
