"""What the morning mail says: plain text, what must be done first, each with its one link.

Doors: actions/queue_morning.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import Final

from service.core.alert_pages import page_of
from service.core.alerts import Alert, AlertKind
from service.core.digest import Share, always_told, kind_to_leave
from service.core.findings import Severity
from service.core.mail_addresses import one_line
from service.core.months import say_date
from service.core.shelf_codes import show_code
from service.core.warning_words import FOOT, SUBJECT_MOST, Letter, clock

OVERDUE: Final = "Overdue or past"
"""How the list begins of what must stop somebody; it stands first."""
_LINES: Final = {"today": 12, "look": 8}
"""Lines of each list that may be cut; what nobody can leave out of their mail is never cut from it."""
_KEPT: Final = 20_000
"""Signs of a mail that are kept; one that grew past them would lose the head of the log at its end."""
_LINE_MOST: Final = 300
_SHORT_MOST: Final = 110
_NAME_MOST: Final = 40
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
    ``leave``: by kind the secret address that leaves it out from now on.
    """

    shop: str
    day: date
    share: Share
    me: int | None
    head: LogHead | None
    base: str = ""
    store: bool = True
    leave: Mapping[str, str] = field(default_factory=dict)


def morning_mail(said: Morning, zone: tzinfo) -> Letter:
    """The mail of one shop day. It never says that all is well: only that no rule spoke."""
    told = said.share.told
    overdue = [one for one in told if one.severity is Severity.STOP]
    now = (one for one in told if _is_for_today(one, said.day))
    today = sorted(now, key=lambda one: not always_told(one))
    rest = [one for one in told if one not in overdue and one not in today]
    parts = [
        f"{said.shop}, {say_date(said.day)}.",
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
    parts = [part for part in [*parts, _leave(said.leave), _head(said.head, zone), FOOT] if part]
    parts.insert(1, _all_of(OVERDUE, overdue, _KEPT - len("\n\n".join(parts)) - 200, said))
    if overdue:
        state = f"{len(overdue)} OVERDUE"
    elif today:
        state = f"{len(today)} due today"
    else:
        state = f"{len(rest)} to look at" if rest else "Morning"
    subject = one_line(f"{state}: {said.shop}, {say_date(said.day)}", SUBJECT_MOST)
    return Letter(subject, "\n\n".join(filter(None, parts)))


def _is_for_today(one: Alert, day: date) -> bool:
    late = one.kind is AlertKind.DUTY_OVERDUE and one.severity is not Severity.STOP
    return late or one.kind is AlertKind.DUTY or (
        one.kind is AlertKind.ORDER and one.severity is Severity.WARN and one.due <= day
    )


def _leave(addresses: Mapping[str, str]) -> str:
    if not addresses:
        return ""
    lines = [f"- {kind_to_leave(kind)}\n  {address}" for kind, address in addresses.items()]
    return "\n".join(["Leave out from now on; what is overdue or past is told all the same:", *lines])


def _head(head: LogHead | None, zone: tzinfo) -> str:
    if head is None:
        return ""
    return (
        "Head of the rag log. Keep this mail: a log that is cut or written anew no longer fits it.\n"
        f"Entries: {head.count}\nHash of the last one:\n{head.hash}\nTaken: {clock(head.at, zone)}"
    )


def _all_of(heading: str, alerts: Sequence[Alert], room: int, said: Morning) -> str:
    """Every one of them, in as many words as fit into ``room`` signs: what to do, what it is, or its code."""
    if not alerts:
        return ""
    head = f"{heading} ({len(alerts)}):\n"
    long = "\n".join(_line(one, said) for one in alerts)
    if len(head + long) <= room:
        return head + long
    short = "\n".join(f"- {one_line(one.sentence, _SHORT_MOST)}" for one in alerts)
    if len(head + short) <= room:
        return f"{head}{short}\n{_where(said)}"
    codes, shown = [_name(one) for one in alerts], len(alerts)
    while shown and len(head + (named := "; ".join(codes[:shown]))) > room:
        shown -= 1
    gone = f"\nTHE MAIL IS FULL: {len(alerts) - shown} more are not in it." if shown < len(alerts) else ""
    return f"{head}{named}{gone}\n{_where(said)}"


def _name(one: Alert) -> str:
    return show_code(one.about) if one.ref.startswith("container ") else one_line(one.sentence, _NAME_MOST)


def _where(said: Morning) -> str:
    page = "alerts" if said.store else "duties"
    return f"What to do with each: {said.base}/{page}" if said.base else f"What to do: see the page {page}."


def _list(heading: str, alerts: Sequence[Alert], most: int, said: Morning) -> str:
    """The first ``most`` of them, how many are left out and where they are; what always stays, stays."""
    if not alerts:
        return ""
    most = max(most, sum(map(always_told, alerts)))
    shown = [_line(one, said) for one in alerts[:most]]
    if len(alerts) > most:
        page = "alerts" if said.store else "duties"
        where = f"{said.base}/{page}" if said.base else f"the page {page}"
        shown.append(f"- and {len(alerts) - most} more, not in this mail: {where}")
    return f"{heading} ({len(alerts)}):\n" + "\n".join(shown)


def _line(one: Alert, said: Morning) -> str:
    whose = one_line(f"({one.owner})", _SHORT_MOST) if one.owner and one.people != (said.me,) else ""
    link = f"{said.base}{page_of(one)}"
    more = f"\n  {link}" if said.base and len(link) <= _LINK_MOST else ""
    words = one_line(f"{one.sentence} {one.what_to_do}", _LINE_MOST - len(whose))
    return f"- {words} {whose}".rstrip() + more
