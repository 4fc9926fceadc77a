"""Planning jobs of a term: one recipe for so many people on its days; a day is dropped, taken up or added."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from math import ceil
from typing import Any, Final

from sqlmodel import Session, col, func, select

from service.actions.ask_amount import judge_amount
from service.actions.day_in_hand import DROP, TAKE_UP, refuse_in_hand
from service.actions.note_change import note_change
from service.actions.planned_amount import KEPT_PLACES, Each, in_all
from service.actions.read_amount import shop_system
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.bench_writing import Ambiguous
from service.core.findings import Invalid, Stale
from service.core.months import say_date
from service.core.plan_needs import MOST_HEADS
from service.core.quantities import decimal_of
from service.core.recipe_amounts import read_how_much
from service.core.term_dates import REPEAT_WORDS, OnFreeDay, Repeat, TermDates, about_past, dates_of
from service.records.mixing import BatchState
from service.records.mixing_queries import the_batch, the_recipe, the_version
from service.records.plan_queries import (
    calendar_of,
    dates_of_job,
    the_date,
    the_planned_job,
    the_term,
)
from service.records.plans import DATE_WORDS, DateState, PlannedDate, PlannedJobRow, Term

MOST_JOBS = 500
"""Planned jobs of one term."""
MOST_SPARE_PERCENT = 500
_NOTHING = BatchState.GIVEN_UP


@dataclass(frozen=True, kw_only=True)
class JobAsked:
    """A job to plan, as typed.

    Args:
        each: what each gets: "60 ml" of what the recipe makes, or "0.5 times" the recipe.
        spare_percent: so much more is made, in whole per cent.
        keep_version: keep to the recipe's present version; else it is planned as it stands later.
        first, repeat, every, last, on_free: the days (see core/term_dates.py).
        meant: an amount beyond what a shop mixes in a day was asked about, and is meant.
    """

    once: str
    term_id: int
    recipe_id: int
    name: str
    heads: int
    each: str
    first: date
    spare_percent: int = 0
    keep_version: bool = False
    repeat: Repeat = Repeat.ONCE
    every: int = 1
    last: date | None = None
    on_free: OnFreeDay = OnFreeDay.LEAVE_OUT
    meant: bool = False

    def body(self) -> dict[str, Any]:
        return {
            "term": self.term_id,
            "recipe": self.recipe_id,
            "name": self.name,
            "heads": self.heads,
            "each": self.each,
            "first": self.first.isoformat(),
            "spare_percent": self.spare_percent,
            "keep_version": self.keep_version,
            "repeat": self.repeat.value,
            "every": self.every,
            "last": self.last.isoformat() if self.last else None,
            "on_free": self.on_free.value,
            **({"meant": True} if self.meant else {}),
        }


def read_each(session: Session, text: str) -> Each:
    """What each gets. Raises Ambiguous or Invalid (field ``each``)."""
    if "head" in text.lower():
        words = "Write what one person gets, such as 60 ml; for how many people stands beside it."
        raise Invalid(words, {"each": words})
    try:
        how = read_how_much(text, system=shop_system(session))
    except Ambiguous as doubt:
        doubt.errors.pop("amount", None)
        doubt.errors["each"] = doubt.sentence
        raise
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {"each": wrong.sentence}, readings=wrong.readings) from wrong
    if how.times is not None:
        return Each(how.written, times=decimal_of(how.times, KEPT_PLACES))
    if how.wanted is None:
        words = "Write what each gets, such as 60 ml or 0.5 times the recipe."
        raise Invalid(words, {"each": words})
    return Each(how.written, ceil(how.wanted.smallest), how.wanted.basis)


def plan_job(session: Session, actor: Actor, now: datetime, asked: JobAsked) -> Settled:
    """Plan a job on its days. Answers ``planned``, ``dates`` and what was moved or left out as findings.

    Raises:
        NotAllowed: a student or reader asked. NotFound: no such term or recipe.
        Ambiguous, Invalid: `errors` names the field; also where no day of it is a school day.
    """
    require(actor, Permission.PLAN)
    return settle(session, actor, Sent(asked.once, "plan-job", asked.body()), now, lambda a: _plan(a, asked))


def _plan(act: Act, asked: JobAsked) -> dict[str, Any]:
    term = the_term(act.session, asked.term_id, lock=True)
    recipe = the_recipe(act.session, asked.recipe_id)
    version = the_version(act.session, recipe)
    _room_for_one(act, asked.term_id)
    each = judge_job(act.session, asked.name, asked.heads, asked.spare_percent, asked.each)
    judge_amount(act.session, version, asked.heads, asked.spare_percent, each, meant=asked.meant)
    laid = laid_dates(term, asked)
    if not laid.dates:
        words = "No day of this row is a school day of the term."
        raise Invalid(words, {"first": words})
    row = PlannedJobRow(
        term_id=term.id or 0,
        name=" ".join(asked.name.split()),
        recipe_id=recipe.id or 0,
        recipe_version_id=version.id if asked.keep_version else None,
        heads=asked.heads,
        each_written=each.written[:200],
        each_amount=each.amount,
        each_basis=each.basis,
        each_times=each.times,
        spare_percent=asked.spare_percent,
        repeated=_repeated(asked, term),
        created_by=act.actor.person_id,
        created_at=act.recorded_at,
    )
    act.session.add(row)
    act.session.flush()
    act.session.add_all(PlannedDate(planned_job_id=row.id or 0, on_day=day) for day in laid.dates)
    act.session.flush()
    act.note(*laid.verdict, *about_past(laid.dates, act.judged_on))
    return {
        "planned": row.id,
        "term": term.id,
        "name": row.name,
        "dates": [day.isoformat() for day in laid.dates],
    }


def laid_dates(term: Term, asked: JobAsked) -> TermDates:
    """The days of a job over the term. Raises Invalid (``first``, ``last``, ``every``)."""
    return dates_of(
        calendar_of(term), asked.first, asked.repeat, every=asked.every, last=asked.last,
        on_free=asked.on_free,
    )  # fmt: skip


def judge_job(session: Session, name: str, heads: int, spare_percent: int, each: str) -> Each:
    """What each gets, if the job may be planned so. Raises Ambiguous or Invalid with the fields' names."""
    wrong: dict[str, str] = {}
    if not 1 <= len(" ".join(name.split())) <= 120:
        wrong["name"] = "Give the job a name of at most 120 signs."
    if not 1 <= heads <= MOST_HEADS:
        wrong["heads"] = f"Enter for how many people: from 1 to {MOST_HEADS}."
    if not 0 <= spare_percent <= MOST_SPARE_PERCENT:
        wrong["spare_percent"] = "Enter the spare in whole per cent, from 0 to 500."
    if wrong:
        raise Invalid(next(iter(wrong.values())), wrong)
    read = read_each(session, each)
    try:
        in_all(heads, read, spare_percent)
    except Invalid as beyond:
        people = "1 person" if heads == 1 else f"{heads} people"
        words = f"{read.written} for {people} is more than the book can keep. Write less for each."
        raise Invalid(words, {"each": words}) from beyond
    return read


