"""Where things stand: cabinets, rooms (control areas, with barriers), storeys, the building; what adds up.

Doors: core/storage_limits.py, core/storage_rows.py, web/api/storage_answers.py,
web/api/storage_question.py.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from service.core.storage_items import Counted, amount_of
from service.core.storage_rules import MATERIAL_CLASSES, Measure, RuleSet, Scope, Use, UseGroup


class PlaceKind(StrEnum):
    """What the question is about; a room is one control area, a building may be a fire area of one."""

    CABINET = "cabinet"
    ROOM = "room"
    STOREY = "storey"
    BUILDING = "building"


@dataclass(frozen=True)
class Place:
    """The place as told. ``None`` is not known, and what is not known allows nothing more.

    ``storey``: 1 at the ground, -1 the first basement. ``approved_cabinets`` False: ordinary cupboards, whose
    content stands outside a cabinet for the rules. ``barriers``: between all rooms and storeys stand the fire
    barriers that make control areas of them; False: there are none between the rooms of a storey.
    """

    kind: PlaceKind = PlaceKind.ROOM
    storey: int | None = None
    sprinklered: bool | None = None
    approved_cabinets: bool | None = None
    floor_sq_ft: Fraction | None = None
    ambient_max_c: Fraction | None = None
    cabinets_in_area: int | None = None
    use_group: UseGroup | None = None
    barriers: bool | None = None


@dataclass(frozen=True)
class Group:
    """What one row adds up over: the things in one container, cabinet, room, storey or building."""

    scope: Scope
    name: str
    storey: int | None
    things: tuple[Counted, ...]


@dataclass(frozen=True)
class Total:
    """What stands in one place in one category, in the unit of the table. Not ``sure``: it may be more."""

    rule_set: RuleSet
    scope: Scope
    name: str
    category: str
    unit: Measure
    by_use: Mapping[Use, Fraction]
    sure: bool

    @property
    def together(self) -> Fraction:
        return sum(self.by_use.values(), Fraction(0))


UNIT_OF: Final[Mapping[RuleSet, Measure]] = MappingProxyType({
    RuleSet.OSHA: Measure.GALLON,
    RuleSet.CONSTRUCTION: Measure.GALLON,
    RuleSet.IFC: Measure.GALLON,
    RuleSet.HSE: Measure.LITRE,
    RuleSet.TRGS: Measure.KILOGRAM,
})  # fmt: skip
_SCOPES: Final = {
    PlaceKind.CABINET: (Scope.CONTAINER, Scope.CABINET),
    PlaceKind.ROOM: (Scope.CONTAINER, Scope.CABINET, Scope.ROOM, Scope.BUILDING),
    PlaceKind.STOREY: (Scope.CONTAINER, Scope.CABINET, Scope.ROOM, Scope.STOREY, Scope.BUILDING),
    PlaceKind.BUILDING: (Scope.CONTAINER, Scope.CABINET, Scope.ROOM, Scope.STOREY, Scope.BUILDING),
}


def unit_for(rule_set: RuleSet, category: str) -> Measure:
    """The unit a table counts a category in: pounds for the classes that are no liquids."""
    if rule_set is RuleSet.IFC and category in MATERIAL_CLASSES - {"corrosive"}:
        return Measure.POUND
    return UNIT_OF[rule_set]


def groups(place: Place, things: Sequence[Counted]) -> Iterator[Group]:
    """Every container, cabinet, room, storey and the building, as far as the question reaches.

    Things whose cabinet or room has no name stand in one and the same. Rooms of one name on
    two storeys are two.
    """
    for scope in _SCOPES[place.kind]:
        for (storey, name), inside in _sorted_in(scope, place, things).items():
            yield Group(scope, name, storey, tuple(inside))


def _sorted_in(
    scope: Scope, place: Place, things: Sequence[Counted]
) -> dict[tuple[int | None, str], list[Counted]]:
    found: dict[tuple[int | None, str], list[Counted]] = {}
    for number, one in enumerate(things, start=1):
        item = one.item
        storey = item.storey if item.storey is not None else place.storey
        if scope is Scope.CONTAINER:
            found[storey, f"{number}: {item.name}"] = [one]
        elif scope is Scope.CABINET:
            if item.in_cabinet:
                name = " / ".join(filter(None, (item.room, item.cabinet))) or "the cabinet"
                found.setdefault((storey, name), []).append(one)
        elif scope is Scope.ROOM:
            found.setdefault((storey, item.room or "the room"), []).append(one)
        elif scope is Scope.STOREY:
            found.setdefault(
                (storey, "storey not told" if storey is None else f"storey {storey}"), []
            ).append(one)
        else:
            found.setdefault((None, "the building"), []).append(one)
    return found


def totals(rule_set: RuleSet, place: Place, things: Sequence[Counted]) -> list[Total]:
    """Sums by category in every place; what may be in several categories counts in each."""
    found = []
    for group in groups(place, things):
        if group.scope is Scope.CONTAINER:
            continue
        names = dict.fromkeys(name for one in group.things for name in sorted(one.categories))
        for category in names:
            inside = [one for one in group.things if category in one.categories]
            unit = unit_for(rule_set, category)
            by_use = dict.fromkeys(Use, Fraction(0))
            for one in inside:
                by_use[one.item.use] += amount_of(one.item, unit).value
            sure = all(one.sure and amount_of(one.item, unit).sure for one in inside)
            found.append(
                Total(rule_set, group.scope, group.name, category, unit, MappingProxyType(by_use), sure)
            )
    return found
