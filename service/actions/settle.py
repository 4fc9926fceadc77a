"""The one place where an act is settled: its `once` key, when it happened, and when the book heard of it.

Same key and same body: the first answer again. Same key, other body: refused. Recorded time never decreases.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from sqlalchemy import bindparam, insert, update
from sqlalchemy import select as columns_of
from sqlmodel import Session, col

from service.core.access import Actor
from service.core.findings import Finding, Invalid, Refused, Stale, StaleKind, Verdict, stop
from service.core.late_entries import judge_time
from service.records.ageing_queries import RestsOn
from service.records.former_rows import RECORDED_AT
from service.records.kept_statements import run, write_row
from service.records.shop import BookClock, ShopProfile
from service.records.stock import Posting, PostingResult

LAST_YEAR = 2199
"""The last year an entry may be recorded in."""


@dataclass(frozen=True)
class Sent:
    """An act as it was sent.

    Args:
        once: the key that makes resending harmless, 1 to 64 signs.
        body: everything that was asked, as plain JSON data; its hash tells a repeat from a reuse.
        happened_at: when it was done, aware; None = now.
        already_done: True for an act that has happened: it is recorded even where it would have been refused.
        late_reason: the sentence that a late entry needs, and what was done although something stops it.
        news: the act itself tells of a mishap (a spill): what stops it is recorded without a sentence.
    """

    once: str
    act: str
    body: Mapping[str, Any]
    happened_at: datetime | None = None
    already_done: bool = False
    late_reason: str = ""
    news: bool = False


class Posted(NamedTuple):
    """The row of an act in the book of postings, without its number."""

    once: str
    body_hash: str
    act: str
    person_id: int
    device_id: int | None
    token_id: int | None
    happened_at: datetime
    recorded_at: datetime
    late: bool
    late_reason: str


_ZONE: Final = columns_of(col(ShopProfile.time_zone)).where(col(ShopProfile.id) == 1)
_CLOCK: Final = (
    columns_of(col(BookClock.last_recorded_at)).where(col(BookClock.id) == 1).with_for_update()
)
_CLOCK_ON: Final = (
    update(BookClock).where(col(BookClock.id) == 1).values(last_recorded_at=bindparam("recorded"))
)
_EARLIER: Final = (
    columns_of(
        col(Posting.id), col(Posting.body_hash), col(Posting.person_id), col(PostingResult.result)
    )
    .outerjoin(PostingResult, col(PostingResult.posting_id) == col(Posting.id))
    .where(col(Posting.once) == bindparam("once"))
)
_NEW_POSTING: Final = insert(Posting)
_NEW_RESULT: Final = insert(PostingResult)


@dataclass
class Act:
    """One act being settled: what every step of it needs to know."""

    session: Session
    actor: Actor
    zone: ZoneInfo
    posting: Posted
    posting_id: int
    already_done: bool
    news: bool = False
    findings: list[Finding] = field(default_factory=list)
    rests_on: dict[int, RestsOn] = field(default_factory=dict)
    """Kept by how_it_stands.py: what was read for the dates of a container, by its number."""

    @property
    def happened_at(self) -> datetime:
        return self.posting.happened_at

    @property
    def recorded_at(self) -> datetime:
        return self.posting.recorded_at

    @property
    def day(self) -> Any:
        """The shop's calendar day on which it happened."""
        return self.posting.happened_at.astimezone(self.zone).date()

    @property
    def judged_at(self) -> datetime:
        """The instant at which it is judged: now, whatever time was sent with it.

        Only a late entry, which says in a sentence why it comes late, is judged at the time it happened.
        """
        return self.happened_at if self.posting.late else self.recorded_at

    @property
    def judged_on(self) -> Any:
        """The shop's calendar day of that instant."""
        return self.judged_at.astimezone(self.zone).date()

    @cached_property
    def shop(self) -> ShopProfile:
        """The shop's profile, for what few acts ask of it."""
        return the_shop(self.session)

    def note(self, *findings: Finding) -> None:
        """Findings that are told with the answer without refusing it."""
        self.findings.extend(findings)


