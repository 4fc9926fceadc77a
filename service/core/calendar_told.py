"""What a calendar has told stays told: with a day, or as cancelled by a higher number, never just gone.

Doors: actions/tell_calendar.py.

A program that keeps what it read would else show a last day in date that is not known any more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Final

from service.core.calendar_entries import Entry, EntryKind

CANCELLED_FOR: Final = timedelta(days=400)
"""How long what does not hold any more is told as cancelled: more than a year. House measure."""
ENDED: Final = "This calendar has ended"
_ENDED_TEXT: Final = (
    "Its person is not here any more. Nothing in it holds: take this calendar out of your program."
)
_WHY: Final = {
    EntryKind.DUTY: "It is done or has ended, or it is not yours any more. The page of duties counts.",
    EntryKind.MORE: "The dates that were left out have changed. The page of alerts is what counts.",
}
_WHY_NO_DATE: Final = (
    "This date does not hold any more: used up, moved, not known, or somebody else's now. It says nothing "
    "good about what is in the container: look at its page before you use it."
)


@dataclass(frozen=True)
class Told:
    """What was told last under one number; ``cancelled_at`` (aware): since when it is told as cancelled."""

    uid: str
    kind: EntryKind
    day: date
    title: str
    page: str
    sequence: int
    stamp: datetime
    cancelled_at: datetime | None = None


@dataclass(frozen=True)
class Telling:
    """The entries to be told now, and what has to be kept before they are."""

    entries: tuple[Entry, ...]
    changed: tuple[Told, ...]


def tell(entries: Iterable[Entry], before: Mapping[str, Told], now: datetime) -> Telling:
    """What is told at ``now`` (aware) after all that was told before, by number.

    What was told and stands no more is cancelled by a higher number, for `CANCELLED_FOR`. A number and a
    stamp never go back, and grow whenever the day, the words or the state of an entry change.

    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 2, tzinfo=UTC)
    >>> tin = Entry("container-5-end", EntryKind.END, date(2026, 8, 1), "Last day", "", "/", 9, at)
    >>> first = tell([tin], {}, at)
    >>> gone = tell([], {one.uid: one for one in first.changed}, at + timedelta(days=1))
    >>> [(one.cancelled, one.sequence, one.day.month) for one in gone.entries]
    [(True, 10, 8)]
    """
    told, changed = [], []
    standing = {one.uid: one for one in entries}
    for entry in standing.values():
        known = before.get(entry.uid)
        made, keep = _standing(entry, known, now)
        told.append(made)
        if keep != known:
            changed.append(keep)
    for uid, old in before.items():
        if uid in standing:
            continue
        if old.cancelled_at is None:
            old = _again(old, now, _cancelled(old.title))
            changed.append(old)
        if now - (old.cancelled_at or now) <= CANCELLED_FOR:
            told.append(_entry(old, _WHY.get(old.kind, _WHY_NO_DATE)))
    return Telling(_ordered(told), tuple(changed))


def tell_the_end(before: Mapping[str, Told], now: datetime) -> Telling:
    """A calendar whose person has no right to it any more: all cancelled, nothing said of the store."""
    told, changed = [], []
    for old in before.values():
        if old.title != ENDED:
            old = _again(old, now, ENDED)
            changed.append(old)
        if now - (old.cancelled_at or now) <= CANCELLED_FOR:
            told.append(replace(_entry(old, _ENDED_TEXT), page="/me"))
    return Telling(_ordered(told), tuple(changed))


def _standing(entry: Entry, old: Told | None, now: datetime) -> tuple[Entry, Told]:
    if entry.cancelled:
        entry = replace(entry, title=_cancelled(entry.title), text=_WHY.get(entry.kind, _WHY_NO_DATE))
    since = ((old.cancelled_at if old else None) or now) if entry.cancelled else None
    sequence, stamp = entry.sequence, entry.stamp
    if old is not None:
        same = (old.day, old.title, old.cancelled_at) == (entry.day, entry.title, since)
        sequence = max(sequence, old.sequence + (not same))
        stamp = max(stamp, old.stamp) if same or stamp > old.stamp else max(now, old.stamp)
    keep = Told(entry.uid, entry.kind, entry.day, entry.title, entry.page, sequence, stamp, since)
    return replace(entry, sequence=sequence, stamp=stamp), keep


def _again(old: Told, now: datetime, title: str) -> Told:
    """The same, cancelled, by a higher number; what was cancelled before keeps since when."""
    return replace(
        old, title=title, sequence=old.sequence + 1, stamp=max(now, old.stamp),
        cancelled_at=old.cancelled_at or now,
    )  # fmt: skip


def _cancelled(title: str) -> str:
    """Programs that do not know the mark show the words.

    >>> _cancelled("Last day in date: R4F 34T raw umber")
    'Cancelled: Last day in date: R4F 34T raw umber'
    """
    return f"Cancelled: {title}"


def _entry(one: Told, text: str) -> Entry:
    said = one.title, text, one.page, one.sequence, one.stamp
    return Entry(one.uid, one.kind, one.day, *said, cancelled=True)


def _ordered(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    return tuple(sorted(entries, key=lambda one: (one.day, one.title, one.uid)))
