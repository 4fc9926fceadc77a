"""Dates of containers, duties and recurring checks as entries of a calendar: all-day, each with its number.

Doors: actions/list_dates.py, outreach/calendar_feed.py.

Oily rags are never among them: calendar programs fetch when they like, some once a day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Final

from service.core.months import add_days, say_date
from service.core.shelf_codes import show_code

AHEAD_DAYS: Final = 400
BACK_DAYS: Final = 90
"""How long a date that has passed still stands, and what is gone or done stands as cancelled."""


class EntryKind(StrEnum):
    """What a day in the calendar is."""

    LOOK = "look"
    END = "end"
    DUTY = "duty"
    MORE = "more"


CATEGORY: Final = {
    EntryKind.LOOK: "Look first", EntryKind.END: "Last day in date", EntryKind.DUTY: "Duty",
    EntryKind.MORE: "Not shown",
}  # fmt: skip


@dataclass(frozen=True)
class Window:
    """The days that are told, both ends included."""

    since: date
    until: date

    @classmethod
    def around(cls, today: date) -> Window:
        """
        >>> Window.around(date(2028, 2, 29)).until
        datetime.date(2029, 4, 4)
        """
        return cls(add_days(today, -BACK_DAYS), add_days(today, AHEAD_DAYS))

    def holds(self, day: date | None) -> bool:
        return day is not None and self.since <= day <= self.until


@dataclass(frozen=True)
class Entry:
    """One all-day entry. ``uid`` is the same for ever for the same thing and kind of date.

    ``sequence`` and ``stamp`` (aware) never go back for one ``uid`` and grow when its day or its state
    changes. ``page`` is its address below the service's own.
    """

    uid: str
    kind: EntryKind
    day: date
    title: str
    text: str
    page: str
    sequence: int
    stamp: datetime
    cancelled: bool = False


@dataclass(frozen=True)
class DatedContainer:
    """A container whose dates are known. ``gone``: emptied, discarded, or nothing is in it any more.

    ``retest``: a passed check can give it more time after its last day in date. ``dead``: a check ended it.
    """

    id: int
    code: str
    name: str
    place: str
    look_from: date | None
    in_date_until: date | None
    retest: bool
    gone: bool
    sequence: int
    stamp: datetime
    dead: bool = False


@dataclass(frozen=True)
class DatedDuty:
    """A duty of one person that is not about rags; ``done`` ones stand as cancelled for a while."""

    id: int
    sentence: str
    due: date
    done: bool
    stamp: datetime


@dataclass(frozen=True)
class DatedCheck:
    """A recurring check by the last day on which it may be made next."""

    id: int
    name: str
    look_at: str
    how_often: str
    due: date
    sequence: int
    stamp: datetime


def of_container(one: DatedContainer, window: Window) -> Iterator[Entry]:
    """Its entries in the window: from when to look first, and its last day in date.

    >>> from datetime import UTC
    >>> tin = DatedContainer(5, "R4F34T", "raw umber", "", date(2026, 5, 1), date(2026, 8, 1), True, False, 9,
    ...                      datetime(2026, 1, 1, tzinfo=UTC))
    >>> [(e.day.month, e.title) for e in of_container(tin, Window.around(date(2026, 3, 2)))]
    [(5, 'Look first: R4F 34T raw umber'), (8, 'Check again by: R4F 34T raw umber')]
    """
    called = f"{show_code(one.code)} {one.name}"
    where = [f"Place: {one.place}."] if one.place else []
    foot = "As the book stood when this calendar was fetched. Look there before you act."

    def entry(kind: EntryKind, day: date, title: str, *said: str) -> Entry:
        text = "\n".join([*said, *where, foot])
        page, uid = f"/containers/{one.code}", f"container-{one.id}-{kind.value}"
        return Entry(uid, kind, day, f"{title}: {called}", text, page, one.sequence, one.stamp, one.gone)

    look, end = one.look_from, one.in_date_until
    if look is not None and not one.dead and (end is None or look < end) and window.holds(look):
        yield entry(EntryKind.LOOK, look, "Look first", "From this day on look at it before you use it.")
    if end is not None and window.holds(end):
        if one.dead:
            said = "A check ended it. Read its page before you touch it; then it is set apart and discarded."
            yield entry(EntryKind.END, end, "Set it apart", said)
        elif one.retest:
            said = "The last day in date. A check that it passes may give it more time; else discard it."
            yield entry(EntryKind.END, end, "Check again by", said)
        else:
            said = "After this day it can only be discarded."
            yield entry(EntryKind.END, end, "Last day in date", said)


def of_duty(one: DatedDuty, window: Window) -> Iterator[Entry]:
    """Its entry, if its day lies in the window."""
    if window.holds(one.due):
        yield Entry(
            f"duty-{one.id}", EntryKind.DUTY, one.due, f"Due: {one.sentence}", "Do it and tick it off.",
            "/duties", int(one.done), one.stamp, one.done,
        )  # fmt: skip


def of_check(one: DatedCheck, window: Window) -> Iterator[Entry]:
    """Its entry: the same one moves on to the next day when it was made. Long late it stands at the begin.

    >>> from datetime import UTC
    >>> lids = DatedCheck(4, "Rag cans: lids, Yard", "Each lid closes.", "once in each calendar week",
    ...                   date(2025, 3, 9), 7, datetime(2026, 1, 1, tzinfo=UTC))
    >>> [(one.uid, one.title, one.day) for one in of_check(lids, Window.around(date(2026, 3, 2)))]
    [('check-4', 'Check: Rag cans: lids, Yard', datetime.date(2025, 12, 2))]
    """
    day = max(one.due, window.since)
    if window.holds(day):
        late = [f"It was due on {say_date(one.due)}."] if day != one.due else []
        text = "\n".join([*late, one.look_at or "Look at it and write down what you found.", one.how_often])
        yield Entry(
            f"check-{one.id}", EntryKind.DUTY, day, f"Check: {one.name}", text,
            f"/recurring-checks/{one.id}/record", one.sequence, one.stamp,
        )  # fmt: skip


def not_shown(last: date, sequence: int, stamp: datetime) -> Entry:
    """What stands on the last day that is told where the store has more dates than a calendar takes."""
    return Entry(
        "more", EntryKind.MORE, last, "More dates after this day are not in this calendar",
        "There are more than fit. All of them stand on the page of alerts.", "/alerts", sequence, stamp,
    )  # fmt: skip
