"""One row of a storage table over one cabinet, room or building: what it allows there, and what counts in it.

Doors: core/storage_areas.py, core/storage_limits.py, web/api/storage_answers.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.core.storage_items import Counted, amount_of, counts_in, is_approved
from service.core.storage_places import Group, Place
from service.core.storage_rules import (
    LITRES_PER_GALLON,
    Effect,
    Force,
    Measure,
    Scope,
    StorageRow,
    StorageTables,
    Use,
    Vessel,
    Where,
)


@dataclass(frozen=True)
class Allowed:
    """What a row allows here. ``limit`` ``None``: no limit (``unlimited``) or not known. ``why``: "
    "footnotes used."""

    limit: Fraction | None
    unlimited: bool
    sure: bool
    why: tuple[str, ...]


@dataclass(frozen=True)
class JudgedRow:
    """A row and what was counted against it. ``met`` ``None``: not known. ``sure``: all of it was told.

    ``as_one``: over rooms taken as one control area, for nobody said that barriers part them.
    """

    row: StorageRow
    group: Group
    allowed: Allowed
    counted: Fraction
    sure: bool
    met: bool | None
    names: tuple[str, ...]
    as_one: bool = False

    @property
    def over_by(self) -> Fraction:
        """By how much it is over; 0 where it is not."""
        limit = self.allowed.limit
        return Fraction(0) if limit is None else max(Fraction(0), self.counted - limit)

    @property
    def share(self) -> Fraction | None:
        """The share of the limit that is taken up; ``None`` without a limit or with none allowed."""
        return self.counted / self.allowed.limit if self.allowed.limit else None

    @property
    def binding(self) -> bool:
        """Whether it is a limit, and no mere level from which a permit is asked."""
        return self.row.force is not Force.LEVEL


def judge_row(tables: StorageTables, row: StorageRow, place: Place, group: Group) -> Iterator[JudgedRow]:
    """The row over one group; nothing where it counts nothing there."""
    if row.unit is Measure.CONTROL_AREAS:
        yield from _control_areas(tables, row, place, group)
        return
    drawn = any(one.categories & row.categories for one in group.things)
    inside = [one for one in group.things if counts_in(row, one, drawn, place.approved_cabinets)]
    if not inside:
        return
    allowed = allowed_by(tables, row, place, group, inside)
    if group.scope is Scope.CONTAINER:
        yield _container(row, group, allowed, inside[0])
        return
    amounts = [amount_of(one.item, row.unit) for one in inside]
    sure = all(one.sure for one in inside) and all(one.sure for one in amounts)
    if row.where is Where.OUTSIDE:
        told = place.approved_cabinets
        sure = sure and all(
            not one.item.in_cabinet or is_approved(one.item, told) is not None for one in group.things
        )
    counted = sum((one.value for one in amounts), Fraction(0))
    names = tuple(one.item.name for one in inside)
    yield JudgedRow(row, group, allowed, counted, sure, _met(row, allowed, counted, sure), names)


def _met(row: StorageRow, allowed: Allowed, counted: Fraction, sure: bool) -> bool | None:
    """Over is over, whatever else is missing; within needs everything known and a row that was read."""
    if allowed.limit is not None and counted > allowed.limit:
        return False
    if not sure or not allowed.sure or row.from_memory:
        return None
    return True


def _container(row: StorageRow, group: Group, allowed: Allowed, one: Counted) -> JudgedRow:
    """The largest single container goes by what it can hold; of an unknown kind it is never known "
    "to be within."""
    item = one.item
    litres = item.capacity_l
    sure = one.sure and litres is not None
    size = amount_of(item, row.unit).value if litres is None else litres / LITRES_PER_GALLON
    met = _met(row, allowed, size, sure)
    if item.vessel is None and row.vessels != frozenset(Vessel):
        met = None
    return JudgedRow(row, group, allowed, size, sure, met, (item.name,))


