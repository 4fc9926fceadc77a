"""Looking through the store and the ledger: bounded lists with filters, each with its total."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, func, not_
from sqlmodel import Session, col, or_, select

from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.core.ledger import MovementKind
from service.core.materials import MaterialKind
from service.core.shelf_codes import normalise
from service.core.written_signs import ways_written
from service.records.ageing_queries import lives_of, lives_of_rows
from service.records.materials import Material
from service.records.people import Person
from service.records.places import Place
from service.records.stock import Container, Movement
from service.records.stood_rows import stood_query, stood_rows

MOST_JUDGED: Final = 5000
"""So many containers at most are judged one by one when the list is narrowed to a standing."""
IN_THE_STORE: Final = (ContainerState.SEALED, ContainerState.OPEN, ContainerState.EMPTY)


@dataclass(frozen=True)
class StoreWanted:
    """What the list is narrowed to; None and empty narrow nothing. ``text``: name, maker, lot or code."""

    text: str = ""
    kind: MaterialKind | None = None
    material_id: int | None = None
    place_id: int | None = None
    standing: Standing | None = None
    states: tuple[ContainerState, ...] = IN_THE_STORE


@dataclass(frozen=True)
class StoreRow:
    """One container of the list, judged on the day asked for."""

    container: Container
    material: Material
    place: Place | None
    standing: Standing
    in_date_until: date | None


def find_containers(
    session: Session, wanted: StoreWanted, today: date, offset: int, limit: int
) -> tuple[list[StoreRow], int]:
    """Containers by material and code, from ``offset``, at most ``limit``; and how many there are in all."""
    conditions = _conditions(session, wanted)
    if wanted.standing is not None:
        conditions.append(_stands(session, conditions, wanted.standing, today))
    in_order = (func.lower(col(Material.name)), col(Material.id))
    of_material = col(Material.id) == col(Container.material_id)
    # How many of each material first, which an index answers: to put every container of a large store in
    # order for a page of sixty takes many times as long.
    each = (
        select(Material.id, func.count())
        .join(Container, of_material)
        .where(*conditions)
        .group_by(col(Material.id))
        .order_by(*in_order)
    )
    before, total, shown = 0, 0, []
    for number, count in session.exec(each):
        if total + count <= offset:
            before += count
        elif total < offset + limit:
            shown.append(number)
        total += count
    query = (
        select(Container, Material, Place)
        .join(Material, of_material)
        .outerjoin(Place, col(Place.id) == col(Container.place_id))
        .where(*conditions, col(Container.material_id).in_(shown))
        .order_by(*in_order, col(Container.code))
        .offset(offset - before)
        .limit(limit)
    )
    return (_judged(session, query, today) if shown else []), total


def stock_in_parts(session: Session, today: date, size: int) -> Iterator[list[StoreRow]]:
    """Everything in the store by number, ``size`` containers at a time, judged on the day asked for."""
    after = 0
    while True:
        query = (
            select(Container, Material, Place)
            .join(Material, col(Material.id) == col(Container.material_id))
            .outerjoin(Place, col(Place.id) == col(Container.place_id))
            .where(col(Container.state).in_(IN_THE_STORE), col(Container.id) > after)
            .order_by(col(Container.id))
            .limit(size)
        )
        rows = _judged(session, query, today)
        if not rows:
            return
        yield rows
        after = rows[-1].container.id or 0
        session.expunge_all()  # else a large store stays in memory whole


def _stands(
    session: Session, conditions: Sequence[ColumnElement[bool]], standing: Standing, today: date
) -> ColumnElement[bool]:
    """Those that stand so today: as stored while that holds, and as judged now where it does not.

    What is stored holds for a sealed or open container up to the day on which it changes by itself.
    """
    holds = and_(
        col(Container.state).in_([ContainerState.SEALED, ContainerState.OPEN]),
        or_(col(Container.next_alert_on).is_(None), col(Container.next_alert_on) > today),
    )
    rest = stood_rows(session, stood_query().where(*conditions, not_(holds)).limit(MOST_JUDGED))
    lives = lives_of_rows(session, rest)
    so = [row.id for row, life in zip(rest, lives, strict=True) if judge(life, today).standing is standing]
    return or_(and_(holds, col(Container.standing) == standing), col(Container.id).in_(so))


def _conditions(session: Session, wanted: StoreWanted) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = [col(Container.state).in_(wanted.states)]
    code = normalise(wanted.text)
    if code is not None:
        found.append(col(Container.code) == code)
    elif wanted.text.strip():
        # autoescape: a per cent sign typed is a per cent sign meant.
        for word in wanted.text.split()[:8]:
            parts = (Material.name, Material.maker, Material.ci_name, Container.lot, Container.code)
            ways = [(part, way) for part in parts for way in ways_written(word)]
            found.append(or_(*(func.lower(col(p)).contains(way, autoescape=True) for p, way in ways)))
    if wanted.kind is not None:
        found.append(col(Material.kind) == wanted.kind)
    if wanted.material_id is not None:
        found.append(col(Container.material_id) == wanted.material_id)
    if wanted.place_id is not None:
        found.append(col(Container.place_id).in_(places_within(session, wanted.place_id)))
    return found


def places_within(session: Session, place_id: int) -> set[int]:
    """A place and everything in it: a cabinet with its shelves."""
    children: dict[int, list[int]] = {}
    for number, parent in session.exec(select(Place.id, Place.parent_id)).all():
        if number is not None and parent is not None:
            children.setdefault(parent, []).append(number)
    found, waiting = {place_id}, [place_id]
    while waiting:
        for number in children.get(waiting.pop(), []):
            if number not in found:
                found.add(number)
                waiting.append(number)
    return found


def _judged(session: Session, query: Any, today: date) -> list[StoreRow]:
    rows: Sequence[tuple[Container, Material, Place | None]] = session.exec(query).all()
    lives = lives_of(session, [(box, material) for box, material, _ in rows])
    ageing = [judge(life, today) for life in lives]
    return [
        StoreRow(box, material, place, at.standing, at.in_date_until)
        for (box, material, place), at in zip(rows, ageing, strict=True)
    ]


@dataclass(frozen=True)
class LedgerWanted:
    """What the ledger is narrowed to; None narrows nothing. ``since`` and ``before`` are instants."""

    container_id: int | None = None
    material_id: int | None = None
    kind: MovementKind | None = None
    person_id: int | None = None
    job_id: int | None = None
    batch_id: int | None = None
    late: bool | None = None
    since: datetime | None = None
    before: datetime | None = None


@dataclass(frozen=True)
class LedgerRow:
    """One movement with the names that belong to it; ``reversed_by`` is the entry that took it back."""

    movement: Movement
    container: Container
    material: Material
    person: str
    reversed_by: int | None = field(default=None)


def find_movements(
    session: Session, wanted: LedgerWanted, offset: int, limit: int
) -> tuple[list[LedgerRow], int]:
    """Movements, the newest first, from ``offset``, at most ``limit``; and how many there are in all."""
    conditions = _ledger_conditions(wanted)
    rows = session.exec(
        select(Movement, Container, Material, Person.name)
        .join(Container, col(Container.id) == col(Movement.container_id))
        .join(Material, col(Material.id) == col(Container.material_id))
        .join(Person, col(Person.id) == col(Movement.person_id))
        .where(*conditions)
        .order_by(col(Movement.id).desc())
        .offset(offset)
        .limit(limit)
    ).all()
    ids = [movement.id for movement, _, _, _ in rows]
    undone = dict(
        session.exec(
            select(Movement.reverses_id, Movement.id).where(col(Movement.reverses_id).in_(ids))
        ).all()
    )
    count = select(func.count()).select_from(Movement).where(*conditions)
    if wanted.material_id is not None:  # else nothing of the container is asked
        count = count.join(Container, col(Container.id) == col(Movement.container_id))
    total = session.exec(count).one()
    found = [LedgerRow(m, box, material, name, undone.get(m.id)) for m, box, material, name in rows]
    return found, int(total)


def _ledger_conditions(wanted: LedgerWanted) -> list[ColumnElement[bool]]:
    pairs: list[tuple[Any, Any]] = [
        (Movement.container_id, wanted.container_id),
        (Container.material_id, wanted.material_id),
        (Movement.kind, wanted.kind),
        (Movement.person_id, wanted.person_id),
        (Movement.job_id, wanted.job_id),
        (Movement.batch_id, wanted.batch_id),
        (Movement.late, wanted.late),
    ]
    found: list[ColumnElement[bool]] = [col(column) == value for column, value in pairs if value is not None]
    if wanted.since is not None:
        found.append(col(Movement.happened_at) >= wanted.since)
    if wanted.before is not None:
        found.append(col(Movement.happened_at) < wanted.before)
    return found
