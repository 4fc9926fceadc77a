"""What stands in somebody's calendar: containers by their dates, what was emptied lately, duties.

Each question is asked once for all containers, or once for every 500: a calendar costs what it shows.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from sqlalchemy import ColumnElement, and_, exists, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.core.containers import ContainerState, EventKind, Standing
from service.records.checks import CheckDone
from service.records.duties import Duty
from service.records.handed_over import held_by
from service.records.materials import AgeingPolicyRow, Material
from service.records.owners import came_in_open
from service.records.people import Person
from service.records.shop import Change
from service.records.stock import Container, ContainerEvent, Movement, Posting
from service.records.stood_rows import StoodRow, stood_query, stood_rows

MOST: Final = 1000
"""Containers in one calendar; a program on a telephone takes no more than some thousands of entries."""
_AT_ONCE: Final = 500
_IN_STORE: Final = (ContainerState.SEALED, ContainerState.OPEN)
_LEFT: Final = (ContainerState.EMPTY, ContainerState.GONE)
_RAGS: Final = ("waste-collection", "answer-violation")


def _something_in_it() -> ColumnElement[bool]:
    return or_(col(Container.balance).is_(None), col(Container.balance) != 0)


def _opened_last_by(person_id: int) -> ColumnElement[bool]:
    mine, later = aliased(ContainerEvent), aliased(ContainerEvent)
    after = exists().where(
        # Not the container of the outer question: there the table would be asked for anew, for any container.
        later.container_id == mine.container_id,  # type: ignore[arg-type]
        later.kind == EventKind.OPENED,  # type: ignore[arg-type]
        later.id > mine.id,  # type: ignore[arg-type, operator]
    )
    opened = exists().where(
        mine.container_id == col(Container.id),  # type: ignore[arg-type]
        mine.kind == EventKind.OPENED,  # type: ignore[arg-type]
        mine.person_id == person_id,  # type: ignore[arg-type]
        ~came_in_open(mine),
        ~after,
    )
    return and_(col(Container.ever_opened).is_(True), opened)


def _whose(session: Session, person_id: int | None) -> tuple[ColumnElement[bool], ...]:
    if person_id is None:
        return ()
    person = session.get(Person, person_id)
    mine = _opened_last_by(person_id)
    return (mine,) if person is None else (or_(mine, held_by(person.name)),)


def with_dates(
    session: Session, since: date, until: date, opened_by: int | None, most: int = MOST
) -> tuple[list[StoodRow], bool]:
    """The containers in the store whose standing changes up to ``until`` or that are past since ``since``.

    Args:
        opened_by: only what this person opened last or was handed; None = all.

    Returns:
        The first ``most`` by the day of their change, and whether there are more.
    """
    whose = _whose(session, opened_by)
    changing = stood_query().where(
        col(Container.state).in_(_IN_STORE), col(Container.next_alert_on) <= until, _something_in_it(), *whose
    )
    order = col(Container.next_alert_on), col(Container.code)
    found = stood_rows(session, changing.order_by(*order).limit(most + 1))
    past = stood_query().where(
        col(Container.state).in_(_IN_STORE),
        col(Container.standing) == Standing.PAST,
        col(Container.next_alert_on).is_(None),
        col(Container.in_date_until) >= since,
        _something_in_it(),
        *whose,
    )
    late = stood_rows(session, past.order_by(col(Container.in_date_until).desc()).limit(most + 1))
    return found[:most] + late[:most], max(len(found), len(late)) > most


def emptied_since(
    session: Session, at: datetime, opened_by: int | None, most: int = MOST
) -> list[StoodRow]:
    """The containers that were emptied, discarded or used up since ``at`` and still are."""
    first = _first_posting_since(session, at)
    touched = select(col(Movement.container_id)).where(col(Movement.posting_id) >= first)
    query = stood_query().where(
        col(Container.id).in_(touched),
        or_(col(Container.state).in_(_LEFT), col(Container.balance) == 0),
        *_whose(session, opened_by),
    )
    return stood_rows(session, query.order_by(col(Container.id).desc()).limit(most))


def _first_posting_since(session: Session, at: datetime) -> int:
    """The first number of a posting recorded at ``at`` or later: recorded time never goes back.

    Halving by number: the table has no index by time.
    """
    low, high = 1, (session.connection().execute(select(func.max(col(Posting.id)))).scalar() or 0) + 1
    while low < high:
        middle = (low + high) // 2
        query = select(col(Posting.id), col(Posting.recorded_at)).where(col(Posting.id) >= middle)
        row = session.connection().execute(query.order_by(col(Posting.id)).limit(1)).one()
        if row.recorded_at >= at:
            high = middle
        else:
            low = row.id + 1
    return low


class Changed(NamedTuple):
    """How often something has been changed, and when last; neither ever goes back."""

    times: int
    at: datetime


def changes_of(session: Session, rows: Sequence[StoodRow]) -> dict[int, Changed]:
    """Of each container: its last posting, the changes of its material, and the policies of the shop."""
    policies, set_at = _policies(session)
    materials = _materials(session, {row.material_id for row in rows})
    last: dict[int, int] = {}
    numbers = [row.id for row in rows]
    for begin in range(0, len(numbers), _AT_ONCE):
        some = numbers[begin : begin + _AT_ONCE]
        for table in (Movement, ContainerEvent):
            query = (
                select(col(table.container_id), func.max(col(table.posting_id)))
                .where(col(table.container_id).in_(some))
                .group_by(col(table.container_id))
            )
            for box, posting in session.connection().execute(query):
                last[box] = max(posting, last.get(box, 0))
    times = _recorded(session, sorted(set(last.values())))
    found = {}
    for row in rows:
        posting, (version, changed_at) = last.get(row.id, 0), materials[row.material_id]
        stamps = [at for at in (times.get(posting), changed_at, set_at) if at is not None]
        found[row.id] = Changed(posting + version + policies, max(stamps))
    return found


def newest(session: Session) -> tuple[int, datetime | None]:
    """The last posting of the book and when it was recorded, with the policies of the shop counted in."""
    policies, set_at = _policies(session)
    query = select(col(Posting.id), col(Posting.recorded_at)).order_by(col(Posting.id).desc()).limit(1)
    row = session.connection().execute(query).first()
    stamps = [at for at in (row.recorded_at if row else None, set_at) if at is not None]
    return (row.id if row else 0) + policies, max(stamps, default=None)


def _policies(session: Session) -> tuple[int, datetime | None]:
    query = select(func.max(col(AgeingPolicyRow.id)), func.max(col(AgeingPolicyRow.set_at)))
    number, at = session.connection().execute(query).one()
    return number or 0, at


def _materials(session: Session, numbers: Collection[int]) -> dict[int, tuple[int, datetime]]:
    """Version and last change of each material; one that nobody changed has the day it was written down."""
    about = select(col(Change.about_id), func.max(col(Change.changed_at)))
    about = about.where(col(Change.about_kind) == "material").group_by(col(Change.about_id))
    changed = {row[0]: row[1] for row in session.connection().execute(about)}
    wanted = sorted(numbers)
    found: dict[int, tuple[int, datetime]] = {}
    for begin in range(0, len(wanted), _AT_ONCE):
        some = col(Material.id).in_(wanted[begin : begin + _AT_ONCE])
        columns: list[Any] = [col(Material.id), col(Material.version), col(Material.created_at)]
        query = select(*columns).where(some)
        for number, version, created_at in session.connection().execute(query):
            found[number] = version, changed.get(number, created_at)
    return found


def _recorded(session: Session, postings: Sequence[int]) -> dict[int, datetime]:
    found: dict[int, datetime] = {}
    for begin in range(0, len(postings), _AT_ONCE):
        some = col(Posting.id).in_(postings[begin : begin + _AT_ONCE])
        query = select(col(Posting.id), col(Posting.recorded_at)).where(some)
        rows: list[Any] = list(session.connection().execute(query))
        found |= {row.id: row.recorded_at for row in rows}
    return found


class Entered(NamedTuple):
    """How many entries a recurring check has, those taken back too, and when the newest was written."""

    times: int
    at: datetime | None


def check_changes(session: Session, numbers: Collection[int]) -> dict[int, Entered]:
    """Of each of these recurring checks."""
    query = (
        select(col(CheckDone.check_id), func.count(), func.max(col(CheckDone.recorded_at)))
        .where(col(CheckDone.check_id).in_(sorted(numbers)))
        .group_by(col(CheckDone.check_id))
    )
    found = dict.fromkeys(numbers, Entered(0, None))
    if found:
        found |= {row[0]: Entered(row[1], row[2]) for row in session.connection().execute(query)}
    return found


def duties_of(session: Session, people: Collection[int], done_since: datetime) -> list[Duty]:
    """What these persons owe, without rags, and what of it was done since ``done_since``."""
    query = select(Duty).where(
        col(Duty.owed_by).in_(people),
        col(Duty.kind).not_in(_RAGS),
        col(Duty.about_kind) != "rag-load",
        or_(col(Duty.done_at).is_(None), col(Duty.done_at) >= done_since),
    )
    return list(session.execute(query.order_by(col(Duty.due_at), col(Duty.id)).limit(MOST)).scalars())
