"""Who is told what in the morning, and when: each what they own, keepers also what nobody else is told of.

Doors: actions/queue_morning.py, actions/choose_morning.py, actions/manage_channels.py, web/pages/morning.py.

What must stop somebody, and oily rags, reach whoever owns them and every keeper, whatever anybody chose. The
warnings about rags that are due tonight are no part of this (core/reminders.py): they know no quiet hours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from service.core.alerts import Alert, AlertKind
from service.core.findings import Invalid, Severity

SWITCHABLE: Final[dict[AlertKind, str]] = {
    AlertKind.DUTY: "Duties of the day",
    AlertKind.NOT_KNOWN: "Containers of which it is not known how they stand",
    AlertKind.LOOK_FIRST: "Containers to look at first",
    AlertKind.MISSING_FACT: "Facts that are missing",
    AlertKind.ORDER: "What to order for a term, and by when",
}
"""The kinds somebody may leave out of their mail; no other ever."""


def kinds_in_words(kinds: Iterable[AlertKind]) -> str:
    """
    >>> kinds_in_words([AlertKind.DUTY, AlertKind.LOOK_FIRST])
    'duties of the day; containers to look at first'
    """
    return "; ".join(SWITCHABLE[kind][:1].lower() + SWITCHABLE[kind][1:] for kind in kinds)


MOST_QUIET_HOURS: Final = 16
"""A night and half a day; longer ones would hold a morning mail back until the next night. House measure."""


@dataclass(frozen=True)
class Quiet:
    """Hours of the shop's wall clock in which no digest leaves, over midnight too. ``until`` is outside.

    >>> Quiet(time(22), time(6, 30)).holds(time(23)), Quiet(time(22), time(6, 30)).holds(time(6, 30))
    (True, False)
    """

    since: time
    until: time

    def __post_init__(self) -> None:
        if self.since == self.until:
            raise ValueError("quiet hours that begin and end at the same time never end")

    def holds(self, at: time) -> bool:
        """Whether a time of the wall clock lies in them."""
        if self.since < self.until:
            return self.since <= at < self.until
        return at >= self.since or at < self.until

    def over(self, at: datetime, zone: ZoneInfo) -> datetime:
        """``at`` itself, or the first time after it at which they end, in UTC.

        An end that the clocks skip comes by as much later; one they show twice counts the first time it
        comes after ``at``.

        >>> at = datetime(2026, 3, 28, 21, 30, tzinfo=UTC)
        >>> Quiet(time(22), time(6)).over(at, ZoneInfo("Europe/Berlin")).isoformat()
        '2026-03-29T04:00:00+00:00'
        """
        local = at.astimezone(zone)
        if not self.holds(local.time()):
            return at.astimezone(UTC)
        ends = [
            datetime.combine(local.date() + timedelta(days=ahead), self.until, zone).replace(fold=fold)
            for ahead in (0, 1)
            for fold in (0, 1)
        ]
        # The second reading of an hour that is skipped would lie before it.
        real = [end for end in ends if end.fold == 0 or end.utcoffset() < end.replace(fold=0).utcoffset()]  # type: ignore[operator]
        return min(end.astimezone(UTC) for end in real if end.astimezone(UTC) > at)


def read_quiet(since: time | None, until: time | None) -> Quiet | None:
    """Quiet hours from two fields of a form; both empty: none.

    Raises:
        Invalid: one without the other, the same time twice, or nearly the whole day.
    """
    if since is None and until is None:
        return None
    if since is None or until is None:
        words = "Enter both, when the quiet hours begin and when they end, or neither."
        raise Invalid(words, {"quiet_from" if since is None else "quiet_until": words})
    if since == until:
        words = "Quiet hours that begin and end at the same time would never end. Choose another end."
        raise Invalid(words, {"quiet_until": words})
    minutes = (until.hour - since.hour) * 60 + until.minute - since.minute
    if minutes % (24 * 60) > MOST_QUIET_HOURS * 60:
        words = f"That leaves hardly any time to be told. Quiet hours last {MOST_QUIET_HOURS} hours at most."
        raise Invalid(words, {"quiet_until": words})
    return Quiet(since, until)


def read_off(kinds: Sequence[str]) -> frozenset[AlertKind]:
    """The kinds somebody wants left out.

    Raises:
        Invalid: one that stays in the mail, or that there is none of.

    >>> read_off(["past"])
    Traceback (most recent call last):
        ...
    service.core.findings.Invalid: What is overdue or past cannot be left out of the mail.
    """
    switchable = {kind.value for kind in SWITCHABLE}
    for kind in kinds:
        if kind in (AlertKind.PAST, AlertKind.DUTY_OVERDUE, AlertKind.CHANNEL):
            words = "What is overdue or past cannot be left out of the mail."
            raise Invalid(words, {"kinds_off": words})
        if kind not in switchable:
            words = "Choose among the kinds in the list."
            raise Invalid(words, {"kinds_off": words})
    return frozenset(AlertKind(kind) for kind in kinds)


ALL_KINDS: Final = "all"
"""Leaving out whatever may be left out: the mail tells only what nobody can leave out of it."""


def kind_to_leave(kind: str) -> str:
    """A kind of which a mail carries an address to leave it out, in words.

    >>> kind_to_leave("look-first"), kind_to_leave("all")
    ('Containers to look at first', 'All that may be left out')
    """
    return "All that may be left out" if kind == ALL_KINDS else SWITCHABLE[AlertKind(kind)]


def may_be_left(share: Share) -> tuple[str, ...]:
    """What of one mail may be left out from now on: the kinds it tells of, and all; () for what must be told.

    >>> may_be_left(Share((), 0, head=False)), may_be_left(Share((), 0, head=True))
    ((), ('all',))
    """
    kinds = {one.kind for one in share.told if not always_told(one)}
    if not kinds and not (share.head and not share.told):
        return ()
    return (*(kind.value for kind in SWITCHABLE if kind in kinds), ALL_KINDS)


def always_told(one: Alert) -> bool:
    """Whether nobody can leave it out: it must stop somebody, it is a load of oily rags, or somebody
    told it and was answered that a keeper is told.
    """
    return one.severity is Severity.STOP or one.promised or one.ref.startswith("rag-load")


@dataclass(frozen=True)
class Choice:
    """What somebody chose; without ``wanted`` only what nobody can leave out is told."""

    wanted: bool = True
    quiet: Quiet | None = None
    off: frozenset[AlertKind] = frozenset()

    def hears(self, one: Alert) -> bool:
        """Whether this alert is told to them, if it is theirs."""
        return always_told(one) or (self.wanted and one.kind not in self.off)


EVERYTHING: Final = Choice()


@dataclass(frozen=True)
class Hearer:
    """Somebody with a mail channel. ``person`` None: the shop's own address, which is told everything."""

    person: int | None
    keeper: bool = False
    choice: Choice = field(default=EVERYTHING)

    def owns(self, one: Alert) -> bool:
        return self.person in one.people


