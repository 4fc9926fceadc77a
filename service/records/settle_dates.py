"""Storing how containers stand: a search for what wants attention then finds only what is due.

A change of a policy writes only the containers whose dates it moves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, Final

from sqlalchemy import bindparam, update
from sqlmodel import Session, col, select

from service.core.ageing import alert_dates
from service.core.containers import ContainerState, Standing
from service.core.life_facts import ConditionCheck, LifeFacts
from service.records.ageing_queries import (
    AT_ONCE,
    PoliciesInForce,
    RestsOn,
    checks_of_all,
    judged,
    life_from,
    life_on,
    lives_of,
    policies_of_all,
)
from service.records.materials import Material
from service.records.peroxide_formers import formers_among
from service.records.stock import Container
from service.records.stood_rows import StoodRow, stood_query, stood_rows

Stored = tuple[Standing, date | None, date | None]
"""What is kept with a container: its standing, the end of its date, the next day the standing changes."""

_changes: Final = lru_cache(maxsize=5_000)(alert_dates)


def settle_dates(container: Container, rests: RestsOn, today: date) -> None:
    """Store how it stands, the end of its date and the next day its standing changes by itself.

    A search for what wants attention then finds only what is due.
    """
    _store(container, life_on(container, rests), today)


def settle_all_dates(session: Session, boxes: Sequence[tuple[Container, Material]], today: date) -> None:
    """The same for many containers, which the caller has locked."""
    for (container, _), life in zip(boxes, lives_of(session, boxes), strict=True):
        _store(container, life, today)


@dataclass(frozen=True)
class ToSettle:
    """Containers with their checks, in the order of their numbers."""

    rows: list[StoodRow]
    checks: dict[int, tuple[ConditionCheck, ...]]


def containers_to_settle(session: Session, material_ids: Sequence[int]) -> ToSettle:
    """Every container of these materials that is not gone, locked in the order of their numbers."""
    session.flush()
    query = (
        stood_query()
        .where(col(Container.material_id).in_(material_ids), col(Container.state) != ContainerState.GONE)
        .order_by(col(Container.id))
        .with_for_update(of=Container)
    )
    rows = stood_rows(session, query)
    return ToSettle(rows, checks_of_all(session, [row.id for row in rows]))


def standings_of_all(session: Session, boxes: ToSettle, today: date) -> list[Standing]:
    """How they stand on a day by the policies of now, in their order."""
    return [stored[0] for stored in _stored_of_all(session, boxes, today)]


def settle_them(session: Session, boxes: ToSettle, today: date) -> list[Standing]:
    """Store their dates anew, as `settle_dates` does, and say how each stands now.

    Rows whose dates stay as they are are not written.
    """
    found = _stored_of_all(session, boxes, today)
    numbers: set[int] = set()
    changed: list[dict[str, Any]] = []
    for row, stored in zip(boxes.rows, found, strict=True):
        if stored != (row.standing, row.in_date_until, row.next_alert_on):
            changed.append({"number": row.id} | dict(zip(_STORED, stored, strict=True)))
            numbers.add(row.id)
    if changed:
        session.connection().execute(_SETTLE, changed)
        _forget(session, numbers)
    return [stored[0] for stored in found]


def settle_dates_of_materials(session: Session, material_ids: Sequence[int], today: date) -> int:
    """After a change of what materials are (kind, key): settle every container of them anew.

    Returns how many there were.
    """
    boxes = containers_to_settle(session, material_ids)
    settle_them(session, boxes, today)
    return len(boxes.rows)


def _stored_of_all(session: Session, boxes: ToSettle, today: date) -> list[Stored]:
    """Worked out once for all that have the same dates, checks and policy."""
    policies = policies_of_all(session) if boxes.rows else PoliciesInForce(())
    formers = formers_among(session) if boxes.rows else {}
    known: dict[tuple[Any, ...], Stored] = {}
    found: list[Stored] = []
    for row in boxes.rows:
        policy = policies.of(row.material_id, row.known_key, row.kind)
        made = boxes.checks.get(row.id, ())
        former = formers.get(row.material_id)
        key = (row[_DATES], row.state, id(policy), made, former)
        stored = known.get(key)
        if stored is None:
            stored = known[key] = _stored(row.state, life_from(row, policy, made, former), today)
        found.append(stored)
    return found


_DATES: Final = slice(StoodRow._fields.index("packed_on"), StoodRow._fields.index("inherited_gap") + 1)
_STORED: Final = ("standing", "in_date_until", "next_alert_on")
_SETTLE: Final = (
    update(Container)
    .where(col(Container.id) == bindparam("number"))
    .values({name: bindparam(name) for name in _STORED})
)


def _forget(session: Session, numbers: set[int]) -> None:
    """Rows written past the session's objects are read anew by whoever holds one."""
    for held in list(session.identity_map.values()):
        if isinstance(held, Container) and held.id in numbers:
            session.expire(held, _STORED)


def _store(container: Container, life: LifeFacts, today: date) -> None:
    stored = _stored(container.state, life, today)
    container.standing, container.in_date_until, container.next_alert_on = stored


def _stored(state: ContainerState, life: LifeFacts, today: date) -> Stored:
    """What is kept with a container: its standing, the end of its date, the next day the standing changes."""
    ageing = judged(life, today)
    changes = _changes(life) if state in (ContainerState.SEALED, ContainerState.OPEN) else ()
    return ageing.standing, ageing.in_date_until, next((day for day in changes if day > today), None)


def overdue_to_settle(session: Session, today: date) -> list[tuple[Container, Material]]:
    """The containers whose standing has changed by itself since it was stored, locked, by their number."""
    due = col(Container.next_alert_on) <= today
    # The numbers first, and without an order: to keep one, SQLite would go through the whole table.
    numbers = sorted(number for number in session.exec(select(Container.id).where(due)) if number is not None)
    found: list[tuple[Container, Material]] = []
    for begin in range(0, len(numbers), AT_ONCE):
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(due, col(Container.id).in_(numbers[begin : begin + AT_ONCE]))
            .order_by(col(Container.id))
            .with_for_update(of=Container)
        ).all()
        found += [(box, material) for box, material in rows]
    return found
