"""Reading the store for its storage tables: containers alike as one line, places with their facts."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from sqlalchemy import bindparam, case, func, literal_column, null
from sqlalchemy import select as columns_of
from sqlmodel import Session, col, select

from service.core.containers import AmountKnown, ContainerState, EventKind
from service.core.materials import Unknown
from service.core.storage_ladders import Temperature
from service.core.storage_rules import UseGroup
from service.core.store_tree import Spot
from service.records.materials import Material
from service.records.places import Place
from service.records.rooms import RoomAir
from service.records.stock import Container, ContainerEvent, Movement
from service.records.store_in_use import last_places
from service.records.store_storage import MaterialStorage, PlaceStorage

SQ_FT_PER_M2: Final = 1 / Fraction("0.3048") ** 2
_YES_NO: Final = {Unknown.YES: True, Unknown.NO: False, Unknown.NOT_KNOWN: None}


@dataclass(frozen=True)
class Alike:
    """So many containers alike in one place. ``each``: smallest units in each where ``count`` is more than
    1 and known; ``together``: in all of them. ``first``: the number
    of one of them, ``first_code`` the code of one. ``handed``: it was handed out, and is told alone, at the
    place it was last at.
    """

    material_id: int
    place_id: int | None
    state: ContainerState
    capacity_ul: int | None
    vessel: str | None
    count: int
    each: int | None
    together: int | None
    first: int
    first_code: str
    made: bool
    handed: bool = False


def places_as_spots(session: Session) -> list[Spot]:
    """Every place with what the tables ask of it, retired ones too: something may stand there yet."""
    facts = {row.place_id: row for row in session.exec(select(PlaceStorage))}
    warmth = {row.place_id: row.temperature_tenths for row in session.exec(select(RoomAir))}
    places = session.exec(select(Place).order_by(col(Place.id)))
    return [_spot(place, facts.get(place.id or 0), warmth.get(place.id or 0)) for place in places]


def _spot(place: Place, facts: PlaceStorage | None, tenths: int | None) -> Spot:
    at_work = None if tenths is None else Fraction(tenths, 10)
    plain = Spot(
        place.id or 0, place.code, place.name, place.kind.value, place.parent_id, place.outdoors,
        at_work_c=at_work,
    )  # fmt: skip
    if facts is None:
        return plain
    return Spot(
        plain.id,
        plain.code,
        plain.name,
        plain.kind,
        plain.parent,
        plain.outdoors,
        storey=facts.storey,
        sprinklered=_YES_NO[facts.sprinklered],
        approved=_YES_NO[facts.approved],
        floor_sq_ft=floor_sq_ft(facts.floor_area, facts.floor_unit),
        ambient_max_c=_warmest(facts, tenths),
        use_group=UseGroup(facts.use_group) if facts.use_group else None,
        at_work_c=at_work,
    )


def _warmest(facts: PlaceStorage, tenths: int | None) -> Fraction | None:
    """The highest told; how warm it is at work (the page of its air) can only raise it."""
    if facts.ambient_max is None:
        return None
    told = Temperature(Fraction(facts.ambient_max), facts.ambient_unit).in_unit("C")
    return told if tenths is None else max(told, Fraction(tenths, 10))


def floor_sq_ft(area: Decimal | None, unit: str) -> Fraction | None:
    """A floor area in square feet, exactly."""
    if area is None:
        return None
    return Fraction(area) * (SQ_FT_PER_M2 if unit == "m2" else 1)


@dataclass(frozen=True)
class Otherwise:
    """The store as it would be: ``only`` some containers, ``without`` some, some ``moved`` elsewhere; and
    with the pots of ``finished`` batches empty.
    """

    only: frozenset[int] | None = None
    without: frozenset[int] = frozenset()
    moved: Mapping[int, int | None] = field(default_factory=dict)
    finished: frozenset[int] = frozenset()


AS_IT_IS: Final = Otherwise()


def containers_alike(session: Session, otherwise: Otherwise = AS_IT_IS) -> Iterator[Alike]:
    """All containers that are not gone, so that full packs and empty ones alike are one line.

    What was made here stays apart, for each jar may hold another mix. An amount nobody knows stays None.
    What was handed out counts at the place it was last at, each for itself.
    """
    last = last_places(session)
    here = _place({**last, **otherwise.moved})
    out = sorted(last.keys() - otherwise.moved.keys())
    # Written out: a list may be longer than what a database lets be bound.
    numbers: Any = bindparam("out", out, expanding=True, literal_execute=True)
    handed = case((col(Container.id).in_(numbers), col(Container.id)), else_=None) if out else null()
    known = col(Container.balance_known) != AmountKnown.NOT_KNOWN
    sealed = case((col(Container.state) == ContainerState.SEALED, col(Container.balance)), else_=None)
    jar = case((col(Container.made_by_batch_id).is_not(None), col(Container.id)), else_=None)
    asked = (
        columns_of(
            col(Container.material_id), here, col(Container.state),
            col(Container.capacity_ul), col(Container.vessel), sealed, known,
            func.count(), func.sum(col(Container.balance)), func.min(col(Container.id)),
            func.min(col(Container.code)), jar, handed,
        )
        .where(col(Container.state) != ContainerState.GONE)
        .group_by(
            col(Container.material_id), here, col(Container.state),
            col(Container.capacity_ul), col(Container.vessel), sealed, known, jar,
            *([handed] if out else []),
        )
    )  # fmt: skip
    if otherwise.only is not None:
        asked = asked.where(col(Container.id).in_(sorted(otherwise.only)))
    if otherwise.without:
        asked = asked.where(col(Container.id).not_in(sorted(otherwise.without)))
    for row in session.execute(asked):
        material, place, state, size, vessel, each, sure, many, total, first, code, made, away = row
        told = None if not sure or total is None else int(total)
        yield Alike(
            material, place, state, size, vessel, many, each if sure else None, told, first, code,
            made is not None, away is not None,
        )  # fmt: skip


def _place(moved: Mapping[int, int | None]) -> Any:
    """Where each container stands, or would."""
    if not moved:
        return col(Container.place_id)
    # Written out, not bound: the same words must stand again among those it is grouped by.
    return case(
        *((col(Container.id) == literal_column(str(int(box))), literal_column(_number(to)))
          for box, to in sorted(moved.items())),
        else_=col(Container.place_id),
    )  # fmt: skip


def _number(place_id: int | None) -> str:
    return "CAST(NULL AS INTEGER)" if place_id is None else str(int(place_id))


def free_of_vapour(session: Session) -> frozenset[int]:
    """Empty containers of which it was said that no vapour is left, after the last thing that was in them."""
    empty = columns_of(col(Container.id)).where(col(Container.state) == ContainerState.EMPTY)
    latest: dict[int, dict[EventKind, int]] = {}
    kinds = (EventKind.VAPOUR_FREE, EventKind.EMPTIED)
    events = (
        columns_of(
            col(ContainerEvent.container_id), col(ContainerEvent.kind), func.max(col(ContainerEvent.id))
        )
        .where(col(ContainerEvent.kind).in_(kinds), col(ContainerEvent.container_id).in_(empty))
        .group_by(col(ContainerEvent.container_id), col(ContainerEvent.kind))
    )
    for container, kind, number in session.execute(events):
        latest.setdefault(container, {})[kind] = number
    said = {
        box: kinds_of[EventKind.VAPOUR_FREE]
        for box, kinds_of in latest.items()
        if EventKind.VAPOUR_FREE in kinds_of
        and kinds_of[EventKind.VAPOUR_FREE] > kinds_of.get(EventKind.EMPTIED, 0)
    }
    if not said:
        return frozenset()
    moved = (
        columns_of(col(Movement.container_id), func.max(col(Movement.posting_id)))
        .where(col(Movement.container_id).in_(list(said)))
        .group_by(col(Movement.container_id))
    )
    after: dict[int, int] = {row[0]: row[1] for row in session.execute(moved)}
    events_posted = columns_of(col(ContainerEvent.id), col(ContainerEvent.posting_id)).where(
        col(ContainerEvent.id).in_(list(said.values()))
    )
    posted: dict[int, int] = {row[0]: row[1] for row in session.execute(events_posted)}
    return frozenset(box for box, event in said.items() if posted[event] >= after.get(box, 0))


def empties_alike(session: Session, line: Alike) -> list[tuple[int, str]]:
    """Number and code of the empty containers that a line stands for."""
    asked = columns_of(col(Container.id), col(Container.code)).where(
        col(Container.state) == ContainerState.EMPTY,
        col(Container.material_id) == line.material_id,
        col(Container.place_id).is_not_distinct_from(line.place_id),
        col(Container.capacity_ul).is_not_distinct_from(line.capacity_ul),
        col(Container.vessel).is_not_distinct_from(line.vessel),
        col(Container.made_by_batch_id).is_(None),
    )
    return [(number, code) for number, code in session.execute(asked.order_by(col(Container.id)))]


def most_held(session: Session) -> dict[int, int]:
    """Of each empty container whose size nobody knows: the most the book ever saw in it, smallest units."""
    empty = columns_of(col(Container.id)).where(
        col(Container.state) == ContainerState.EMPTY, col(Container.capacity_ul).is_(None)
    )
    asked = (
        columns_of(col(Movement.container_id), func.max(col(Movement.balance_after)))
        .where(col(Movement.container_id).in_(empty), col(Movement.balance_after).is_not(None))
        .group_by(col(Movement.container_id))
    )
    return {box: int(most) for box, most in session.execute(asked)}


def materials_for_storage(
    session: Session, numbers: Collection[int]
) -> dict[int, tuple[Material, MaterialStorage | None]]:
    """Materials with what is written down for the tables."""
    found: dict[int, tuple[Material, MaterialStorage | None]] = {}
    for material_id in _some(numbers):
        asked = (
            select(Material, MaterialStorage)
            .outerjoin(MaterialStorage, col(MaterialStorage.material_id) == col(Material.id))
            .where(col(Material.id).in_(material_id))
        )
        found |= {material.id or 0: (material, facts) for material, facts in session.exec(asked)}
    return found


def _some(numbers: Collection[int]) -> Iterator[list[int]]:
    held = sorted(set(numbers))
    for start in range(0, len(held), 500):
        yield held[start : start + 500]
