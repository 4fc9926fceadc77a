"""Finding what wants attention, by two indexes: a search costs what it finds, not what is there.

A stored standing holds until ``next_alert_on``, the day on which it changes by itself; from that day on,
until somebody settles it, the container is *overdue to settle* and has to be judged.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Final, NamedTuple

from sqlalchemy import ColumnElement, Text, cast, exists, func, or_, select
from sqlmodel import Session, col

from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.core.materials import Form, SelfHeating
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


def changing_soon(session: Session, today: date, until: date, limit: int | None = None) -> list[Changing]:
    """The containers in date that change their standing after ``today`` and up to a day, the first first.

    Nothing is judged: what is stored holds until that day.
    """
    query = (
        select(
            col(Container.code),
            col(Material.name),
            col(Container.in_date_until),
            col(Container.next_alert_on),
            col(Container.place_id),
        )
        .join(Material, col(Material.id) == col(Container.material_id))
        .where(*_changes(today, until))
        .order_by(col(Container.next_alert_on), col(Container.code))
        .limit(limit)
    )
    return [Changing._make(row) for row in session.connection().execute(query)]


def count_changing(session: Session, today: date, until: date) -> int:
    """How many `changing_soon` would find without a limit."""
    query = select(func.count()).select_from(Container).where(*_changes(today, until))
    return int(session.connection().execute(query).scalar_one())


def _changes(today: date, until: date) -> tuple[ColumnElement[bool], ...]:
    return (
        _in_store(),
        col(Container.next_alert_on) > today,
        col(Container.next_alert_on) <= until,
        # Said so, and not as "is in date": that would tempt SQLite to the index over all that are in date.
        col(Container.standing).not_in(_TROUBLED),
        _something_in_it(),
    )


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


def lacking_materials(session: Session) -> Sequence[Material]:
    """The stocked materials of which a fact may be missing that holds up daily work, by name.

    It names some too many, never one too few: each is to be judged by `core.material_facts.review`.
    """
    own = exists().where(col(AgeingPolicyRow.material_id) == col(Material.id))
    of_kind = exists().where(
        col(AgeingPolicyRow.material_id).is_(None),
        col(AgeingPolicyRow.key) == "",
        col(AgeingPolicyRow.kind) == col(Material.kind),
    )
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
        ~(own | of_kind),
    )
    stocked = exists().where(col(Container.material_id) == col(Material.id), _in_store())
    query = select(Material).where(may_lack, stocked).order_by(col(Material.name))
    return session.execute(query).scalars().all()