def _room_for_one(act: Act, term_id: int) -> None:
    count = select(func.count()).where(col(PlannedJobRow.term_id) == term_id)
    if act.session.exec(count).one() >= MOST_JOBS:
        words = f"A term holds at most {MOST_JOBS} planned jobs."
        raise Invalid(words, {"name": words})


ONCE: Final = "once, on "
"""How is said of a job that it is planned for one day."""


def _repeated(asked: JobAsked, term: Term) -> str:
    if asked.repeat is Repeat.ONCE:
        return f"{ONCE}{say_date(asked.first)}"
    words = REPEAT_WORDS[asked.repeat]
    if asked.repeat is Repeat.SCHOOL_DAYS:
        words = "every school day" if asked.every == 1 else f"every {asked.every} school days"
    last = min(asked.last or term.last_day, term.last_day)
    return f"{words} from {say_date(asked.first)} to {say_date(last)}"


@dataclass(frozen=True)
class DateAsked:
    """One press on a date; ``version`` as the page showed it."""

    once: str
    date_id: int
    version: int


def drop_date(session: Session, actor: Actor, now: datetime, asked: DateAsked) -> Settled:
    """Take a date out of the plan; it stays on the page, and can be taken up again.

    Of a date whose batch is finished the rest is taken out: the batch still stands for it.

    Raises:
        NotAllowed, NotFound. Stale: it is another by now. Refused: a batch is set aside or runs for it, or
        its batch is finished and the day is over.
    """
    return _set_state(session, actor, now, asked, DateState.DROPPED)


def take_up_date(session: Session, actor: Actor, now: datetime, asked: DateAsked) -> Settled:
    """Put a dropped date, or one whose batch came to nothing, back into the plan."""
    return _set_state(session, actor, now, asked, DateState.PLANNED)


