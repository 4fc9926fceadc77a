"""Writing down a term: its days, whose holidays are free, and what the school frees or adds itself."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.plan_job import ONCE
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Finding, Invalid, Stale, warn
from service.core.months import say_date
from service.core.school_calendar import FreeDays, SchoolCalendar, checked, why_free
from service.core.written_days import read_day
from service.records.plan_queries import calendar_of, jobs_of_term, the_term
from service.records.plans import Term

MOST_EXTRA = 60


@dataclass(frozen=True, kw_only=True)
class TermAsked:
    """A term as typed.

    Args:
        once: the key that makes resending harmless, 1 to 64 signs.
        weekdays: with lessons, 0 = Monday.
        country, part: codes of whose holidays are free; empty = none are asked.
        breaks: school holidays are free as well, where they are known.
        free: the school's own free days; ``extra``: days with lessons though they would be free.
    """

    once: str
    name: str
    first_day: date
    last_day: date
    weekdays: tuple[int, ...] = (0, 1, 2, 3, 4)
    country: str = ""
    part: str = ""
    breaks: bool = True
    free: tuple[FreeDays, ...] = ()
    extra: tuple[date, ...] = ()

    def body(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "first_day": self.first_day.isoformat(),
            "last_day": self.last_day.isoformat(),
            "weekdays": sorted(set(self.weekdays)),
            "country": self.country,
            "part": self.part,
            "breaks": self.breaks,
            "free": _free(self.free),
            "extra": sorted({day.isoformat() for day in self.extra}),
        }


def write_term(session: Session, actor: Actor, now: datetime, asked: TermAsked) -> Settled:
    """Write a new term.

    Raises:
        NotAllowed: a student or reader asked.
        Invalid: no name, days out of order, a country nobody knows; `errors` names the field.
    """
    require(actor, Permission.PLAN)
    return settle(session, actor, Sent(asked.once, "write-term", asked.body()), now, lambda a: _new(a, asked))


def change_term(
    session: Session, actor: Actor, now: datetime, term_id: int, version: int, asked: TermAsked
) -> Settled:
    """Change a term. Dates that are planned already stay as they are; the plan says what is on a free day.

    Raises:
        Stale: somebody changed it meanwhile. NotFound, NotAllowed, Invalid: as for a new one.
    """
    require(actor, Permission.PLAN)
    sent = Sent(asked.once, "change-term", {"term": term_id, "version": version, **asked.body()})
    return settle(session, actor, sent, now, lambda act: _change(act, term_id, version, asked))


def _new(act: Act, asked: TermAsked) -> dict[str, Any]:
    row = Term(**_columns(asked), created_by=act.actor.person_id, created_at=act.recorded_at)
    act.session.add(row)
    act.session.flush()
    return {"term": row.id, "name": row.name, "version": row.version}


def _change(act: Act, term_id: int, version: int, asked: TermAsked) -> dict[str, Any]:
    row = the_term(act.session, term_id, lock=True)
    if row.version != version:
        raise Stale(f"Somebody else changed the term {row.name}. Open it again and compare.")
    open_before = calendar_of(row)
    for name, value in _columns(asked).items():
        before = getattr(row, name)
        note_change(act.session, act.actor, act.recorded_at, ("term", row.id), name, before, value)
        setattr(row, name, value)
    row.version += 1
    act.session.add(row)
    act.session.flush()
    act.note(*_not_added(act, row, open_before, calendar_of(row)))
    return {"term": row.id, "name": row.name, "version": row.version}


def _not_added(act: Act, row: Term, before: SchoolCalendar, after: SchoolCalendar) -> list[Finding]:
    """That jobs which repeat get no day more, where days have lessons now that had none."""
    day, more = max(after.first, act.day), False
    while day <= after.last and not more:
        had = before.first <= day <= before.last and not why_free(before, day)
        more, day = not had and not why_free(after, day), day + timedelta(days=1)
    jobs = [
        job for job, _ in (jobs_of_term(act.session, row.id or 0) if more else ())
        if not job.repeated.startswith(ONCE)
    ]  # fmt: skip
    if not jobs:
        return []
    names = ", ".join(one.name for one in jobs[:5]) + (f" and {len(jobs) - 5} more" if len(jobs) > 5 else "")
    words = (
        f"Some days have lessons now that had none. The days of jobs that repeat stay as they were planned: "
        f"nothing is planned or bought for the new ones. Add them where they are wanted: {names}."
    )
    return [warn("days-not-added", words, about=row.name)]


def _columns(asked: TermAsked) -> dict[str, Any]:
    name = " ".join(asked.name.split())
    if not 1 <= len(name) <= 120:
        words = "Give the term a name of at most 120 signs."
        raise Invalid(words, {"name": words})
    if len(asked.extra) > MOST_EXTRA:
        words = f"Enter at most {MOST_EXTRA} days with lessons."
        raise Invalid(words, {"extra": words})
    calendar = SchoolCalendar(
        asked.first_day, asked.last_day, frozenset(asked.weekdays), asked.country, asked.part, asked.breaks,
        asked.free, frozenset(asked.extra),
    )  # fmt: skip
    try:
        checked(calendar)
    except Invalid as wrong:
        ours = {"first": "first_day", "last": "last_day"}
        named = {ours.get(name, name): words for name, words in wrong.errors.items()}
        raise Invalid(wrong.sentence, named) from wrong
    return {
        "name": name,
        "first_day": asked.first_day,
        "last_day": asked.last_day,
        "weekdays": "".join(str(day) for day in sorted(set(asked.weekdays))),
        "country": asked.country,
        "part": asked.part,
        "breaks": asked.breaks,
        "free_days": _free(asked.free),
        "extra_days": sorted({day.isoformat() for day in asked.extra}),
    }


def _free(free: tuple[FreeDays, ...]) -> list[dict[str, str]]:
    return [
        {"first": one.first.isoformat(), "last": one.last.isoformat(), "name": one.name[:60]} for one in free
    ]


def read_free(text: str) -> tuple[FreeDays, ...]:
    """Free days as typed, a stretch on a line: "23 Dec 2026 to 6 Jan 2027, Christmas".

    Raises Invalid (field ``free``).

    >>> read_free("2 Apr 2026 to 10 Apr 2026, Easter")[0].name
    'Easter'
    """
    found = []
    for line in filter(None, (" ".join(line.split()) for line in text.splitlines())):
        span, _, name = line.partition(",")
        first, _, last = span.partition(" to ")
        try:
            found.append(FreeDays(read_day(first), read_day(last or first), name.strip()[:60]))
        except Invalid as wrong:
            words = f"“{line[:60]}”: write the days like 2 Apr 2026 to 10 Apr 2026, Easter."
            raise Invalid(words, {"free": words}) from wrong
    return tuple(found)


def read_extra(text: str) -> tuple[date, ...]:
    """Days as typed, one on a line. Raises Invalid (field ``extra``).

    >>> read_extra("14 Mar 2026")[0].isoformat()
    '2026-03-14'
    """
    found = []
    for line in filter(None, (line.strip() for line in text.splitlines())):
        try:
            found.append(read_day(line))
        except Invalid as wrong:
            words = f"“{line[:60]}”: write one day on each line, like 14 Mar 2026."
            raise Invalid(words, {"extra": words}) from wrong
    return tuple(found)


def free_as_typed(term: Term) -> str:
    """The free days of a term as `read_free` reads them back."""
    lines = []
    for one in term.free_days:
        first, last = date.fromisoformat(one["first"]), date.fromisoformat(one["last"])
        span = say_date(first) if first == last else f"{say_date(first)} to {say_date(last)}"
        lines.append(f"{span}, {one['name']}" if one["name"] else span)
    return "\n".join(lines)