def count_cabinets(row: StorageRow, place: Place, things: Sequence[Counted]) -> Iterator[JudgedRow]:
    """How many cabinets stand in the storage area."""
    named = {(one.item.room, one.item.cabinet) for one in things if one.item.in_cabinet}
    told = place.cabinets_in_area
    counted = Fraction(max(told or 0, len(named)))
    allowed = Allowed(row.limit, False, True, ())
    group = Group(Scope.AREA, "the storage area", place.storey, ())
    yield JudgedRow(
        row, group, allowed, counted, told is not None, _met(row, allowed, counted, told is not None), ()
    )


def _control_areas(
    tables: StorageTables, row: StorageRow, place: Place, group: Group
) -> Iterator[JudgedRow]:
    """How many rooms of a storey hold what the table counts; without barriers they are one area."""
    rooms = {"" if place.barriers is False else one.item.room for one in group.things if one.categories}
    if not rooms:
        return
    share = None if group.storey is None else tables.share(row.storey_table, group.storey)
    most = None if share is None or share.control_areas is None else Fraction(share.control_areas)
    allowed = Allowed(most, False, most is not None, ())
    counted = Fraction(len(rooms))
    yield JudgedRow(row, group, allowed, counted, True, _met(row, allowed, counted, True), ())


def allowed_by(
    tables: StorageTables, row: StorageRow, place: Place, group: Group, inside: Sequence[Counted]
) -> Allowed:
    """The figure of a row with its footnotes and the share of the storey.

    Twice as much for cabinets only where all that is stored stands in approved ones and what is in use keeps
    within the plain figure. What is not told allows nothing more.
    """
    why: list[str] = []
    limit, unlimited = _by_footnotes(row, place, inside, why)
    storey = group.storey
    if row.per_sq_ft is not None:
        if place.floor_sq_ft is None:
            return Allowed(None, False, False, ("the floor area is not known",))
        limit = limit * place.floor_sq_ft / row.per_sq_ft
        why.append("by the floor area")
    if not row.storey_table:
        return Allowed(None if unlimited else limit, unlimited, True, tuple(why))
    if storey is None:
        why.append("the storey is not known; this is the figure for the storey at the ground")
        return Allowed(None if unlimited else limit, unlimited, False, tuple(why))
    if storey < 0 and row.basement_sprinklered and place.sprinklered is not True:
        return Allowed(Fraction(0), False, True, (*why, "below ground only with sprinklers (IFC 5704.3.5.1)"))
    if storey < 0 and row.basement_limit is not None and row.basement_limit < limit:
        limit = row.basement_limit
        why.append("below ground no more than the figure for open use (IFC 5704.3.5.1)")
    share = tables.share(row.storey_table, storey)
    if share is None:
        return Allowed(None, False, False, (*why, f"no figure is held for storey {storey}"))
    if share.percent == 0:
        return Allowed(Fraction(0), False, True, (*why, f"not allowed on storey {storey} ({share.citation})"))
    if share.percent != 100:
        why.append(f"{float(share.percent):g} % on storey {storey} ({share.citation})")
    return Allowed(None if unlimited else limit * share.percent / 100, unlimited, True, tuple(why))


def _by_footnotes(
    row: StorageRow, place: Place, inside: Sequence[Counted], why: list[str]
) -> tuple[Fraction, bool]:
    limit = row.limit
    sprinklered = place.sprinklered is True
    for one in row.footnotes:
        if one.effect is Effect.ONLY_SPRINKLERED and not sprinklered:
            why.append(f"note {one.mark}: only with sprinklers")
            return Fraction(0), False
        if one.effect is Effect.UNLIMITED_SPRINKLERED and sprinklered:
            why.append(f"note {one.mark}: unlimited with sprinklers")
            return limit, True
        if one.effect is Effect.DOUBLE_SPRINKLERED and sprinklered:
            limit *= 2
            why.append(f"note {one.mark}: doubled by sprinklers")
    used = sum(
        (amount_of(one.item, row.unit).value for one in inside if one.item.use is not Use.STORAGE),
        Fraction(0),
    )
    stored = [one.item for one in inside if one.item.use is Use.STORAGE or not one.item.use_sure]
    if (
        row.has(Effect.DOUBLE_CABINET)
        and stored
        and all(item.in_cabinet and is_approved(item, place.approved_cabinets) is True for item in stored)
        and used <= limit
    ):
        limit *= 2
        why.append("note e: doubled by approved cabinets")
    return limit, False
