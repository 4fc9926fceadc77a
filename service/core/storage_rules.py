"""What a row of a storage table is: how much of which categories, where, in the unit the text is written in.

Doors: core/storage_areas.py, core/storage_items.py, core/storage_limits.py, core/storage_pairs.py,
core/storage_places.py, core/storage_rows.py, core/storage_words.py, records/knowledge_storage.py,
web/api/storage_answers.py, web/api/storage_measures.py, web/api/storage_question.py.

The rows stand in ``seed_data/knowledge/storage_*.csv`` with citation, edition and how we know them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from service.core.rag_profile import RuleGrade
from service.core.storage_ladders import Scheme

LITRES_PER_GALLON: Final = Fraction("3.785411784")
KG_PER_POUND: Final = Fraction("0.45359237")
POUNDS_PER_GALLON: Final = Fraction(10)
"""What IFC 5003.1.2 lets an unknown density be taken as."""


class RuleSet(StrEnum):
    """A table of one body in one edition."""

    OSHA = "osha-1910.106"
    CONSTRUCTION = "osha-1926.152"
    IFC = "ifc-2018"
    HSE = "hse-dsear"
    TRGS = "trgs-510"


MATERIAL_CLASSES: Final = frozenset({
    "flammable-solid", "organic-peroxide-1", "organic-peroxide-2", "organic-peroxide-3",
    "organic-peroxide-detonable", "oxidizer-1", "oxidizer-2", "oxidizer-3", "oxidizer-4", "pyrophoric",
    "water-reactive-2", "water-reactive-3", "corrosive", "toxic", "highly-toxic",
})  # fmt: skip
"""Classes of the fire code that no flash point decides: they are told."""
SCHEME_OF: Final[Mapping[RuleSet, Scheme]] = MappingProxyType({
    RuleSet.OSHA: Scheme.OSHA,
    RuleSet.CONSTRUCTION: Scheme.CONSTRUCTION,
    RuleSet.IFC: Scheme.IFC,
    RuleSet.HSE: Scheme.HSE,
    RuleSet.TRGS: Scheme.CLP,
})  # fmt: skip


class Scope(StrEnum):
    """Over what a row adds up. ``AREA`` counts cabinets and ``STOREY`` rooms with stock, not liquid."""

    CONTAINER = "container"
    CABINET = "cabinet"
    ROOM = "room"
    STOREY = "storey"
    BUILDING = "building"
    AREA = "area"


class Use(StrEnum):
    """Standing closed in store, used in a closed system, or used with the liquid open to the air."""

    STORAGE = "storage"
    CLOSED = "closed_use"
    OPEN = "open_use"


class Where(StrEnum):
    """Which of the things in a place a row counts."""

    ANY = "any"
    CABINET = "cabinet"
    OUTSIDE = "outside-cabinet"


class Vessel(StrEnum):
    """What the liquid is in."""

    GLASS = "glass"
    PLASTIC = "plastic"
    METAL = "metal"
    SAFETY_CAN = "safety_can"
    DRUM = "drum"
    TANK = "portable_tank"


class Measure(StrEnum):
    """The unit of a row, as it is written there."""

    GALLON = "gal"
    LITRE = "l"
    POUND = "lb"
    KILOGRAM = "kg"
    CABINETS = "cabinets"
    CONTROL_AREAS = "control areas"


class Force(StrEnum):
    """Law where it applies, advice, this house's reading, or a level from which a permit or more is asked."""

    MANDATORY = "mandatory"
    ADVICE = "advice"
    HOUSE = "house"
    LEVEL = "level"


class Effect(StrEnum):
    """What a footnote does to a row."""

    DOUBLE_SPRINKLERED = "double-sprinklered"
    DOUBLE_CABINET = "double-cabinet"
    UNLIMITED_SPRINKLERED = "unlimited-sprinklered"
    ONLY_SPRINKLERED = "only-sprinklered"
    WITH_USE = "with-use"
    PARTS_TOO = "parts-too"


class UseGroup(StrEnum):
    """The occupancy: some rows hold in one alone."""

    MERCANTILE = "mercantile"
    LABORATORY = "laboratory"
    SCHOOL = "school"
    OTHER = "other"


@dataclass(frozen=True)
class Footnote:
    """A footnote of a table in our own words."""

    rule_set: RuleSet
    mark: str
    effect: Effect
    citation: str
    says: str


@dataclass(frozen=True)
class StoreyShare:
    """What a storey leaves of a figure: ``percent`` of it, in so many control areas (``None``: not said).

    ``first`` to ``last``: 1 is the storey at the ground, -1 the first basement. ``barrier_hours``: how long
    the fire barriers between its control areas must hold.
    """

    table: str
    first: int
    last: int
    percent: Fraction
    control_areas: int | None
    citation: str
    barrier_hours: int | None = None


@dataclass(frozen=True)
class StorageRow:
    """One row. ``limit`` in ``unit``, for each ``per_sq_ft`` of floor where that is set.

    ``categories`` empty: everything that is told. ``drawn_in``: categories that count here as soon as one of
    ``categories`` is there. ``basement_limit``: the figure below ground; ``basement_sprinklered``: none
    there without sprinklers. A row that is ``from_memory`` is never a reason to say *within*.
    """

    key: str
    rule_set: RuleSet
    scopes: frozenset[Scope]
    categories: frozenset[str]
    drawn_in: frozenset[str]
    uses: frozenset[Use]
    where: Where
    vessels: frozenset[Vessel]
    limit: Fraction
    unit: Measure
    footnotes: tuple[Footnote, ...]
    storey_table: str
    basement_limit: Fraction | None
    basement_sprinklered: bool
    use_group: UseGroup | None
    maintenance: bool
    per_sq_ft: Fraction | None
    citation: str
    edition: str
    force: Force
    grade: RuleGrade
    provenance: str
    source: str
    says: str

    @property
    def from_memory(self) -> bool:
        return self.grade is RuleGrade.MEMORY

    def has(self, effect: Effect) -> bool:
        return any(one.effect is effect for one in self.footnotes)


@dataclass(frozen=True)
class KeptApart:
    """Two groups that a text keeps apart. ``never_one_room``: not even in one room without a separation."""

    key: str
    groups: frozenset[str]
    never_one_room: bool
    citation: str
    edition: str
    grade: RuleGrade
    provenance: str
    source: str
    says: str


@dataclass(frozen=True)
class StorageTables:
    """All of it, as read from the tables of facts."""

    rows: tuple[StorageRow, ...]
    storeys: tuple[StoreyShare, ...]
    kept_apart: tuple[KeptApart, ...]

    def of(self, rule_set: RuleSet) -> tuple[StorageRow, ...]:
        return tuple(row for row in self.rows if row.rule_set is rule_set)

    def share(self, table: str, storey: int) -> StoreyShare | None:
        """What ``storey`` leaves of the figures of ``table``; ``None``: that table does not speak of it."""
        return next((s for s in self.storeys if s.table == table and s.first <= storey <= s.last), None)