@dataclass(frozen=True)
class Share:
    """What one hearer's mail tells; ``left_out`` counts what they chose not to be told.

    ``head``: it carries the head of the rag log out of the house.
    """

    told: tuple[Alert, ...]
    left_out: int
    head: bool

    @property
    def empty(self) -> bool:
        """Nothing to tell: no mail."""
        return not self.told and not self.head


def told_to_nobody(hearers: Sequence[Hearer]) -> tuple[AlertKind, ...]:
    """The kinds of which no keeper and no address of the shop is told, because all left them out.

    Whoever owns such a thing may still be told; what is nobody's is told to nobody. Empty where no keeper
    has a mail at all: that is another matter, and said elsewhere.

    >>> out = Choice(off=frozenset({AlertKind.DUTY}))
    >>> [kind.value for kind in told_to_nobody([Hearer(1, True, out), Hearer(2, False)])]
    ['duty']
    >>> told_to_nobody([Hearer(1, True, out), Hearer(None)])
    ()
    """
    keep = [one.choice for one in hearers if one.person is None or one.keeper]
    if not keep:
        return ()
    return tuple(kind for kind in SWITCHABLE if all(not one.wanted or kind in one.off for one in keep))


def share_out(hearers: Sequence[Hearer], alerts: Sequence[Alert]) -> list[Share]:
    """What each is told, in the order of ``hearers``; no alert is told to nobody unless all left it out.

    A keeper is told what is theirs, what must stop somebody, and what no other hearer who owns it is told.
    The head of the log goes to the shop's own address and to every keeper who wants the mail; where that
    would be nobody, to every keeper.
    """
    heads = [one.person is None or (one.keeper and one.choice.wanted) for one in hearers]
    if not any(heads):
        heads = [one.keeper for one in hearers]
    return [_share(one, hearers, alerts, head) for one, head in zip(hearers, heads, strict=True)]


def _share(me: Hearer, hearers: Sequence[Hearer], alerts: Sequence[Alert], head: bool) -> Share:
    mine = [one for one in alerts if _is_for(me, hearers, one)]
    told = tuple(one for one in mine if me.choice.hears(one))
    return Share(told, len(mine) - len(told), head)


def _is_for(me: Hearer, hearers: Sequence[Hearer], one: Alert) -> bool:
    if me.person is None or me.owns(one):
        return True
    if not me.keeper:
        return False
    return always_told(one) or not any(other.owns(one) and other.choice.hears(one) for other in hearers)


def morning_due(
    now: datetime, hour: time, zone: ZoneInfo, quiet: Quiet | None
) -> tuple[date, datetime] | None:
    """The day whose mail is due at ``now`` (aware), and since when; None while none is.

    The mail of a day is due at ``hour`` of the shop's clock, or when the quiet hours end in which that lies,
    which may be on the next day. A day that was missed altogether is not made up for: a mail that is late
    does not leave in quiet hours either, and the next one tells more.

    >>> berlin = ZoneInfo("Europe/Berlin")
    >>> at = datetime(2026, 3, 13, 6, tzinfo=UTC)
    >>> morning_due(at, time(7), berlin, None) == (date(2026, 3, 13), at)
    True
    >>> morning_due(at, time(7), berlin, Quiet(time(22), time(9))) is None
    True
    """
    if quiet is not None and quiet.over(now, zone) > now:
        return None
    today = now.astimezone(zone).date()
    for day in (today, today - timedelta(days=1)):
        # An hour that the clocks skip is read with the offset before: it leaves a little later, not never.
        at = datetime.combine(day, hour, zone).astimezone(UTC)
        at = quiet.over(at, zone) if quiet else at
        if at <= now and at.astimezone(zone).date() == today:
            return day, at
    return None
