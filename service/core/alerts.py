"""What wants somebody's attention: ageing containers, missing facts and duties, worst first.

Doors: actions/list_alerts.py, web/pages/alerts.py, web/api/alerts.py, cli.py (alerts).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final

from service.core.containers import Standing
from service.core.findings import Finding, Severity
from service.core.months import add_days, days_between, say_date
from service.core.shelf_codes import show_code

SOON_DAYS: Final = 14
WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class AlertKind(StrEnum):
    """What the alert is about."""

    DUTY_OVERDUE = "duty-overdue"
    CHANNEL = "channel"
    DUTY = "duty"
    PAST = "past"
    NOT_KNOWN = "not-known"
    MISSING_FACT = "missing-fact"
    LOOK_FIRST = "look-first"
    ORDER = "order"
    SOON = "soon"


@dataclass(frozen=True)
class Alert:
    """One thing to do: ``about`` names it (a shelf code, a material), ``owner`` is who sees to it.

    ``ref`` is what the page of it is found by: "container R4F34T", "material 7", "rag-load 2", "duty 5",
    "recurring-check 3", "waste-drum 2".
    ``people`` are the same persons as ``owner``, by number: any one of them may do it.
    """

    kind: AlertKind
    due: date
    severity: Severity
    sentence: str
    about: str
    what_to_do: str
    owner: str = ""
    ref: str = ""
    people: tuple[int, ...] = ()
    promised: bool = False
    """Somebody was told that it is told: no keeper can leave it out of their mail."""
    doubted: bool = False
    """Something was found in it: it comes before papers that are missing."""
    check: bool = False
    """It is past, and the thing to do is a look."""
    leave: bool = False
    """It can hold peroxides: nobody touches it before they read its page."""


@dataclass(frozen=True)
class Owner:
    """Who sees to something: in words, and by number."""

    words: str = ""
    people: tuple[int, ...] = ()


NOBODY: Final = Owner()


@dataclass(frozen=True)
class ContainerFact:
    """A container with something in it, as `ageing.judge` answered for today."""

    code: str
    name: str
    standing: Standing
    in_date_until: date | None = None
    warn_from: date | None = None
    reason: str = ""
    place: str = ""
    owner: str = ""
    people: tuple[int, ...] = ()
    leave: bool = False
    """It is not touched, not even to set it apart: ``reason`` says why."""
    doubted: bool = False
    """Somebody found or saw something in it that no check has lifted."""
    may_be_checked: bool = False
    """It is past, and a look that passes could still give it time."""
    lacks_policy: int | None = None
    """The number of its material, where all that is missing is how long that keeps."""


@dataclass(frozen=True)
class MissingFact:
    """Facts somebody should find out: ``what`` as in "the flash point" (``several``: a list of them),
    ``since`` the day it was noticed.
    """

    about: str
    what: str
    since: date
    what_to_do: str
    owner: str = ""
    ref: str = ""
    several: bool = False
    people: tuple[int, ...] = ()


@dataclass(frozen=True)
class DutyFact:
    """Something a named person owes by a day; ``overdue`` by the clock, which the day alone cannot tell.

    Not ``stops``: nobody has to leave off work because it is late.
    """

    sentence: str
    due: date
    about: str
    owner: str
    overdue: bool = False
    what_to_do: str = "Do it and tick it off."
    ref: str = ""
    people: tuple[int, ...] = ()
    promised: bool = False
    stops: bool = True
    ahead: int = 0
    """So many days before it is told, where that is more than the list looks ahead."""


ORDER_AHEAD_DAYS: Final = 7
"""So many days before its last day an order is told of, also in a mail of that day. House measure."""
LEAD_NOT_KNOWN_DAYS: Final = 28
"""So many days before the first use what cannot be ordered by a day is told of. House measure."""


@dataclass(frozen=True)
class OrderFact:
    """What has to be bought for a term: ``what`` as in "2 × 1 l of spirit", ``needed`` its first use.

    ``order_by`` None: the lead time is not known. ``packs`` False: nor in which packs it is sold.
    ``comes_late``: what is ordered now comes on the day of its first use or after it.
    """

    what: str
    needed: date
    order_by: date | None
    term: str
    about: str
    ref: str
    comes_late: bool = False
    packs: bool = True
    owner: str = ""
    people: tuple[int, ...] = ()


_SEVERITY_RANK: Final = {Severity.STOP: 0, Severity.UNKNOWN: 3, Severity.WARN: 4, Severity.NOTE: 5}
_RAGS: Final = -1
_DUE_TODAY: Final = 1
"""A duty of today (a leaking can, rags before tonight) comes before papers that are missing."""
_DOUBTED: Final = 2
"""So does a tin in which something was found: somebody will lift its lid before the paper comes."""
_KIND_RANK: Final = {kind: rank for rank, kind in enumerate(AlertKind)}


def alerts(
    containers: Iterable[ContainerFact],
    missing: Iterable[MissingFact],
    duties: Iterable[DutyFact],
    *,
    today: date,
    days: int = SOON_DAYS,
    reach: Iterable[Finding] = (),
    keepers: Owner = NOBODY,
    orders: Iterable[OrderFact] = (),
) -> list[Alert]:
    """All alerts of ``today`` and of the next ``days`` days, oily rags that are overdue, then worst first.

    Args:
        reach: what keeps warnings from reaching people; the keepers see to it.

    >>> tub = ContainerFact("R4F34T", "raw umber in oil", Standing.PAST, date(2026, 2, 1))
    >>> alerts([tub], [], [], today=date(2026, 3, 2))[0].sentence
    'R4F 34T raw umber in oil is past since 2 February 2026.'
    """
    horizon = add_days(today, days)
    found = [alert for one in _each_once(containers, today) if (alert := _told(one, today, horizon))]
    found += [_of_missing(one) for one in missing]
    found += [_of_reach(one, today, keepers) for one in reach]
    found += [alert for order in orders if (alert := _of_order(order, today, days)) is not None]
    found += [
        _of_duty(one, today) for one in duties
        if one.overdue or one.due <= max(horizon, add_days(today, one.ahead))
    ]  # fmt: skip
    return sorted(found, key=lambda a: (_rank(a, today), _KIND_RANK[a.kind], a.due, a.about, a.sentence))


def _rank(one: Alert, today: date) -> int:
    if one.kind is AlertKind.DUTY_OVERDUE and one.ref.startswith("rag-load "):
        return _RAGS  # They can set themselves alight tonight; a check forty days late waits another hour.
    late = one.kind is AlertKind.DUTY_OVERDUE and one.severity is not Severity.STOP
    if late or (one.kind is AlertKind.DUTY and one.due <= today):
        return _DUE_TODAY
    if one.severity is not Severity.STOP and one.doubted:
        return _DOUBTED
    return _SEVERITY_RANK[one.severity]


_DISCARD: Final = "Set it apart and discard it."
_LOOK_OR_DISCARD: Final = (
    "Nobody uses it. Open it and look: only a check that passes gives it more time; else discard it."
)
_TRY_IT: Final = "Nobody uses it before it was tried: look into it and write down what came of it."


def _each_once(
    containers: Iterable[ContainerFact], today: date
) -> Iterable[ContainerFact | list[ContainerFact]]:
    """Those alone, and together those of one material and owner of which the same policy is missing."""
    alike: dict[tuple[int, str, tuple[int, ...]], list[ContainerFact]] = {}
    for one in containers:
        over = one.in_date_until is not None and one.in_date_until < today
        if one.standing is not Standing.NOT_KNOWN or one.lacks_policy is None or one.doubted or over:
            yield one
        else:
            alike.setdefault((one.lacks_policy, one.owner, one.people), []).append(one)
    for some in alike.values():
        yield some if len(some) > 1 else some[0]


def _told(one: ContainerFact | list[ContainerFact], today: date, horizon: date) -> Alert | None:
    return _of_alike(one, today) if isinstance(one, list) else _of_container(one, today, horizon)


def _of_alike(some: list[ContainerFact], today: date) -> Alert:
    """One thing to do, once for all of them: forty tubes alike are not forty lines."""
    first = some[0]
    said = f"{first.name}, {len(some)} containers: {first.reason}"
    codes = ", ".join(show_code(one.code) for one in some[:_CODES])
    more = f" and {len(some) - _CODES} more" if len(some) > _CODES else ""
    places = dict.fromkeys(one.place for one in some if one.place)
    where = f" Place: {', '.join(places)}." if places else ""
    do = f"Until then look before each use, and discard what fails: {codes}{more}.{where}"
    ref = f"material {first.lacks_policy}"
    return Alert(
        AlertKind.NOT_KNOWN, today, Severity.UNKNOWN, said, first.code, do, first.owner, ref, first.people
    )


_CODES: Final = 4
"""So many shelf codes stand in one line."""


def _of_container(one: ContainerFact, today: date, horizon: date) -> Alert | None:
    name = f"{show_code(one.code)} {one.name}"
    where = f" Place: {one.place}." if one.place else ""
    until, ref = one.in_date_until, f"container {one.code}"
    # A stored standing may be older than today: the date itself decides.
    if one.standing is Standing.PAST or (until is not None and until < today):
        since = add_days(until, 1) if until else today
        said = f"{name} is past since {say_date(since)}." if until else f"{name} is past."
        look = one.may_be_checked and not one.leave
        then = one.reason if one.leave else f"{one.reason} {_LOOK_OR_DISCARD if look else _DISCARD}".lstrip()
        do, kind, grave = f"{then}{where}", AlertKind.PAST, Severity.STOP
        return Alert(
            kind, since, grave, said, one.code, do, one.owner, ref, one.people, check=look, leave=one.leave
        )
    if one.standing is Standing.NOT_KNOWN:
        said = f"{name} is not known{': ' + one.reason if one.reason else '.'}"
        then = "" if one.leave else "Find the dates, or look before use and discard what fails."
        do = f"{then or 'Read its page, and find its dates in the papers.'}{where}"
        kind, grave = AlertKind.NOT_KNOWN, Severity.UNKNOWN
        return Alert(
            kind, today, grave, said, one.code, do, one.owner, ref, one.people, doubted=one.doubted,
            leave=one.leave,
        )  # fmt: skip
    due = until or today
    if one.standing is Standing.LOOK_FIRST:
        said = f"{name}: look first; in date until {say_date(due)}." if until else f"{name}: look first."
        if one.reason:
            said = f"{said} {one.reason}"
        do = f"{_TRY_IT if one.doubted else 'Use it next, and check it before.'}{where}"
        kind, grave = AlertKind.LOOK_FIRST, Severity.WARN
        return Alert(kind, due, grave, said, one.code, do, one.owner, ref, one.people, doubted=one.doubted)
    change = min((day for day in (one.warn_from, until) if day is not None), default=None)
    if change is None or change > horizon:
        return None
    left = max(0, days_between(today, change))
    said = f"{name} changes its standing in {left} day{'' if left == 1 else 's'}."
    do = f"Plan to use it.{where}"
    return Alert(AlertKind.SOON, change, Severity.NOTE, said, one.code, do, one.owner, ref, one.people)


def _of_reach(one: Finding, today: date, keepers: Owner) -> Alert:
    do, ref = "A keeper mends it under Warnings and sends a test message.", "warnings"
    if one.code == "kinds-left-out":
        do, ref = "A keeper takes it up again on their page Morning mail.", "morning"
    said, kind = one.sentence, AlertKind.CHANNEL
    return Alert(kind, today, one.severity, said, one.about, do, keepers.words, ref, keepers.people)


def _of_missing(one: MissingFact) -> Alert:
    said = f"{one.about}: {one.what} {'are' if one.several else 'is'} not known."
    kind, do = AlertKind.MISSING_FACT, one.what_to_do
    return Alert(kind, one.since, Severity.UNKNOWN, said, one.about, do, one.owner, one.ref, one.people)


def _of_duty(one: DutyFact, today: date) -> Alert:
    late = one.overdue or one.due < today
    kind = AlertKind.DUTY_OVERDUE if late else AlertKind.DUTY
    severity = Severity.STOP if late and one.stops else Severity.WARN
    return Alert(
        kind, one.due, severity, one.sentence, one.about, one.what_to_do, one.owner, one.ref, one.people,
        one.promised,
    )


def _of_order(one: OrderFact, today: date, days: int) -> Alert | None:
    """Told a week ahead; what has no day to be ordered by four weeks before it is used, as not known."""
    kind, until = AlertKind.ORDER, say_date(one.needed)
    if one.order_by is None:
        if one.needed > add_days(today, max(days, LEAD_NOT_KNOWN_DAYS)):
            return None
        why = "how long a delivery takes" if one.packs else "in which packs it is sold"
        said = f"{one.what} for {one.term} is needed on {until}, and it is not known {why}."
        do = "Ask the supplier, write it down with the material, or order it today."
        return Alert(
            kind, today, Severity.UNKNOWN, said, one.about, do, one.owner, one.ref, one.people
        )
    if one.order_by > add_days(today, max(days, ORDER_AHEAD_DAYS)):
        return None
    by = f"{WEEKDAYS[one.order_by.weekday()]}, {say_date(one.order_by)}"
    said = f"Order by {by}: {one.what}, for {one.term}."
    do = f"Place the order and write it down. Needed on {until}."
    if one.order_by < today or one.comes_late:
        do = f"It is late: needed on {until}. Ask for a quick delivery, or move the job."
    return Alert(kind, one.order_by, Severity.WARN, said, one.about, do, one.owner, one.ref, one.people)
