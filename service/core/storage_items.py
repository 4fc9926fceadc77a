"""What stands in a place: how much of it counts, in which unit, and how sure that is.

Doors: core/storage_limits.py, core/storage_pairs.py, core/storage_places.py, core/storage_rows.py,
web/api/calc_storage.py, web/api/storage_answers.py, web/api/storage_question.py.

Sums count the liquid; a container emptied and not yet free of vapour counts as full (IFC 5704.3.3.4); the
largest single container counts by what it can hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, note, unknown
from service.core.sources import cite
from service.core.storage_categories import LiquidFacts, Placed, Reading, place_liquid
from service.core.storage_groups import FLAMMABLE, about_groups, classes_settled
from service.core.storage_ladders import NONE
from service.core.storage_rules import (
    KG_PER_POUND,
    LITRES_PER_GALLON,
    POUNDS_PER_GALLON,
    SCHEME_OF,
    Measure,
    RuleSet,
    StorageRow,
    Use,
    Vessel,
    Where,
)

VOLUMES: Final = {Measure.GALLON: LITRES_PER_GALLON, Measure.LITRE: Fraction(1)}
SPILL_SHARE: Final = Fraction(11, 10)
"""Of the largest vessel, by HSE's guidance as reprinted."""
MASSES: Final = {Measure.POUND: KG_PER_POUND, Measure.KILOGRAM: Fraction(1)}


@dataclass(frozen=True)
class Stored:
    """One container, or several alike told as one sum. ``None``: not known.

    ``material_class``: a class that no flash point decides ("oxidizer-2"); with a flash point it is both.
    ``vapour_free``: emptied and free of vapour, so it counts for nothing. ``approved_cabinet``: of its own
    cabinet; ``None`` leaves it to what is told of the place. ``held_l``: the most that was ever seen in it.
    Not ``use_sure``: what counts as in use may as well be stored there. ``settled``: classes of the fire code
    that its hazard classes settle, beside the one that was told.
    """

    liquid: LiquidFacts
    material_class: str | None = None
    volume_l: Fraction | None = None
    mass_kg: Fraction | None = None
    density_kg_l: Fraction | None = None
    capacity_l: Fraction | None = None
    vessel: Vessel | None = None
    use: Use = Use.STORAGE
    in_cabinet: bool = False
    cabinet: str = ""
    room: str = ""
    storey: int | None = None
    emptied: bool = False
    vapour_free: bool = False
    maintenance: bool = False
    groups: frozenset[str] = frozenset()
    approved_cabinet: bool | None = None
    held_l: Fraction | None = None
    use_sure: bool = True
    settled: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        return self.liquid.name


@dataclass(frozen=True)
class Amount:
    """``value`` in a row's unit; not ``sure``: it may be more, or nobody knows."""

    value: Fraction
    sure: bool


@dataclass(frozen=True)
class Counted:
    """A thing with its place under one table."""

    item: Stored
    placed: Placed | None
    categories: frozenset[str]
    findings: tuple[Finding, ...] = field(default=())

    @property
    def sure(self) -> bool:
        return self.placed is None or self.placed.sure

    @property
    def burns(self) -> bool:
        """Whether it counts in a category of flammable liquids, beside the classes that were told."""
        return self.placed is not None and any(one != NONE for one in self.placed.categories)


def count_under(item: Stored, rule_set: RuleSet, ambient_max_c: Fraction | None) -> Counted:
    """The categories an item counts in under a table; none of them for what is free of vapour."""
    if item.emptied and item.vapour_free:
        return Counted(item, None, frozenset())
    told: frozenset[str] = frozenset() if item.material_class is None else frozenset({item.material_class})
    said = tuple(about_groups(item.name, item.groups, item.material_class))
    more = (item.settled | classes_settled(item.groups)) if rule_set is RuleSet.IFC else frozenset()
    liquid = _told_flammable(item)
    if told and liquid.flash is None and liquid.category is None and not liquid.also:
        return Counted(item, None, told | more, said)
    placed = place_liquid(liquid, SCHEME_OF[rule_set], ambient_max_c)
    names = told | more | frozenset(placed.categories) - {NONE}
    return Counted(item, placed, names, (*said, *placed.findings))


def _told_flammable(item: Stored) -> LiquidFacts:
    """What is told as a flammable liquid and has no category for it may be in any of them."""
    if FLAMMABLE not in item.groups:
        return item.liquid
    said = Reading(LiquidFacts(""), "it is told as a flammable liquid", "H226")
    return replace(item.liquid, also=(*item.liquid.also, said))


def amount_of(item: Stored, unit: Measure) -> Amount:
    """How much of an item counts in ``unit``.

    A mass without a density is turned into gallons at 10 lb to the gallon, as IFC 5003.1.2 lets it; most
    solvents are lighter and fill more, so that is never sure.

    >>> oil = Stored(LiquidFacts("oil"), mass_kg=500 * KG_PER_POUND)
    >>> amount_of(oil, Measure.GALLON)
    Amount(value=Fraction(50, 1), sure=False)
    """
    if item.emptied:
        if item.vapour_free:
            return Amount(Fraction(0), True)
        return _full(item, unit)
    if unit in VOLUMES:
        return _volume(item, VOLUMES[unit])
    return _mass(item, MASSES[unit])


