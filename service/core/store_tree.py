"""Where a container stands for the storage tables: its cabinet, room, storey and building in the place tree.

Doors: core/store_limits.py, actions/judge_store.py, records/store_storage.py.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from service.core.storage_places import Place, PlaceKind
from service.core.storage_rules import UseGroup

NOWHERE: Final = 0
"""The number of what has no room, or no building, in the book."""
_DEPTH: Final = 12
_AWAY: Final = {"vehicle": "in a vehicle", "customer-site": "at a customer's"}
_OPEN_AIR: Final = "outdoors"
_IN_USE: Final = frozenset({"bench", "kit"})


@dataclass(frozen=True)
class Spot:
    """A place of the book. ``None`` is not known, and what is not known allows nothing more.

    ``kind``: the word of the book (building, room, cabinet, bench ...). ``approved``: an approved cabinet
    for flammable liquids. ``sprinklered``: the whole building, to the standard. ``storey``: 1 at the ground,
    -1 the first basement. ``ambient_max_c``: the highest temperature it has in a year. ``at_work_c``: how
    warm it is while people work there.
    """

    id: int
    code: str
    name: str
    kind: str
    parent: int | None = None
    outdoors: bool = False
    storey: int | None = None
    sprinklered: bool | None = None
    approved: bool | None = None
    floor_sq_ft: Fraction | None = None
    ambient_max_c: Fraction | None = None
    use_group: UseGroup | None = None
    at_work_c: Fraction | None = None


@dataclass(frozen=True)
class StandsAt:
    """Where something stands. ``aside``: why no table for rooms is asked; empty in the house.

    ``at_bench``: at a bench or in a kit, where it is in use. ``at_work_c``: how warm it is there at work.
    """

    building: int
    room: int
    cabinet: Spot | None
    storey: int | None
    at_bench: bool
    aside: str
    at_work_c: Fraction | None = None


@dataclass
class StoreTree:
    """The places of the book by number. Built once for each look."""

    spots: dict[int, Spot]
    _known: dict[int | None, StandsAt] = field(default_factory=dict)
    _twice: Counter[str] = field(default_factory=Counter)

    @staticmethod
    def of(spots: Iterable[Spot]) -> StoreTree:
        """The tree; names that two places share are told apart by their codes."""
        held = {one.id: one for one in spots}
        return StoreTree(held, {}, Counter(one.name.casefold() for one in held.values()))

    def chain(self, place_id: int | None) -> list[Spot]:
        """A place and what it stands in, smallest first."""
        found: list[Spot] = []
        while place_id in self.spots and len(found) < _DEPTH:
            assert place_id is not None
            spot = self.spots[place_id]
            found.append(spot)
            place_id = spot.parent
        return found

    def name(self, number: int, otherwise: str) -> str:
        """A place's name, with its code where another place is called the same."""
        spot = self.spots.get(number)
        if spot is None:
            return otherwise
        return f"{spot.name} ({spot.code})" if self._twice[spot.name.casefold()] > 1 else spot.name

    def stands(self, place_id: int | None) -> StandsAt:
        """Where something in this place stands; no place, or none of the book: nobody knows the room.

        >>> spots = [Spot(1, "A", "Store", "room", storey=1), Spot(2, "B", "Locker", "cabinet", parent=1)]
        >>> at = StoreTree.of(spots).stands(2)
        >>> at.room, at.storey, at.cabinet.name if at.cabinet else None
        (1, 1, 'Locker')
        """
        if place_id not in self._known:
            self._known[place_id] = self._stands(self.chain(place_id))
        return self._known[place_id]

    def _stands(self, chain: Sequence[Spot]) -> StandsAt:
        room = next((one.id for one in chain if one.kind == "room"), NOWHERE)
        building = next((one.id for one in chain if one.kind == "building"), self._only_building())
        cabinet = next((one for one in chain if one.kind == "cabinet"), None)
        storey = next((one.storey for one in chain if one.storey is not None), None)
        away = next((_AWAY[one.kind] for one in chain if one.kind in _AWAY), "")
        if not away and any(one.outdoors for one in chain):
            away = _OPEN_AIR
        bench = any(one.kind in _IN_USE for one in chain)
        warm = next((one.at_work_c for one in chain if one.at_work_c is not None), None)
        return StandsAt(building, room, cabinet, storey, bench, away, warm)

    def _only_building(self) -> int:
        """The one building there is; with several, what names none is in none of them."""
        found = [one.id for one in self.spots.values() if one.kind == "building"]
        return found[0] if len(found) == 1 else NOWHERE

    def cabinets_in(self, number: int) -> int:
        """How many cabinets stand in a room or building, as the book has it."""
        return sum(
            one.kind == "cabinet" and any(up.id == number for up in self.chain(one.id))
            for one in self.spots.values()
        )

    def facts(self, number: int, kind: PlaceKind) -> Place:
        """What the tables ask of a room or building.

        Sprinklers count only where nothing it stands in says no; the other facts are the nearest told.
        """
        chain = self.chain(number)
        if not chain and number == NOWHERE:
            chain = self.chain(self._only_building() or None)
        told = [one.sprinklered for one in chain if one.sprinklered is not None]
        return Place(
            kind=kind,
            storey=next((one.storey for one in chain if one.storey is not None), None),
            sprinklered=all(told) if told else None,
            floor_sq_ft=chain[0].floor_sq_ft if chain and chain[0].id == number else None,
            ambient_max_c=next((one.ambient_max_c for one in chain if one.ambient_max_c is not None), None),
            cabinets_in_area=self.cabinets_in(number) if number != NOWHERE else None,
            use_group=next((one.use_group for one in chain if one.use_group is not None), None),
        )
