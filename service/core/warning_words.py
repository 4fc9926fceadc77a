"""What warnings and test messages say: plain text, short, with one link.

Doors: actions/queue_warnings.py, actions/manage_channels.py, actions/outbox.py, actions/list_alerts.py,
core/morning_words.py.

A message is stored as it is written here and may leave later than planned, so it names times of the shop's
clock, and `late_line` says at sending that it comes late.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Final

from service.core.mail_addresses import one_line
from service.core.months import say_date
from service.core.rag_judgement import LoadJudgement, do_now, words
from service.core.reminders import LATE_AFTER, DueWarning, WarningRule

SUBJECT_MOST: Final = 120
FOOT: Final = (
    "The book at the store room is what counts; this message only tells of it. It cannot be answered."
)


@dataclass(frozen=True)
class Letter:
    """A subject of one line and a text of several."""

    subject: str
    text: str


def clock(at: datetime, zone: tzinfo) -> str:
    """A moment on the shop's clock, with its offset: an hour can come twice.

    >>> from zoneinfo import ZoneInfo
    >>> from datetime import UTC
    >>> clock(datetime(2026, 10, 25, 1, 30, tzinfo=UTC), ZoneInfo("Europe/Berlin"))
    '25 October 2026, 02:30 (UTC+01:00)'
    """
    local = at.astimezone(zone)
    offset = f"{local:%z}"
    return f"{say_date(local.date())}, {local:%H:%M} (UTC{offset[:3]}:{offset[3:5]})"


def by_the_clock(judgement: LoadJudgement, zone: tzinfo) -> str:
    """How a load stands, in words that stay true in a message that is read or leaves late.

    What is left, or how long it is overdue, is true in one minute only; told late it gives time that is gone.
    """
    load = judgement.load
    if judgement.blocks:
        since = clock(load.contain_by if judgement.past_contain else load.remove_by, zone)
        said = f"{load.name} is {judgement.where} and overdue since {since}; {load.owed_by} owes it."
        return f"{said} {do_now(judgement.past_contain)}"
    if judgement.minutes_left is None:
        return judgement.sentence
    by = clock(load.remove_by, zone)
    return f"{load.name} is {judgement.where}. It must be out of the building by {by}."


def rag_warning(
    due: DueWarning, judgement: LoadJudgement, now: datetime, zone: tzinfo, shop: str, link: str
) -> Letter:
    """The warning about one load. ``link`` may be empty."""
    load = judgement.load
    by = load.contain_by if due.rule is WarningRule.CONTAIN else load.remove_by
    hour = f"{by.astimezone(zone):%H:%M}"
    if not judgement.blocks:
        head = f"DUE {hour}: {load.name} must be out of the building"
        again = "It is named again a quarter of an hour before, and when it is late."
    else:
        head = f"OVERDUE since {hour}: {load.name}"
        again = (
            "Until it is recorded nothing that heats itself is drawn or opened. This goes to the next person "
            "on the list every 30 minutes until somebody records where the rags are."
        )
    parts = [
        one_line(by_the_clock(judgement, zone), 600),
        f"Put away by: {clock(load.contain_by, zone)}\nOut of the building by: {clock(load.remove_by, zone)}",
        f"As it stood at {clock(now, zone)}.",
        f"Record it: {link}" if link else "",
        again,
        FOOT,
    ]
    return Letter(one_line(f"{head} – {shop}", SUBJECT_MOST), "\n\n".join(filter(None, parts)))


def late_line(due_at: datetime, now: datetime, zone: tzinfo) -> str:
    """The first line of a message that leaves late; empty when it is in time.

    >>> from datetime import UTC, timedelta
    >>> at = datetime(2026, 3, 10, 16, tzinfo=UTC)
    >>> late_line(at, at + timedelta(minutes=100), UTC), late_line(at, at, UTC)
    ('THIS COMES 1 h 40 min LATE: it was due on 10 March 2026, 16:00 (UTC+00:00).', '')
    """
    if now - due_at <= LATE_AFTER:
        return ""
    minutes = int((now - due_at).total_seconds() // 60)
    return f"THIS COMES {words(minutes)} LATE: it was due on {clock(due_at, zone)}."


def trial_letter(shop: str, now: datetime, zone: tzinfo, who: str) -> Letter:
    """What a test message says."""
    text = (
        f"{one_line(who)} sent this at {clock(now, zone)} to see whether warnings arrive here. "
        f"They do. Nothing is to be done.\n\n{FOOT}"
    )
    return Letter(one_line(f"Test of the warnings – {shop}", SUBJECT_MOST), text)