@dataclass(frozen=True)
class Settled:
    """What was answered; `repeated` when the same act had been settled before."""

    result: dict[str, Any]
    repeated: bool
    posting_id: int


def body_hash(act: str, body: Mapping[str, Any]) -> str:
    """SHA-256 over a canonical text of what was asked.

    >>> body_hash("draw", {"a": 1, "b": None}) == body_hash("draw", {"b": None, "a": 1})
    True
    """
    text = json.dumps({"act": act, "body": body}, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()


def the_shop(session: Session) -> ShopProfile:
    """The shop profile; every act needs its zone.

    Raises:
        Invalid: the shop has not been set up yet.
    """
    shop = session.get(ShopProfile, 1)
    if shop is None:
        raise Invalid("The shop is not set up yet. Open the printed address as the first keeper.")
    return shop


def wait_for_the_book(session: Session) -> datetime | None:
    """Wait until no other act is being settled, and return the last instant in the book, if there is one.

    From here to the end of the transaction this act stands alone, and what it reads is what there is.
    """
    # As a column, so that it is what stands there now: another writer may have moved it while we waited.
    last: datetime | None = run(session, _CLOCK).scalar_one_or_none()
    return last


def record_time(session: Session, now: datetime, last: datetime | None) -> datetime:
    """The instant to write down: now, or the ``last`` one written if this machine's clock went back.

    Raises:
        Refused: the clock stands at a year no book is kept in. Recorded time never goes back, so one entry
            of the year 9999 would be the date of every later one.
    """
    if now.year > LAST_YEAR:
        words = f"This machine's clock says the year {now.year}. Set it right first; nothing was saved."
        raise Refused(Verdict.of([stop("clock-wrong", words)]))
    session.info[RECORDED_AT] = now if last is None else max(now, last)
    if last is None:
        session.add(BookClock(id=1, last_recorded_at=now))
        session.flush()
        return now
    recorded = max(now, last)
    run(session, _CLOCK_ON, recorded=recorded)
    return recorded


def _earlier(session: Session, actor: Actor, sent: Sent) -> Settled | None:
    row = run(session, _EARLIER, once=sent.once).one_or_none()
    if row is None:
        return None
    if row.body_hash != body_hash(sent.act, sent.body) or row.person_id != actor.person_id:
        raise Stale(
            "This form was sent before with something else in it. Open it again and send it anew.",
            StaleKind.ONCE_REUSED,
        )
    return Settled(row.result or {}, True, row.id)


def settle(
    session: Session, actor: Actor, sent: Sent, now: datetime, perform: Callable[[Act], dict[str, Any]]
) -> Settled:
    """Settle one act inside the caller's transaction.

    Args:
        perform: does the work with the `Act` it is given and returns plain JSON data, the answer that a
            repeat of the same key gets again. Findings noted on the act are added under "findings".

    Raises:
        Stale: the key came back with another body.
        Invalid: the time makes no sense, or a late entry lacks its sentence.
    """
    last = wait_for_the_book(session)
    # Only now: of two requests with one key the second finds here what the first has written.
    earlier = _earlier(session, actor, sent)
    if earlier is not None:
        return earlier
    zone = run(session, _ZONE).scalar_one_or_none() or the_shop(session).time_zone
    recorded = record_time(session, now, last)
    when = judge_time(sent.happened_at, recorded, sent.late_reason)
    posting = Posted(
        once=sent.once,
        body_hash=body_hash(sent.act, sent.body),
        act=sent.act,
        person_id=actor.person_id,
        device_id=actor.device_id,
        token_id=actor.token_id,
        happened_at=when.happened_at,
        recorded_at=when.recorded_at,
        late=when.late,
        late_reason=sent.late_reason if when.late or sent.already_done else "",
    )
    number = write_row(session, _NEW_POSTING, posting._asdict())
    done = sent.already_done or when.late
    act = Act(session, actor, ZoneInfo(zone), posting, number, done, sent.news)
    result = perform(act)
    result.setdefault("findings", Verdict.of(act.findings).as_list())
    write_row(session, _NEW_RESULT, {"posting_id": number, "result": result})
    return Settled(result, False, number)
