"""Reading who was taught what, and which keeper-only groups the store holds."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple
from zoneinfo import ZoneInfo

from sqlmodel import Session, col, select

from service.core.access import Role
from service.core.training import Group, Need, Taught, keeper_only_groups, needs
from service.records.checks import Training
from service.records.material_queries import facts_of_all
from service.records.materials import Material
from service.records.owners import Here, who_is_here
from service.records.people import Person

_TAKEN_BACK = select(Training.reverses_id).where(col(Training.reverses_id).is_not(None))


class TrainingSeen(NamedTuple):
    """One entry with the names; ``gone``: it was taken back."""

    row: Training
    person: str
    recorded_by: str
    gone: bool


def all_training(session: Session, person_id: int | None = None, most: int = 2000) -> list[TrainingSeen]:
    """Every entry, those taken back with them, the newest day first; of one person if asked."""
    query = select(Training)
    if person_id is not None:
        query = query.where(col(Training.person_id) == person_id)
    order = col(Training.on_day).desc(), col(Training.id).desc()
    rows = session.exec(query.order_by(*order).limit(most)).all()
    gone = set(session.exec(_TAKEN_BACK).all())
    names = dict(session.exec(select(Person.id, Person.name)).all())
    return [
        TrainingSeen(row, names[row.person_id], names[row.recorded_by], row.id in gone) for row in rows
    ]


def taught(session: Session) -> list[Taught]:
    """The entries that count."""
    query = select(Training).where(
        col(Training.reverses_id).is_(None), col(Training.id).not_in(_TAKEN_BACK)
    )
    return [Taught(row.person_id, row.material_group, row.on_day) for row in session.exec(query)]


def held_groups(session: Session, zone: ZoneInfo) -> dict[Group, tuple[date, str]]:
    """The keeper-only groups of the materials in use, each with its newest material: day and name."""
    query = select(Material).where(col(Material.active), col(Material.not_stocked).is_(False))
    rows: Sequence[Material] = session.exec(query.order_by(col(Material.created_at), col(Material.id))).all()
    found: dict[Group, tuple[date, str]] = {}
    for row, facts in zip(rows, facts_of_all(session, rows), strict=True):
        for group in keeper_only_groups(facts):
            found[group] = row.created_at.astimezone(zone).date(), row.name
    return found


def who_lacks(session: Session, today: date, zone: ZoneInfo) -> tuple[dict[int, Here], list[Need]]:
    """Everybody who is here and takes material, and what each still lacks."""
    here = {number: one for number, one in who_is_here(session, today).items() if one.role is not Role.READER}
    roles = {number: one.role for number, one in here.items()}
    return here, needs(roles, taught(session), held_groups(session, zone))
