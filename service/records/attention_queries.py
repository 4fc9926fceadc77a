"""Finding what wants attention, by two indexes: a search costs what it finds, not what is there.

A stored standing holds until ``next_alert_on``, the day on which it changes by itself; from that day on,
until somebody settles it, the container is *overdue to settle* and has to be judged.
"""

from __future__ import annotations

from datetime import date
from typing import Final, NamedTuple

from sqlalchemy import (
    ColumnElement,
    Date,
    Integer,
    Text,
    and_,
    bindparam,
    cast,
    exists,
    func,
    or_,
    select,
)
from sqlmodel import Session, col

from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.core.materials import Form, MaterialKind, SelfHeating
from service.records.ageing_queries import lives_of_rows
from service.records.materials import AgeingPolicyRow, Material, SafetySheet
from service.records.stock import Container
from service.records.stood_rows import StoodRow, stood_query, stood_rows

_IN_STORE: Final = (ContainerState.SEALED, ContainerState.OPEN)
_TROUBLED: Final = tuple(standing for standing in Standing if standing is not Standing.IN_DATE)


def _in_store() -> ColumnElement[bool]:
    return col(Container.state).in_(_IN_STORE)


def _something_in_it() -> ColumnElement[bool]:
    """Nothing in it: nothing to look at. An amount nobody knows is not nothing."""
    return or_(col(Container.balance).is_(None), col(Container.balance) != 0)


def wanting_attention(session: Session, today: date) -> list[StoodRow]:
    """The containers with something in them that are not in date, or are overdue to settle; by their code."""
    troubled = col(Container.standing).in_(_TROUBLED)
    found: dict[str, StoodRow] = {}
    for due in (troubled, col(Container.next_alert_on) <= today):
        rows = stood_rows(session, stood_query().where(_in_store(), due, _something_in_it()))
        found |= {row.code: row for row in rows}
    return [found[code] for code in sorted(found)]


class Changing(NamedTuple):
    """A container in date, and the day on which that changes by itself."""

    code: str
    name: str
    in_date_until: date | None
    on: date
    place_id: int | None
    id: int
    ever_opened: bool


_CHANGES: Final = and_(
    or_(*(col(Container.state) == state for state in _IN_STORE)),
    col(Container.next_alert_on) > bindparam("today", type_=Date),
    col(Container.next_alert_on) <= bindparam("until", type_=Date),
    # Said so, and not as "is in date": that would tempt SQLite to the index over all that are in date.
    *(col(Container.standing) != standing for standing in _TROUBLED),
    _something_in_it(),
)
# Put together once: building a statement costs more than running this one.
_SOON: Final = (
    select(
        col(Container.code),
        col(Material.name),
        col(Container.in_date_until),
        col(Container.next_alert_on),
        col(Container.place_id),
        col(Container.id),
        col(Container.ever_opened),
    )
    .join(Material, col(Material.id) == col(Container.material_id))
    .where(_CHANGES)
    .order_by(col(Container.next_alert_on), col(Container.code))
    .limit(bindparam("most", type_=Integer))
)
_COUNT_SOON: Final = select(func.count()).select_from(Container).where(_CHANGES)
_NO_LIMIT: Final = 2**31 - 1


def changing_soon(session: Session, today: date, until: date, limit: int | None = None) -> list[Changing]:
    """The containers in date that change their standing after ``today`` and up to a day, the first first.

    Nothing is judged: what is stored holds until that day.
    """
    span = {"today": today, "until": until, "most": _NO_LIMIT if limit is None else limit}
    return [Changing._make(row) for row in session.connection().execute(_SOON, span)]


def count_changing(session: Session, today: date, until: date) -> int:
    """How many `changing_soon` would find without a limit."""
    span = {"today": today, "until": until}
    return int(session.connection().execute(_COUNT_SOON, span).scalar_one())


def count_troubled(session: Session, today: date) -> dict[Standing, int]:
    """How many containers with something in them are not in date today, by how they stand.

    What holds as stored is counted by the database; only what is overdue to settle is judged here.
    """
    holds = or_(col(Container.next_alert_on).is_(None), col(Container.next_alert_on) > today)
    counts: dict[Standing, int] = dict.fromkeys(_TROUBLED, 0)
    stored = (
        select(col(Container.standing), func.count())
        .where(_in_store(), col(Container.standing).in_(_TROUBLED), holds, _something_in_it())
        .group_by(col(Container.standing))
    )
    for standing, count in session.connection().execute(stored):
        counts[standing] += count
    overdue = stood_rows(
        session, stood_query().where(_in_store(), col(Container.next_alert_on) <= today, _something_in_it())
    )
    for life in lives_of_rows(session, overdue):
        standing = judge(life, today).standing
        if standing in counts:
            counts[standing] += 1
    return counts


def lacking_materials(session: Session) -> list[Material]:
    """The stocked materials of which a fact may be missing that holds up daily work, by name.

    It names some too many, never one too few: each is to be judged by `core.material_facts.review`.
    """
    own = exists().where(col(AgeingPolicyRow.material_id) == col(Material.id))
    general = col(AgeingPolicyRow.material_id).is_(None), col(AgeingPolicyRow.key) == ""
    covered = set(session.execute(select(col(AgeingPolicyRow.kind)).where(*general)).scalars())
    no_flash_point = (
        col(Material.flash_point_c).is_(None)
        & (col(Material.no_flash_reason) == "")
        & col(Material.form).not_in([Form.POWDER, Form.SOLID, Form.PIECES])
    )
    may_lack = or_(
        col(Material.self_heating) == SelfHeating.NOT_KNOWN,
        no_flash_point,
        # What nobody wrote down is stored as JSON null or as SQL null, depending on who left it out.
        func.coalesce(cast(col(Material.hazards), Text), "null") == "null",
        ~exists().where(col(SafetySheet.material_id) == col(Material.id)),
        # Nearly every shop has a policy for every kind; then no material is asked for one of its own.
        col(Material.kind).in_([kind for kind in MaterialKind if kind not in covered]) & ~own,
    )
    stocked = exists().where(col(Container.material_id) == col(Material.id), _in_store())
    # Sorted here: to keep the order of names, SQLite would fetch every material through their index.
    found = session.execute(select(Material).where(may_lack, stocked)).scalars()
    return sorted(found, key=lambda material: (material.name, material.id or 0))
