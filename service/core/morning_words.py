"""What the morning mail says: plain text, what must be done first, each with its one link.

Doors: actions/queue_morning.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Final

from service.core.alerts import Alert, AlertKind, page_of
from service.core.digest import Share
from service.core.findings import Severity
from service.core.mail_addresses import one_line
from service.core.months import say_date
from service.core.warning_words import FOOT, SUBJECT_MOST, Letter, clock

_LINES: Final = {"overdue": 20, "today": 12, "look": 8}
"""Lines of each list; a mail that grew past what is kept of it would lose the head of the log at its end."""
_LINE_MOST: Final = 300
_LINK_MOST: Final = 120


@dataclass(frozen=True)
class LogHead:
    """The head of the rag log as the morning mail carries it out of the house."""

    count: int
    hash: str
    at: datetime


@dataclass(frozen=True)
class Morning:
    """What one mail is written from. ``base`` is the service's address, "" when it has none to tell.

    ``me`` is whom it is for (None: the shop's own address); ``store``: they may see the page of alerts.
    """

    shop: str
    day: date
    share: Share
    me: int | None
    head: LogHead | None
    base: str = ""
    store: bool = True


def morning_mail(said: Morning, zone: tzinfo) -> Letter:
    """The mail of one shop day. It never says that all is well: only that no rule spoke."""
    told = said.share.told
    overdue = [one for one in told if one.severity is Severity.STOP]
    today = [one for one in told if one.kind is AlertKind.DUTY]
    rest = [one for one in told if one not in overdue and one not in today]
    parts = [
        f"{said.shop}, {say_date(said.day)}.",
        _list("Overdue or past", overdue, _LINES["overdue"], said),
        _list("To do today", today, _LINES["today"], said),
        _list("To look at or find out", rest, _LINES["look"], said),
    ]
    if not told:
        parts.append(
            "The book knows of nothing overdue, past or due today. What nobody wrote down it cannot know."
        )
    if said.share.left_out:
        parts.append(f"Left out, as you chose: {said.share.left_out}.")
    if said.base:
        parts.append(f"All of it: {said.base}{'/alerts' if said.store else '/duties'}")
    if said.me is not None:
        where = f"{said.base}/me/morning" if said.base else "your account page, under Morning mail"
        parts.append(f"Which mail you get and when: {where}")
    parts += [_head(said.head, zone), FOOT]
    if overdue:
        state = f"{len(overdue)} OVERDUE"
    elif today:
        state = f"{len(today)} due today"
    else:
        state = f"{len(rest)} to look at" if rest else "Morning"
    subject = one_line(f"{state}: {said.shop}, {say_date(said.day)}", SUBJECT_MOST)
    return Letter(subject, "\n\n".join(filter(None, parts)))


def _head(head: LogHead | None, zone: tzinfo) -> str:
    if head is None:
        return ""
    return (
        "Head of the rag log. Keep this mail: a log that is cut or written anew no longer fits it.\n"
        f"Entries: {head.count}\nHash of the last one:\n{head.hash}\nTaken: {clock(head.at, zone)}"
    )


def _list(heading: str, alerts: Sequence[Alert], most: int, said: Morning) -> str:
    if not alerts:
        return ""
    shown = [_line(one, said) for one in alerts[:most]]
    if len(alerts) > most:
        shown.append(f"- and {len(alerts) - most} more")
    return f"{heading} ({len(alerts)}):\n" + "\n".join(shown)


def _line(one: Alert, said: Morning) -> str:
    whose = f" ({one.owner})" if one.owner and one.people != (said.me,) else ""
    link = f"{said.base}{page_of(one)}"
    more = f"\n  {link}" if said.base and len(link) <= _LINK_MOST else ""
    return f"- {one_line(f'{one.sentence} {one.what_to_do}{whose}', _LINE_MOST)}{more}"
