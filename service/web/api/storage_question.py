"""What is asked of ``POST /api/calc/storage``: places, containers, pairs, in the units of whoever asks."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field

from service.core.findings import Invalid
from service.core.material_facts import FlashMethod
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import NONE, Temperature, told_categories
from service.core.storage_pairs import Pair
from service.core.storage_places import Place, PlaceKind
from service.core.storage_rules import (
    MATERIAL_CLASSES,
    RuleSet,
    Use,
    UseGroup,
    Vessel,
)
from service.web.api.storage_measures import AreaIn, LengthIn, MassIn, TemperatureIn, VolumeIn
from service.web.api_model import ApiModel
from service.web.text_guard import sentence

MOST_ITEMS: Final = 200
MOST_PAIRS: Final = 100
_ALSO_CALLED: Final = {
    "osha": "osha-1910.106",
    "1910.106": "osha-1910.106",
    "osha-1926-152": "osha-1926.152",
    "1926.152": "osha-1926.152",
    "ifc": "ifc-2018",
    "hse": "hse-dsear",
    "uk": "hse-dsear",
    "trgs": "trgs-510",
    "de": "trgs-510",
}
_CATEGORIES: Final = {one.lower(): one for one in (*told_categories(), *MATERIAL_CLASSES)}


def _rule_set(value: Any) -> Any:
    if not isinstance(value, str) or len(value) > 40:
        return value
    low = value.strip().lower().replace("_", "-").replace(" ", "-")
    return _ALSO_CALLED.get(low, low)


def _category(value: Any) -> Any:
    if value is None:
        return None
    word = str(value)[:60].strip().lower().replace("_", "-").replace(" ", "-")
    for start in ("category-", "class-", "cat-"):
        word = word.removeprefix(start)
    if isinstance(value, bool) or not isinstance(value, str | int) or word not in _CATEGORIES:
        raise sentence(f"The categories known here: {', '.join(sorted(_CATEGORIES.values()))}.")
    return _CATEGORIES[word]


Share = Annotated[Decimal, Field(ge=Decimal("0.1"), le=1)]
Density = Annotated[Decimal, Field(gt=0, le=25)]
Name = Annotated[str, Field(max_length=120)]
Storey = Annotated[
    int, Field(ge=-50, le=200, description="1 is the storey at the ground, -1 the first basement")
]
Told = Annotated[RuleSet, BeforeValidator(_rule_set)]
Category = Annotated[
    Annotated[str, Field(max_length=60)] | None,
    BeforeValidator(_category),
    Field(description=f"as told by whoever knows it; {NONE}: no flammable liquid by 1910.106"),
]


def _place_kind(value: Any) -> Any:
    """A fire area is judged like a building, a control area like a room."""
    words = {"fire-area": "building", "control-area": "room", "floor": "storey", "story": "storey"}
    return words.get(_dashed(value), value) if isinstance(value, str) else value


def _use_group(value: Any) -> Any:
    """The letters of the code for the occupancies that have rows or notes here."""
    words = {"e": "school", "m": "mercantile", "lab": "laboratory", "b": "other", "f": "other", "s": "other"}
    return words.get(_dashed(value), value) if isinstance(value, str) else value


def _dashed(text: str) -> str:
    return text[:60].strip().lower().replace("_", "-").replace(" ", "-")


class PlaceIn(ApiModel):
    """Where it stands. What is left out is not known and allows nothing more."""

    kind: Annotated[
        PlaceKind,
        BeforeValidator(_place_kind),
        Field(description="a room is a control area if barriers make it one, a building a fire area"),
    ] = PlaceKind.ROOM
    storey: Storey | None = None
    sprinklered: Annotated[bool | None, Field(description="the whole building, to the standard")] = None
    approved_cabinets: Annotated[bool | None, Field(description="false: ordinary cupboards")] = None
    floor_area: AreaIn | None = None
    ambient_max_c: Annotated[
        Decimal | None, Field(ge=-60, le=60, description="highest temperature of the room")
    ] = None
    cabinets_in_area: Annotated[int | None, Field(ge=0, le=10_000)] = None
    use_group: Annotated[UseGroup | None, BeforeValidator(_use_group)] = None
    barriers: Annotated[
        bool | None,
        Field(
            description="fire barriers of IFC Table 5003.8.3.2 between all rooms and storeys; false: none "
            "between the rooms of a storey, so they are one control area"
        ),
    ] = None

    def known(self) -> Place:
        _no_storey_zero(self.storey, "place.storey")
        area = self.floor_area
        return Place(
            kind=self.kind,
            storey=self.storey,
            sprinklered=self.sprinklered,
            approved_cabinets=self.approved_cabinets,
            floor_sq_ft=area.square_feet() if area else None,
            ambient_max_c=None if self.ambient_max_c is None else Fraction(self.ambient_max_c),
            cabinets_in_area=self.cabinets_in_area,
            use_group=self.use_group,
            barriers=self.barriers,
        )


class ItemIn(ApiModel):
    """A container, or several alike told as one sum."""

    name: Name = ""
    category: Category = None
    flash_point: TemperatureIn | None = None
    flash_point_method: FlashMethod = FlashMethod.CLOSED_CUP
    calculation_allowed: Annotated[
        bool, Field(description="a calculated flash point may stand in place of a test (UN GHS 2.6.4.2)")
    ] = False
    no_flash_point: Annotated[bool, Field(description="examined, and it has none")] = False
    boiling_point: TemperatureIn | None = None
    part_flash_point: Annotated[
        TemperatureIn | None, Field(description="of its most flammable volatile part")
    ] = None
    part_boiling_point: TemperatureIn | None = None
    heated_to: TemperatureIn | None = None
    capacity: VolumeIn | None = None
    volume: VolumeIn | None = None
    mass: MassIn | None = None
    density_g_ml: Density | None = None
    container: Vessel | None = None
    use: Use = Use.STORAGE
    in_cabinet: Annotated[bool, Field(description="in a storage cabinet; left out: it stands outside")] = (
        False
    )
    cabinet: Name = ""
    room: Name = ""
    storey: Storey | None = None
    emptied: Annotated[bool, Field(description="counts as full until it is free of vapour")] = False
    vapour_free: bool = False
    maintenance: Annotated[bool, Field(description="kept for maintenance and equipment")] = False
    groups: Annotated[
        list[Name],
        Field(
            default_factory=list, max_length=20,
            description="what it is kept apart as (oxidizer); not known without a class as category",
        ),
    ]  # fmt: skip

    def known(self, number: int, place: Place) -> Stored:
        """The item as the rules know it. Raises Invalid, naming the field, for what cannot be."""
        name = self.name or f"item {number}"
        _no_storey_zero(self.storey, f"items.{number - 1}.storey")
        self._refuse(name, number)
        material_class = self.category if self.category in MATERIAL_CLASSES else None
        return Stored(
            liquid=self._liquid(name, None if material_class else self.category),
            material_class=material_class,
            volume_l=self.volume.litres() if self.volume else None,
            mass_kg=self.mass.kilograms() if self.mass else None,
            density_kg_l=None if self.density_g_ml is None else Fraction(self.density_g_ml),
            capacity_l=self.capacity.litres() if self.capacity else None,
            vessel=self.container,
            use=self.use,
            in_cabinet=self.in_cabinet or place.kind is PlaceKind.CABINET,
            cabinet=self.cabinet,
            room=self.room,
            storey=self.storey,
            emptied=self.emptied,
            vapour_free=self.vapour_free,
            maintenance=self.maintenance,
            groups=frozenset(_group(word) for word in self.groups),
        )

    def _liquid(self, name: str, category: str | None) -> LiquidFacts:
        return LiquidFacts(
            name=name,
            category=category,
            flash=_known(self.flash_point),
            boiling=_known(self.boiling_point),
            method=self.flash_point_method,
            no_flash_point=self.no_flash_point,
            calculation_allowed=self.calculation_allowed,
            part_flash=_known(self.part_flash_point),
            part_boiling=_known(self.part_boiling_point),
            heated_to=_known(self.heated_to),
        )

    def _refuse(self, name: str, number: int) -> None:
        where = f"items.{number - 1}"
        if self.vapour_free and not self.emptied:
            raise _wrong(f"{where}.vapour_free", f"{name}: only what was emptied can be free of vapour.")
        left = max(self.volume.value if self.volume else 0, self.mass.value if self.mass else 0)
        if self.emptied and left > 0:
            raise _wrong(f"{where}.emptied", f"{name}: it was emptied, and yet there is something in it.")
        if self.volume and self.capacity and self.volume.litres() > self.capacity.litres():
            raise _wrong(f"{where}.volume", f"{name}: there is more in it than it can hold.")
        if self.no_flash_point and self.flash_point is not None:
            raise _wrong(
                f"{where}.flash_point", f"{name}: it is said to have a flash point and to have none."
            )


class PairIn(ApiModel):
    """Two groups (``oxidizer``, ``flammable_liquid``, …) and how they stand."""

    a: Annotated[str, Field(min_length=1, max_length=60)]
    b: Annotated[str, Field(min_length=1, max_length=60)]
    same_cabinet: bool | None = None
    same_room: bool | None = None
    distance: LengthIn | None = None
    partition: Annotated[
        bool | None, Field(description="does not burn, reaches 18 in above and beside the stock")
    ] = None
    separate_cabinets: bool | None = None

    def known(self) -> Pair:
        return Pair(
            a=_group(self.a),
            b=_group(self.b),
            same_cabinet=self.same_cabinet,
            same_room=self.same_room,
            distance_ft=self.distance.feet() if self.distance else None,
            partition=self.partition,
            separate_cabinets=self.separate_cabinets,
        )


class StorageIn(ApiModel):
    """What stands where, told whole: what is left out is not counted."""

    rule_set: Annotated[Told | None, Field(description="missing: 1910.106 and the fire code")] = None
    rule_sets: Annotated[list[Told], Field(default_factory=list, max_length=5)]
    place: PlaceIn = PlaceIn()
    items: Annotated[list[ItemIn], Field(default_factory=list, max_length=MOST_ITEMS)]
    pairs: Annotated[list[PairIn], Field(default_factory=list, max_length=MOST_PAIRS)]
    near_share: Annotated[Share, Field(description="share of a limit from which it is said to be near")] = (
        Decimal("0.8")
    )

    def asked(self) -> list[RuleSet]:
        """The tables asked for, each once; without any both that hold in a US shop."""
        told = [*([self.rule_set] if self.rule_set else []), *self.rule_sets]
        return list(dict.fromkeys(told or [RuleSet.OSHA, RuleSet.IFC]))


def _known(told: TemperatureIn | None) -> Temperature | None:
    return told.known() if told else None


def _group(word: str) -> str:
    return word.strip().lower().replace(" ", "_").replace("-", "_")


def _wrong(field: str, words: str) -> Invalid:
    return Invalid(words, {field: words})


def _no_storey_zero(storey: int | None, field: str) -> None:
    if storey == 0:
        raise _wrong(field, "There is no storey 0: 1 is the storey at the ground, -1 the first basement.")
