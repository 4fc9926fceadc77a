"""What was written down after a past day about the time up to its end, from the book of now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import select as columns_of
from sqlalchemy.orm import aliased
from sqlmodel import Session, SQLModel, col

from service.core.inspection_pack import SINCE, Section
from service.outreach.pack_earlier import NO_REASON, told_since
from service.outreach.pack_tables import LATE_HEADER
from service.records.checks import CheckDone, Training
from service.records.kept_statements import batched
from service.records.people import Person
from service.records.stock import Movement, Posting
from service.records.waste_drums import WasteDrum, WasteDrumEntry

_HEADER: Final = (*LATE_HEADER, "what of the time up to then")
_TAKEN_BACK: Final[tuple[tuple[type[SQLModel], str, str], ...]] = (
    (Movement, "takes back movement", "reason"),
    (CheckDone, "takes back the entry of a check,", "sentence"),
    (Training, "takes back training", "note"),
)
"""Tables whose rows take others back, how that is said, and the column that holds why."""


def recorded_since(session: Session, before: datetime, day: date) -> Section:
    """What was recorded from an aware instant on about the time up to it, which ends ``day``.

    It stands in no other section.

    That is what happened before and was written down later, and whatever since took an entry of that time
    back, or said of a discard of that time into which drum it went.
    """
    told: dict[int, list[str]] = defaultdict(list)
    whys: dict[int, str] = {}
    for posting, words, why in (*_about_entries(session, before), *_of_earlier_days(session, before, day)):
        told[posting].append(words)
        whys.setdefault(posting, why)
    rows = [
        (p.id, p.act, who, p.happened_at, p.recorded_at, p.late_reason or whys.get(p.id or 0, ""),
         "; ".join(told[p.id or 0]) or "happened then")
        for p, who in _postings(session, before, told)
    ]  # fmt: skip
    said = ("Nothing of this is in any other section: they say what the books said then.",)
    return Section(SINCE, "Recorded since, for the time up to then", _HEADER, tuple(rows), said)


def _postings(session: Session, before: datetime, also: Iterable[int]) -> list[tuple[Posting, str]]:
    query = columns_of(Posting, Person.name).join(Person, col(Person.id) == col(Posting.person_id))  # type: ignore[call-overload]
    late = query.where(col(Posting.recorded_at) >= before, col(Posting.happened_at) < before)
    found = {row[0].id: (row[0], row[1]) for row in session.execute(late)}
    for numbers in batched(also):
        for posting, who in session.execute(query.where(col(Posting.id).in_(numbers))):
            found[posting.id] = (posting, who)
    return [found[number] for number in sorted(found)]


def _about_entries(session: Session, before: datetime) -> Iterator[tuple[int, str, str]]:
    """By posting: which entry of the time up to then it changes, and why."""
    for kind, words, why in _TAKEN_BACK:
        table: Any = kind
        old: Any = aliased(kind)
        query = (
            columns_of(table.posting_id, table.reverses_id, getattr(table, why))
            .join(old, old.id == table.reverses_id)
            .join(Posting, col(Posting.id) == old.posting_id)
            .where(table.recorded_at >= before, col(Posting.happened_at) < before)
            .order_by(table.id)
        )
        for posting, number, reason in session.execute(query):
            yield posting, f"{words} {number}", reason
    yield from _of_drums(session, before)


def _of_earlier_days(session: Session, before: datetime, day: date) -> Iterator[tuple[int, str, str]]:
    """What was written down since then and tells of a day up to then."""
    for one in told_since(session, before, day):
        yield one.posting, one.words, NO_REASON


def _of_drums(session: Session, before: datetime) -> Iterator[tuple[int, str, str]]:
    old = aliased(WasteDrumEntry)
    query = (
        columns_of(
            col(WasteDrumEntry.posting_id), col(WasteDrum.name), col(WasteDrumEntry.note), col(old.id),
            col(old.step),
        )
        .join(WasteDrum, col(WasteDrum.id) == col(WasteDrumEntry.drum_id))
        .join(old, col(old.id) == col(WasteDrumEntry.reverses_id))
        .where(col(WasteDrumEntry.recorded_at) >= before, col(old.happened_at) < before)
        .order_by(col(WasteDrumEntry.id))
    )  # fmt: skip
    for posting, drum, note, number, was in session.execute(query):
        yield posting, f"takes back of drum {drum} its entry {number} ({was.value})", note
