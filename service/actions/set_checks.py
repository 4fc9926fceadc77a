"""A keeper sets what the shop checks again and again, who sees to it, and when it ends."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, may, require
from service.core.findings import Invalid, Stale
from service.core.recurring_checks import HOUSE_POLICY, MOST_TIMES, Counted, Interval, Unit
from service.core.written_reason import A_SENTENCE, is_sentence
from service.records.check_queries import open_failure, the_check
from service.records.checks import RecurringCheck
from service.records.knowledge_checks import KnownCheck, known_checks
from service.records.owners import who_is_here
from service.records.places import Place


@dataclass(frozen=True, kw_only=True)
class CheckAsked:
    """A check to begin.

    Args:
        known: the key of a row of the table: what is left empty is taken from it.
        what: what is checked, 1 to 120 signs; look_at: what one looks at, up to 500.
        unit, times, counted: how often; None = as the row says.
        source: the rule that gives the interval; "" = as the row says, else "house policy".
        owner: who sees to it: a finisher or keeper.
        since, until: the days it holds, both included; since None = today.
    """

    once: str
    owner: int
    known: str | None = None
    what: str = ""
    look_at: str = ""
    place_id: int | None = None
    unit: Unit | None = None
    times: int | None = None
    counted: Counted | None = None
    source: str = ""
    since: date | None = None
    until: date | None = None

    def body(self) -> dict[str, Any]:
        return {
            "owner": self.owner, "known": self.known, "what": self.what, "look_at": self.look_at,
            "place": self.place_id, "unit": self.unit, "times": self.times, "counted": self.counted,
            "source": self.source, "since": self.since, "until": self.until,
        }  # fmt: skip


def begin_check(session: Session, actor: Actor, now: datetime, asked: CheckAsked) -> Settled:
    """Set a check; answers its number.

    Raises:
        NotAllowed: not a keeper.
        Invalid: nothing to check, an interval that makes no sense, no such place or owner, days in disorder.
    """
    require(actor, Permission.SET_CHECKS)
    sent = Sent(asked.once, "begin-check", asked.body())
    return settle(session, actor, sent, now, lambda act: _begin(act, asked))


def _begin(act: Act, asked: CheckAsked) -> dict[str, Any]:
    known = _known(asked.known)
    what = " ".join(asked.what.split()) or (known.what if known else "")
    if not 1 <= len(what) <= 120:
        raise _wrong("what", "Write what is checked, in 1 to 120 signs, or choose a row of the list.")
    look_at = " ".join(asked.look_at.split()) or (known.look_at if known else "")
    interval = _interval(asked, known)
    since = asked.since or act.day
    if asked.until is not None and asked.until < since:
        raise _wrong("until", "The last day lies before the first one.")
    if asked.place_id is not None:
        place = act.session.get(Place, asked.place_id)
        if place is None or not place.active:
            raise _wrong("place", "Choose a place of the list, or leave it empty.")
    owner = _owner(act, asked.owner)
    row = RecurringCheck(
        known_key=known.key if known else None, what=what, look_at=look_at[:500], place_id=asked.place_id,
        unit=interval.unit, times=interval.times, counted=interval.counted,
        source=_source(asked, known, interval), owner_id=owner, since=since, until=asked.until,
        created_by=act.actor.person_id, created_at=act.recorded_at,
    )  # fmt: skip
    act.session.add(row)
    act.session.flush()
    return {"check": row.id, "what": row.what, "version": row.version}


def _known(key: str | None) -> KnownCheck | None:
    if not key:
        return None
    found = known_checks().get(key)
    if found is None:
        raise _wrong("known", "Choose a check of the list, or leave it empty and write your own.")
    return found


def _interval(asked: CheckAsked, known: KnownCheck | None) -> Interval:
    as_known = known.interval if known else None
    unit = asked.unit or (as_known.unit if as_known else None)
    if unit is None:
        raise _wrong("unit", "Choose how often: daily, weekly, monthly or yearly.")
    same = as_known is not None and asked.unit in (None, as_known.unit)
    counted = asked.counted or (as_known.counted if as_known and same else Counted.CALENDAR)
    times = asked.times if asked.times is not None else (as_known.times if as_known and same else 1)
    if not 1 <= times <= MOST_TIMES:
        raise _wrong("times", f"Enter a whole number from 1 to {MOST_TIMES}.")
    if counted is Counted.CALENDAR and times != 1:
        raise _wrong("times", "By the calendar it is once in each period. Enter 1, or count from the last.")
    return Interval(unit, times, counted)


def _source(asked: CheckAsked, known: KnownCheck | None, interval: Interval) -> str:
    """A row's citation speaks for the row's own interval only."""
    said = " ".join(asked.source.split())
    if said:
        return said[:300]
    if known is not None and interval == known.interval:
        return f"{known.citation} ({known.grade.value})" if known.basis == "law" else known.citation
    return HOUSE_POLICY


def _owner(act: Act, number: int) -> int:
    here = who_is_here(act.session, act.recorded_at.astimezone(act.zone).date())
    if number not in here or not may(here[number].role, Permission.DO_CHECKS):
        raise _wrong("owner", "Choose a finisher or keeper who is here.")
    return number


def _wrong(field: str, words: str) -> Invalid:
    return Invalid(words, {field: words})


@dataclass(frozen=True)
class ChangeCheck:
    """Another owner, or the last day of a check; ``version`` as it was read."""

    once: str
    check_id: int
    version: int
    owner: int | None = None
    until: date | None = None
    reason: str = ""


def give_check(session: Session, actor: Actor, now: datetime, asked: ChangeCheck) -> Settled:
    """Somebody else sees to it from now on; a failure that stands is theirs too.

    Raises:
        NotAllowed, NotFound, Stale.
        Invalid: they are not here, or no finisher or keeper.
    """
    require(actor, Permission.SET_CHECKS)
    body = {"check": asked.check_id, "version": asked.version, "owner": asked.owner}
    sent = Sent(asked.once, "give-check", body)
    return settle(session, actor, sent, now, lambda act: _give(act, asked))


def _give(act: Act, asked: ChangeCheck) -> dict[str, Any]:
    row = _same(act, asked)
    owner = _owner(act, asked.owner or 0)
    _changed(act, row, "owner", row.owner_id, owner)
    row.owner_id = owner
    duty = open_failure(act.session, asked.check_id)
    if duty is not None:
        duty.owed_by = owner
        act.session.add(duty)
    return _kept(act, row)


def end_check(session: Session, actor: Actor, now: datetime, asked: ChangeCheck) -> Settled:
    """End a check: its last day, today or later, and why. What was not made stays in its history.

    A failure that stands ends with it when its last day is today, and the reason stands as the answer.

    Raises:
        NotAllowed, NotFound, Stale.
        Invalid: a day that is over or before it began, or no reason.
    """
    require(actor, Permission.SET_CHECKS)
    body = {
        "check": asked.check_id, "version": asked.version, "until": asked.until, "reason": asked.reason,
    }  # fmt: skip
    sent = Sent(asked.once, "end-check", body)
    return settle(session, actor, sent, now, lambda act: _end(act, asked))


def _end(act: Act, asked: ChangeCheck) -> dict[str, Any]:
    row = _same(act, asked)
    until = asked.until or act.day
    if not is_sentence(asked.reason):
        raise _wrong("reason", f"Say why it ends in {A_SENTENCE}.")
    if until < act.day:
        raise _wrong("until", "This day is over. Today is the earliest last day.")
    if until < row.since:
        raise _wrong("until", "It had not begun on that day.")
    _changed(act, row, "until", row.until, until, asked.reason.strip())
    row.until = until
    duty = open_failure(act.session, asked.check_id)
    if duty is not None and until == act.day:
        duty.done_at, duty.done_by = act.recorded_at, act.actor.person_id
        duty.answer = f"The check was ended: {asked.reason.strip()}"[:2000]
        act.session.add(duty)
    return _kept(act, row)


def _same(act: Act, asked: ChangeCheck) -> RecurringCheck:
    row = the_check(act.session, asked.check_id, lock=True)
    if row.version != asked.version:
        raise Stale("Somebody else changed this check. Open it again and compare.")
    return row


def _changed(act: Act, row: RecurringCheck, field: str, before: Any, after: Any, reason: str = "") -> None:
    about = ("recurring-check", row.id)
    note_change(act.session, act.actor, act.recorded_at, about, field, before, after, reason)


def _kept(act: Act, row: RecurringCheck) -> dict[str, Any]:
    row.version += 1
    act.session.add(row)
    act.session.flush()
    return {"check": row.id, "what": row.what, "version": row.version}