def liquid_in(item: Stored, unit: Measure) -> Fraction | None:
    """The liquid that is really in it; 0 in what was emptied, ``None`` where nobody knows."""
    if item.emptied:
        return Fraction(0)
    found = amount_of(item, unit)
    return found.value if found.sure else None


def _full(item: Stored, unit: Measure) -> Amount:
    litres = item.capacity_l if item.capacity_l is not None else item.held_l
    if litres is None:
        return Amount(Fraction(0), False)
    sure = item.capacity_l is not None
    if unit in VOLUMES:
        return Amount(litres / VOLUMES[unit], sure)
    if item.density_kg_l is None:
        return Amount(Fraction(0), False)
    return Amount(litres * item.density_kg_l / MASSES[unit], sure)


def _volume(item: Stored, litres: Fraction) -> Amount:
    if item.volume_l is not None:
        return Amount(item.volume_l / litres, True)
    if item.mass_kg is not None and item.density_kg_l is not None:
        return Amount(item.mass_kg / item.density_kg_l / litres, True)
    if item.mass_kg is not None:
        gallons = item.mass_kg / KG_PER_POUND / POUNDS_PER_GALLON
        return Amount(gallons * LITRES_PER_GALLON / litres, False)
    if item.capacity_l is not None:
        return Amount(item.capacity_l / litres, False)
    return Amount(Fraction(0), False)


def _mass(item: Stored, kilograms: Fraction) -> Amount:
    if item.mass_kg is not None:
        return Amount(item.mass_kg / kilograms, True)
    litres = item.volume_l if item.volume_l is not None else item.capacity_l
    if litres is None or item.density_kg_l is None:
        return Amount(Fraction(0), False)
    return Amount(litres * item.density_kg_l / kilograms, item.volume_l is not None)


def amount_findings(item: Stored, unit: Measure) -> list[Finding]:
    """What is said about an amount that is not plainly known."""
    name = item.name
    if item.emptied:
        if item.vapour_free:
            return []
        words = f"{name} was emptied and is not yet free of vapour: it counts as full."
        found = [note("counts-as-full", words, cite("ifc-5704.3.3.4"), name)]
        full = _full(item, unit)
        if not full.sure:
            counted = "it counts as the most it held" if full.value else "it could not be counted"
            words = f"How much {name} holds when full is not known in {unit.value}, so {counted}."
            found.append(unknown("capacity-not-known", words, cite("ifc-5704.3.3.4"), name))
        return found
    if amount_of(item, unit).sure:
        return []
    if unit in VOLUMES and item.volume_l is None and item.mass_kg is not None:
        words = (
            f"The density of {name} is not known. It counts at 10 lb to the gallon; what is lighter "
            "fills more, so its "
            "volume is not known."
        )
        return [unknown("density-not-known", words, cite("ifc-5003.1.2"), name)]
    words = f"How much of {name} there is in {unit.value} is not known."
    if item.capacity_l is not None and amount_of(item, unit).value:
        words += " It counts as full."
    return [unknown("amount-not-known", words, "", name)]


def counts_in(row: StorageRow, counted: Counted, drawn: bool, approved_cabinets: bool | None) -> bool:
    """Whether a thing counts in a row: its category, use, container, and whether it stands in a cabinet."""
    item = counted.item
    if item.emptied and item.vapour_free:
        return False
    wanted = row.categories | (row.drawn_in if drawn else frozenset())
    if row.categories and not counted.categories & wanted:
        return False
    if item.use not in row.uses or (row.maintenance and not item.maintenance):
        return False
    if row.vessels != frozenset(Vessel) and item.vessel is not None and item.vessel not in row.vessels:
        return False
    if row.where is Where.CABINET:
        return item.in_cabinet
    if row.where is Where.OUTSIDE:
        return not item.in_cabinet or is_approved(item, approved_cabinets) is False
    return True


def is_approved(item: Stored, of_place: bool | None) -> bool | None:
    """Whether its cabinet is an approved one: what is told of the cabinet itself goes first."""
    return of_place if item.approved_cabinet is None else item.approved_cabinet


def spill_retention_l(items: Sequence[Stored]) -> Fraction | None:
    """What the bottom of a cabinet has to hold: 110 % of the largest vessel; ``None``: a size is not known.

    >>> spill_retention_l([Stored(LiquidFacts("spirit"), capacity_l=Fraction(20))])
    Fraction(22, 1)
    """
    sizes = [item.capacity_l for item in items]
    known = [size for size in sizes if size is not None]
    return None if len(known) < len(sizes) or not known else max(known) * SPILL_SHARE
