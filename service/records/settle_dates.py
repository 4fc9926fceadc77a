"""Storing how containers stand: a search for what wants attention then finds only what is due.

A change of a policy writes only the containers whose dates it moves.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, Final, TypeVar

from sqlalchemy import bindparam, update
from sqlmodel import Session, col, select

from service.core.ageing import alert_dates
from service.core.ageing_policies import AgeingPolicy
from service.core.containers import ContainerState, Standing
from service.core.life_facts import ConditionCheck, LifeFacts
from service.records.ageing_queries import (
    PoliciesInForce,
    RestsOn,
    checks_of_all,
    judged,
    life_from,
    life_on,
    lives_of,
    policies_of_all,
    policy_of,
)
from service.records.kept_statements import batched, run
from service.records.materials import Material
from service.records.peroxide_formers import formers_among
from service.records.stock import Container
from service.records.stood_rows import StoodRow, stood_query, stood_rows

Answer = TypeVar("Answer")
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
    return _of_each_life(session, boxes, lambda _, life: judged(life, today).standing)


def settle_them(session: Session, boxes: ToSettle, today: date) -> list[Standing]:
    """Store their dates anew, as `settle_dates` does, and say how each stands now.

    Rows whose dates stay as they are are not written.
    """
    found = _of_each_life(session, boxes, lambda state, life: _stored(state, life, today))
    changed: dict[Stored, list[int]] = {}
    for row, stored in zip(boxes.rows, found, strict=True):
        if stored != (row.standing, row.in_date_until, row.next_alert_on):
            changed.setdefault(stored, []).append(row.id)
    _write(session, changed)
    return [stored[0] for stored in found]


def _write(session: Session, changed: dict[Stored, list[int]]) -> None:
    """One statement for many that come to the same; those that come to something of their own in one go."""
    alone: list[dict[str, Any]] = []
    for stored, numbers in changed.items():
        values = dict(zip(_STORED, stored, strict=True))
        if len(numbers) < _FEW:
            alone += [{"number": number} | values for number in numbers]
            continue
        for some in batched(numbers):
            run(session, _SETTLE_MANY, numbers=some, **values)
    if alone:
        session.connection().execute(_SETTLE, alone)
    _forget(session, {number for numbers in changed.values() for number in numbers})


def settle_dates_of_materials(session: Session, material_ids: Sequence[int], today: date) -> int:
    """After a change of what materials are (kind, key): settle every container of them anew.

    Returns how many there were.
    """
    boxes = containers_to_settle(session, material_ids)
    settle_them(session, boxes, today)
    return len(boxes.rows)


def _of_each_life(
    session: Session, boxes: ToSettle, answer: Callable[[ContainerState, LifeFacts], Answer]
) -> list[Answer]:
    """An answer for each container, worked out once for all that have the same dates, checks and policy."""
    materials = {row.material_id for row in boxes.rows}
    policies = policies_of_all(session, materials) if boxes.rows else PoliciesInForce(())
    formers = formers_among(session, materials)
    read: dict[int, AgeingPolicy | None] = {}
    known: dict[tuple[Any, ...], Answer] = {}
    found: list[Answer] = []
    for row in boxes.rows:
        policy = policies.of(row.material_id, row.known_key, row.kind)
        if id(policy) not in read:
            read[id(policy)] = policy_of(policy) if policy is not None else None
        made = boxes.checks.get(row.id, ())
        former = formers.get(row.material_id)
        key = (row[_DATES], row.state, id(policy), made, former)
        if key not in known:
            life = life_from(row, read[id(policy)], made, former)
            known[key] = answer(row.state, life)
        found.append(known[key])
    return found


_DATES: Final = slice(StoodRow._fields.index("packed_on"), StoodRow._fields.index("inherited_gap") + 1)
_STORED: Final = ("standing", "in_date_until", "next_alert_on")
_ANEW: Final = update(Container).values({name: bindparam(name) for name in _STORED})
_SETTLE: Final = _ANEW.where(col(Container.id) == bindparam("number"))
_SETTLE_MANY: Final = _ANEW.where(col(Container.id).in_(bindparam("numbers", expanding=True)))
_FEW: Final = 4
"""From so many on a statement for all of them costs less than one for each."""


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
    numbers = [number for number in session.exec(select(Container.id).where(due)) if number is not None]
    found: list[tuple[Container, Material]] = []
    for some in batched(numbers):
        rows = session.exec(
            select(Container, Material)
            .join(Material, col(Material.id) == col(Container.material_id))
            .where(due, col(Container.id).in_(some))
            .order_by(col(Container.id))
            .with_for_update(of=Container)
        ).all()
        found += [(box, material) for box, material in rows]
    return found
