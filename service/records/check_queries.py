"""Reading recurring checks, what was found at each, and how each stands on a day."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import and_, func
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.core.findings import NotFound
from service.core.recurring_checks import (
    CheckEntry,
    CheckPlan,
    CheckState,
    Interval,
    Result,
    judge_check,
    missed_words,
    standing_entries,
)
from service.records.checks import CheckDone, RecurringCheck
from service.records.duties import Duty
from service.records.people import Person
from service.records.places import Place

FAILED_CHECK = "failed-check"
"""The kind of the duty that a check which was not fine opens; it ends with a later one that is fine."""


@dataclass(frozen=True)
class SeenCheck:
    """A check with its place, its owner, and how it stands."""

    row: RecurringCheck
    place: str
    owner: str
    state: CheckState

    @property
    def number(self) -> int:
        return self.row.id or 0

    @property
    def plan(self) -> CheckPlan:
        return plan_of(self.row)

    @property
    def name(self) -> str:
        """What is checked, and where."""
        return f"{self.row.what}, {self.place}" if self.place else self.row.what


def plan_of(row: RecurringCheck) -> CheckPlan:
    return CheckPlan(Interval(row.unit, row.times, row.counted), row.since, row.until)


def the_check(session: Session, check_id: int, *, lock: bool = False) -> RecurringCheck:
    """One check.

    Raises:
        NotFound: there is none with this number.
    """
    query = select(RecurringCheck).where(col(RecurringCheck.id) == check_id)
    if lock:
        query = query.with_for_update().execution_options(populate_existing=True)
    row = session.exec(query).one_or_none()
    if row is None:
        raise NotFound(f"There is no recurring check number {check_id}.")
    return row


def entries_of(session: Session, check_ids: Iterable[int]) -> dict[int, list[CheckEntry]]:
    """The entries of each check, as the rules read them."""
    wanted = sorted(set(check_ids))
    found: dict[int, list[CheckEntry]] = {number: [] for number in wanted}
    for begin in range(0, len(wanted), 500):
        some = col(CheckDone.check_id).in_(wanted[begin : begin + 500])
        for row in session.exec(select(CheckDone).where(some)):
            found[row.check_id].append(_entry(row))
    return found


def missed_of(session: Session, checks: Sequence[SeenCheck], today: date) -> dict[int, str]:
    """Which periods of the last twelve months each check was not made in, in words; empty: none."""
    entries = entries_of(session, [one.number for one in checks])
    return {
        one.number: missed_words(
            one.plan, [made.on for made in standing_entries(entries[one.number])], today
        )
        for one in checks
    }  # fmt: skip


def newest_entries(
    session: Session, check_ids: Collection[int] | None = None
) -> dict[int, list[CheckEntry]]:
    """The newest entry of each check that was not taken back: it says how the check stands.

    Args:
        check_ids: only of these; None: of all.
    """
    back = aliased(CheckDone)
    gone = select(back.id).where(col(back.reverses_id) == col(CheckDone.id)).exists()
    counts = [col(CheckDone.result) != Result.TAKEN_BACK, ~gone]
    if check_ids is not None:
        counts.append(col(CheckDone.check_id).in_(sorted(check_ids)))
    last = (
        select(col(CheckDone.check_id).label("check_id"), func.max(col(CheckDone.happened_at)).label("at"))
        .where(*counts)
        .group_by(col(CheckDone.check_id))
        .subquery()
    )
    query = select(CheckDone).join(
        last, and_(col(CheckDone.check_id) == last.c.check_id, col(CheckDone.happened_at) == last.c.at)
    )
    found: dict[int, list[CheckEntry]] = {}
    for row in session.exec(query.where(*counts)):
        found.setdefault(row.check_id, []).append(_entry(row))
    return found


def _entry(row: CheckDone) -> CheckEntry:
    number = row.id or 0
    order = (row.happened_at.isoformat(), number)
    return CheckEntry(number, row.on_day, row.result, order, row.reverses_id, row.sentence)


def history_of(session: Session, check_id: int) -> Sequence[tuple[CheckDone, Person]]:
    """Every entry of one check with who made it, the newest first, those taken back with them."""
    query = select(CheckDone, Person).join(Person, col(Person.id) == col(CheckDone.person_id))
    query = query.where(col(CheckDone.check_id) == check_id)
    order = col(CheckDone.happened_at).desc(), col(CheckDone.id).desc()
    return session.exec(query.order_by(*order).limit(1000)).all()


def seen_checks(session: Session, today: date, *, ended: bool = False) -> list[SeenCheck]:
    """Every check that holds on ``today``, what is due first; with ``ended`` also those that ended."""
    query = (
        select(RecurringCheck, Place.name, Person.name)
        .join(Place, col(Place.id) == col(RecurringCheck.place_id), isouter=True)
        .join(Person, col(Person.id) == col(RecurringCheck.owner_id))
    )
    if not ended:
        query = query.where(col(RecurringCheck.until).is_(None) | (col(RecurringCheck.until) >= today))
    rows = session.exec(query).all()
    entries = newest_entries(session)
    found = [
        SeenCheck(row, place or "", owner, judge_check(plan_of(row), entries.get(row.id or 0, ()), today))
        for row, place, owner in rows
    ]
    return sorted(found, key=_first)


def count_due(session: Session, person_id: int, today: date) -> int:
    """How many checks somebody sees to that are due today or late."""
    query = select(RecurringCheck).where(
        col(RecurringCheck.owner_id) == person_id,
        col(RecurringCheck.until).is_(None) | (col(RecurringCheck.until) >= today),
    )
    rows = session.exec(query).all()
    if not rows:
        return 0
    entries = newest_entries(session, [row.id or 0 for row in rows])
    dues = [judge_check(plan_of(row), entries.get(row.id or 0, ()), today).due for row in rows]
    return sum(due is not None and due <= today for due in dues)


def seen_check(session: Session, check_id: int, today: date) -> SeenCheck:
    """One check as it stands. Raises NotFound."""
    row = the_check(session, check_id)
    place = session.get(Place, row.place_id) if row.place_id else None
    owner = session.get_one(Person, row.owner_id)
    state = judge_check(plan_of(row), entries_of(session, [check_id])[check_id], today)
    return SeenCheck(row, place.name if place else "", owner.name, state)


def _first(one: SeenCheck) -> tuple[object, ...]:
    # What failed stands first: it is owed by today.
    return one.state.due is None, not one.state.failed, one.state.due or date.max, one.name, one.number


def open_failure(session: Session, check_id: int) -> Duty | None:
    """The duty that stands because this check was not fine."""
    query = select(Duty).where(
        col(Duty.kind) == FAILED_CHECK,
        col(Duty.about_kind) == "recurring-check",
        col(Duty.about_id) == check_id,
        col(Duty.done_at).is_(None),
    )
    return session.exec(query.order_by(col(Duty.id))).first()