def _set_state(
    session: Session, actor: Actor, now: datetime, asked: DateAsked, state: DateState
) -> Settled:
    require(actor, Permission.PLAN)
    body = {"date": asked.date_id, "version": asked.version, "state": state.value}
    return settle(
        session, actor, Sent(asked.once, "planned-date", body), now, lambda act: _turn(act, asked, state)
    )


def _turn(act: Act, asked: DateAsked, state: DateState) -> dict[str, Any]:
    row, planned = locked_date(act, asked.date_id)
    if row.version != asked.version:
        raise Stale(f"This date is {DATE_WORDS[row.state]} by now. Open the plan again and look.")
    rest = False
    if row.state is DateState.STARTED:
        made = the_batch(act.session, row.batch_id or 0).state
        rest = made is BatchState.FINISHED and state is DateState.DROPPED and row.on_day >= act.day
        if made is not _NOTHING and not rest:
            refuse_in_hand(act.session, row, DROP if state is DateState.DROPPED else TAKE_UP)
    about = ("planned-date", row.id)
    note_change(act.session, act.actor, act.recorded_at, about, "state", row.state, state)
    row.state, row.batch_id, row.check_id = state, row.batch_id if rest else None, None
    row.version += 1
    act.session.add(row)
    act.session.flush()
    if state is DateState.PLANNED:
        act.note(*about_past([row.on_day], act.judged_on))
    return {"date": row.id, "planned": planned.id, "on": row.on_day.isoformat(), "state": row.state.value}


def locked_date(act: Act, date_id: int) -> tuple[PlannedDate, PlannedJobRow]:
    """A date and its job, its term locked so that two writers come one after the other."""
    planned = the_planned_job(act.session, the_date(act.session, date_id).planned_job_id)
    the_term(act.session, planned.term_id, lock=True)
    row = the_date(act.session, date_id)
    act.session.refresh(row)
    return row, planned


@dataclass(frozen=True)
class MoreDates:
    """One more day of a planned job."""

    once: str
    planned_id: int
    day: date


def add_date(session: Session, actor: Actor, now: datetime, asked: MoreDates) -> Settled:
    """Plan a job on one more day of its term; a free day is kept, with a warning.

    Raises:
        NotAllowed, NotFound. Invalid (field ``day``): not in the term, or planned already.
    """
    require(actor, Permission.PLAN)
    body = {"planned": asked.planned_id, "day": asked.day.isoformat()}
    return settle(session, actor, Sent(asked.once, "add-date", body), now, lambda act: _add(act, asked))


def _add(act: Act, asked: MoreDates) -> dict[str, Any]:
    planned = the_planned_job(act.session, asked.planned_id)
    term = the_term(act.session, planned.term_id, lock=True)
    try:
        laid = dates_of(calendar_of(term), asked.day, Repeat.ONCE)
    except Invalid as wrong:
        raise Invalid(wrong.sentence, {"day": wrong.sentence}) from wrong
    if any(row.on_day == asked.day for row in dates_of_job(act.session, asked.planned_id)):
        words = f"{say_date(asked.day)} stands in this job already. If it was dropped, take it up again."
        raise Invalid(words, {"day": words})
    row = PlannedDate(planned_job_id=asked.planned_id, on_day=asked.day)
    act.session.add(row)
    act.session.flush()
    act.note(*laid.verdict, *about_past([asked.day], act.judged_on))
    return {"date": row.id, "planned": planned.id, "on": asked.day.isoformat(), "state": row.state.value}


def drop_job(session: Session, actor: Actor, now: datetime, once: str, planned_id: int) -> Settled:
    """Take every date of a job that still stands out of the plan. Started ones stay."""
    require(actor, Permission.PLAN)
    sent = Sent(once, "drop-planned-job", {"planned": planned_id})
    return settle(session, actor, sent, now, lambda act: _drop_all(act, planned_id))


def _drop_all(act: Act, planned_id: int) -> dict[str, Any]:
    planned = the_planned_job(act.session, planned_id)
    the_term(act.session, planned.term_id, lock=True)
    dropped = []
    for row in dates_of_job(act.session, planned_id):
        act.session.refresh(row)
        if row.state is not DateState.PLANNED:
            continue
        row.state, row.version = DateState.DROPPED, row.version + 1
        act.session.add(row)
        dropped.append(row.on_day.isoformat())
    about = ("planned-job", planned.id)
    if dropped:
        before = f"{len(dropped)} planned"
        note_change(act.session, act.actor, act.recorded_at, about, "dates", before, "dropped")
    act.session.flush()
    return {"planned": planned.id, "term": planned.term_id, "name": planned.name, "dropped": dropped}
