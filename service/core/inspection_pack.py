"""The pack for an inspector: which day it is of, what a section of it is, and what is not in it.

Doors: actions/book_then.py, outreach/pack_tables.py, outreach/pack_paper.py, web/pack_view.py.

A pack of a past day takes what had been recorded by the end of that day and nothing else, so that it equals
the pack printed then. What was written down later about days up to it stands apart, in one closing section.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo

from service.core.findings import Invalid, NotFound
from service.core.rag_deadlines import day_end
from service.core.rag_log import day_words

A_TICK: Final = timedelta(microseconds=1)
OLD_SHEET_MONTHS: Final = 36
"""From this age on the index asks for a newer sheet; our own measure, no rule says so."""
SINCE: Final = "recorded-since"
ABOUT: Final = "about-this-pack"
LACKING: Final = "training-lacking"
APART: Final = frozenset({SINCE, ABOUT, LACKING})
"""The sections that differ between a pack printed on the day and one of that day printed later."""

NOT_IN_HERE: Final = (
    "What every single container holds, its dates and its standing: the stock list of the books has that, as "
    "of now only.",
    "The data sheets themselves: the index says which are kept; each is on the page of its material.",
    "Who still lacked a training on a past day: that goes by who is here, which the books know only of now.",
    "Photographs of checks: the entry names the file by its hash.",
    "Rules and knowledge tables are those this program holds when the pack is printed. A pack of a past day "
    "printed by a newer program may judge the same facts otherwise.",
    "A sum within a row of the storage tables says nothing of doors, air, wiring or permits.",
    "What nobody wrote down. The book proves that entries were not changed, not that every act was entered.",
)
"""Said on every pack, of today and of a past day alike."""


@dataclass(frozen=True)
class Moment:
    """Which book a pack is of: all that was recorded ``before``; it is judged ``at``, on ``day``."""

    day: date
    before: datetime
    at: datetime
    past: bool


@dataclass(frozen=True)
class ZoneHeld:
    """A time zone the shop had ``until`` an aware instant; None: it has it still."""

    zone: ZoneInfo
    until: datetime | None = None


def moment_of(on: date | None, now: datetime, zones: Sequence[ZoneHeld], began: datetime) -> Moment:
    """The moment of a pack: now, or the end of a past day of the calendar the shop had then.

    Args:
        on: the day asked for; None: today.
        now: the time of the book, aware.
        zones: all the time zones the shop had, the oldest first; the last one is today's.
        began: when the shop was set up, aware.

    Raises:
        Invalid: a day to come, or before the shop began; `errors` names ``on_date``.

    >>> noon, set_up = (datetime(2026, 3, day, 12, tzinfo=UTC) for day in (12, 1))
    >>> moment_of(date(2026, 3, 11), noon, [ZoneHeld(ZoneInfo("UTC"))], set_up).before
    datetime.datetime(2026, 3, 12, 0, 0, tzinfo=datetime.timezone.utc)
    """
    today, first = now.astimezone(zones[-1].zone).date(), began.astimezone(zones[0].zone).date()
    if on is None or on == today:
        return Moment(today, now.astimezone(UTC) + A_TICK, now.astimezone(UTC), False)
    if on > today:
        raise _wrong("That day has not come yet. Ask for today or a day before it.")
    if on < first:
        raise _wrong(f"The book of this shop begins on {first.isoformat()}. Ask for that day or a later one.")
    ends = min(_day_ended(on, zones), now.astimezone(UTC))
    return Moment(on, ends, ends - A_TICK, True)


def _day_ended(on: date, zones: Sequence[ZoneHeld]) -> datetime:
    """When a day ended on the shop's wall: by the zone it had then.

    Where a change of zone jumped over the midnight the day ended with the change; where a day came twice it
    ended the second time.
    """
    ended: datetime | None = None
    since: datetime | None = None
    for held in zones:
        by_zone = day_end(datetime(on.year, on.month, on.day, 12, tzinfo=held.zone), held.zone)
        if since is not None and by_zone < since:
            return ended or since
        if held.until is None or by_zone <= held.until:
            ended = by_zone
        since = held.until
    assert ended is not None, "the last zone holds still"
    return ended


def _wrong(sentence: str) -> Invalid:
    return Invalid(sentence, {"on_date": sentence})


@dataclass(frozen=True)
class Section:
    """One table of the pack. ``key`` is the name of its file; ``said`` stands above it.

    ``header`` and ``rows`` are the file's; ``shown`` names the columns that paper and page show.
    """

    key: str
    title: str
    header: tuple[str, ...]
    rows: tuple[Sequence[Any], ...]
    said: tuple[str, ...] = ()
    shown: tuple[str, ...] = ()

    @property
    def file_name(self) -> str:
        return f"{self.key}.csv"

    @property
    def columns(self) -> tuple[str, ...]:
        """What paper shows: the columns named, else all of them."""
        return self.shown or self.header

    def lines(self, most: int) -> tuple[list[list[Any]], int]:
        """The rows as paper shows them, at most so many, and how many more the file has.

        >>> Section("x", "X", ("a", "b"), ((1, 2), (3, 4)), shown=("b",)).lines(1)
        ([[2]], 1)
        """
        places = [self.header.index(name) for name in self.columns]
        shown = [[row[place] for place in places] for row in self.rows[:most]]
        return shown, max(0, len(self.rows) - most)


@dataclass(frozen=True)
class Pack:
    """All of it. ``printed_at``: when this copy was made; ``not_known``: what nobody can tell of that day.

    ``law``: the shop's, by its word; the US prints on letter paper.
    """

    shop: str
    zone: str
    moment: Moment
    printed_at: datetime
    sections: tuple[Section, ...]
    ledger_head: str
    rag_head: str
    not_known: tuple[str, ...] = ()
    law: str = ""

    @property
    def title(self) -> str:
        return f"Inspection pack of {day_words(self.moment.day)}"

    @property
    def on_letter(self) -> bool:
        return self.law == "us-hcs"

    @property
    def name(self) -> str:
        """The name of its files, without an ending."""
        return f"inspection-pack-{self.moment.day.isoformat()}"

    def section(self, key: str) -> Section:
        """One section.

        Raises:
            NotFound: there is none of this name.
        """
        for one in self.sections:
            if one.key == key:
                return one
        raise NotFound(f"The pack has these sections: {', '.join(one.key for one in self.sections)}.")


def age_words(sheet: date, day: date) -> str:
    """How old a sheet is, in whole years and months.

    >>> age_words(date(2023, 11, 30), date(2026, 3, 12)), age_words(date(2026, 3, 1), date(2026, 3, 12))
    ('2 years 3 months', 'under a month')
    """
    months = months_between(sheet, day)
    years, rest = divmod(months, 12)
    parts = [_many(years, "year")] if years else []
    if rest:
        parts.append(_many(rest, "month"))
    return " ".join(parts) or "under a month"


def months_between(first: date, last: date) -> int:
    """Whole months from one day to another; 0 where the first is the later one.

    >>> months_between(date(2026, 1, 31), date(2026, 2, 28))
    0
    """
    months = (last.year - first.year) * 12 + last.month - first.month - (last.day < first.day)
    return max(0, months)


def _many(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
