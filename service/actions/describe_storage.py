"""What a keeper writes down for the storage tables: of a place, of a material, which tables hold; and what a
container is made of, which whoever takes it in may say.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from sqlmodel import Session

from service.actions.note_change import note_change
from service.actions.settle import Act, Sent, Settled, settle
from service.core.access import Actor, Permission, require
from service.core.findings import Invalid, NotFound, Stale
from service.core.materials import Unknown
from service.core.shelf_codes import show_code
from service.core.storage_ladders import Temperature, told_categories
from service.core.storage_rules import MATERIAL_CLASSES, RuleSet, UseGroup, Vessel
from service.core.stored_stuff import GROUP_WORDS
from service.records.material_queries import the_material
from service.records.places import Place, PlaceKind
from service.records.shop import ShopProfile
from service.records.stock_queries import container_by_code
from service.records.store_storage import MaterialStorage, PlaceStorage

CATEGORIES: Final = (*sorted(told_categories()), *sorted(MATERIAL_CLASSES))
LARGEST_FLOOR: Final = Decimal(1_000_000)
COLDEST, HOTTEST = Decimal(-120), Decimal(1000)


@dataclass(frozen=True)
class PlaceStorageAsked:
    """A place for the storage tables. ``None`` and not-known allow nothing more.

    Args:
        version: of the row that was shown; 0 where there was none.
        approved: of a cabinet: an approved one for flammable liquids.
        sprinklered: of a building or room: the whole building has sprinklers to the standard.
        storey: 1 at the ground, -1 the first basement.
        floor_area: of a room, above 0, in ``floor_unit`` ft2 or m2.
        ambient_max: the highest temperature in a year, in ``ambient_unit`` C or F.
        use_group: where the law has rows of its own.
    """

    once: str
    version: int = 0
    approved: Unknown = Unknown.NOT_KNOWN
    sprinklered: Unknown = Unknown.NOT_KNOWN
    storey: int | None = None
    floor_area: Decimal | None = None
    floor_unit: str = "ft2"
    ambient_max: Decimal | None = None
    ambient_unit: str = "C"
    use_group: UseGroup | None = None

    def values(self, kind: PlaceKind) -> dict[str, Any]:
        """The columns that mean something of such a place."""
        house = kind in (PlaceKind.ROOM, PlaceKind.BUILDING)
        return {
            "approved": self.approved if kind is PlaceKind.CABINET else Unknown.NOT_KNOWN,
            "sprinklered": self.sprinklered if house else Unknown.NOT_KNOWN,
            "storey": self.storey,
            "floor_area": self.floor_area if kind is PlaceKind.ROOM else None,
            "floor_unit": self.floor_unit,
            "ambient_max": self.ambient_max if house else None,
            "ambient_unit": self.ambient_unit,
            "use_group": self.use_group.value if self.use_group and house else None,
        }


def describe_place_storage(
    session: Session, actor: Actor, now: datetime, place_id: int, asked: PlaceStorageAsked
) -> Settled:
    """Write down what the tables ask of a place; answers ``place``, ``name``, ``version``.

    Raises:
        NotAllowed: only a keeper. NotFound. Stale: it was changed meanwhile.
        Invalid: a figure is out of range; `errors` names the field.
    """
    require(actor, Permission.PROFILES)
    plain = {
        field: _plain(getattr(asked, field)) for field in asked.__dataclass_fields__ if field != "once"
    }
    sent = Sent(asked.once, "place-storage", plain | {"place": place_id})

    def perform(act: Act) -> dict[str, Any]:
        place = act.session.get(Place, place_id, with_for_update=True, populate_existing=True)
        if place is None:
            raise NotFound(f"There is no place number {place_id}.", "place")
        _judge_place(asked)
        row = act.session.get(PlaceStorage, place_id, populate_existing=True)
        row = row or PlaceStorage(
            place_id=place_id, set_by=actor.person_id, set_at=act.recorded_at, version=0
        )
        version = _write(act, ("place", place_id), row, asked.version, asked.values(place.kind), place.name)
        return {"place": place_id, "name": place.name, "version": version}

    return settle(session, actor, sent, now, perform)


def _judge_place(asked: PlaceStorageAsked) -> None:
    if asked.storey is not None and (asked.storey == 0 or not -50 <= asked.storey <= 200):
        raise _wrong("storey", "Enter the storey: 1 is the one at the ground, -1 the first basement.")
    if asked.floor_area is not None and not 0 < asked.floor_area <= LARGEST_FLOOR:
        raise _wrong("floor_area", f"Enter a floor area above 0 and up to {LARGEST_FLOOR}, or nothing.")
    if asked.floor_unit not in ("ft2", "m2"):
        raise _wrong("floor_unit", "Choose square feet or square metres.")
    _judge_degrees("ambient_max", asked.ambient_max, asked.ambient_unit)
    if asked.ambient_max is not None:
        warm = Temperature(Fraction(asked.ambient_max), asked.ambient_unit).in_unit("C")
        if not -60 <= warm <= 60:
            raise _wrong("ambient_max", "Enter the highest temperature of the room: −60 to 60 °C, 140 °F.")


@dataclass(frozen=True)
class MaterialStorageAsked:
    """A material for the storage tables, as section 9 and 14 of its sheet write it.

    Args:
        flash_point: closed cup, in ``flash_unit`` C or F, exactly as written.
        boiling_point: where it begins to boil, in ``boiling_unit``.
        category: as somebody who knows it says; one of ``CATEGORIES``; None = by the figures.
        groups: what it is kept apart as beside what its hazard classes say; keys of ``GROUP_WORDS``.
        source: where that was read; asked as soon as anything is said.
    """

    once: str
    version: int = 0
    flash_point: Decimal | None = None
    flash_unit: str = "C"
    boiling_point: Decimal | None = None
    boiling_unit: str = "C"
    category: str | None = None
    groups: tuple[str, ...] = ()
    source: str = ""

    def values(self) -> dict[str, Any]:
        return {
            "flash_point": self.flash_point,
            "flash_unit": self.flash_unit,
            "boiling_point": self.boiling_point,
            "boiling_unit": self.boiling_unit,
            "category": self.category,
            "groups": sorted(set(self.groups)),
            "source": " ".join(self.source.split()),
        }


def describe_material_storage(
    session: Session, actor: Actor, now: datetime, material_id: int, asked: MaterialStorageAsked
) -> Settled:
    """Write down what the tables ask of a material; answers ``material``, ``name``, ``version``.

    Raises:
        NotAllowed: only a keeper. NotFound. Stale: it was changed meanwhile.
        Invalid: a figure or word cannot be used; `errors` names the field.
    """
    require(actor, Permission.MATERIAL_FACTS)
    plain = {name: _plain(value) for name, value in asked.values().items()}
    sent = Sent(
        asked.once, "material-storage", plain | {"material": material_id, "version": asked.version}
    )

    def perform(act: Act) -> dict[str, Any]:
        material = the_material(act.session, material_id)
        _judge_material(asked)
        row = act.session.get(MaterialStorage, material_id, populate_existing=True)
        row = row or MaterialStorage(
            material_id=material_id, set_by=actor.person_id, set_at=act.recorded_at, version=0
        )
        version = _write(
            act, ("material", material_id), row, asked.version, asked.values(), material.name
        )
        return {"material": material_id, "name": material.name, "version": version}

    return settle(session, actor, sent, now, perform)


def _judge_material(asked: MaterialStorageAsked) -> None:
    _judge_degrees("flash_point", asked.flash_point, asked.flash_unit)
    _judge_degrees("boiling_point", asked.boiling_point, asked.boiling_unit)
    if asked.category is not None and asked.category not in CATEGORIES:
        raise _wrong("category", f"The categories known here: {', '.join(CATEGORIES)}.")
    for group in asked.groups:
        if group not in GROUP_WORDS:
            raise _wrong("groups", f"The groups known here: {', '.join(GROUP_WORDS)}.")
    said = asked.flash_point is not None or asked.boiling_point is not None or asked.category or asked.groups
    if said and not asked.source.strip():
        raise _wrong("source", "Write where it was read, such as: sheet of the maker, section 9.")
    if len(asked.source) > 200:
        raise _wrong("source", "Shorten this to 200 signs.")


@dataclass(frozen=True)
class RulesAsked:
    """Which storage tables hold; none: all of the shop's law. ``version``: of the shop's settings."""

    once: str
    version: int
    chosen: tuple[str, ...]


def say_rule_sets(session: Session, actor: Actor, now: datetime, asked: RulesAsked) -> Settled:
    """Which storage tables hold in this shop, all at once; answers ``rule_sets``, ``version``.

    Raises:
        NotAllowed: only a keeper. NotFound: no shop yet. Stale. Invalid: no such table.
    """
    require(actor, Permission.PROFILES)
    sent = Sent(asked.once, "storage-rules", {"version": asked.version, "rule_sets": sorted(asked.chosen)})
    return settle(session, actor, sent, now, lambda act: _keep_rules(act, asked))


def _keep_rules(act: Act, asked: RulesAsked) -> dict[str, Any]:
    shop = act.session.get(ShopProfile, 1, with_for_update=True, populate_existing=True)
    if shop is None:
        raise NotFound("The shop is not set up yet.")
    if shop.version != asked.version:
        raise Stale("Somebody else changed the shop's settings meanwhile. Look at the page again.")
    known = [one.value for one in RuleSet]
    if any(word not in known for word in asked.chosen):
        raise _wrong("rule_sets", f"The tables known here: {', '.join(known)}.")
    after = [word for word in known if word in asked.chosen] or None
    note_change(
        act.session, act.actor, act.recorded_at, ("shop", 1), "storage rules", shop.storage_rules, after
    )
    shop.storage_rules, shop.version = after, shop.version + 1
    act.session.add(shop)
    act.session.flush()
    return {"rule_sets": after or [], "version": shop.version}


@dataclass(frozen=True)
class VesselAsked:
    """What a container is made of; None = nobody knows."""

    once: str
    code: str
    vessel: Vessel | None


def say_vessel(session: Session, actor: Actor, now: datetime, asked: VesselAsked) -> Settled:
    """Write down what a container is made of; answers ``code``, ``shown``, ``vessel``.

    Raises:
        NotAllowed: who may take in deliveries says it. NotFound: no such container.
    """
    require(actor, Permission.RECEIVE)
    word = asked.vessel.value if asked.vessel else None
    sent = Sent(asked.once, "vessel", {"code": asked.code, "vessel": word})

    def perform(act: Act) -> dict[str, Any]:
        box = container_by_code(act.session, asked.code)
        note_change(
            act.session, actor, act.recorded_at, ("container", box.id), "vessel", box.vessel, word
        )
        box.vessel, box.version = word, box.version + 1
        act.session.add(box)
        act.session.flush()
        return {"code": box.code, "shown": show_code(box.code), "vessel": word}

    return settle(session, actor, sent, now, perform)


def _write(
    act: Act, about: tuple[str, int], row: PlaceStorage | MaterialStorage, version: int,
    values: Mapping[str, Any], name: str,
) -> int:  # fmt: skip
    if row.version != version:
        raise Stale(f"What is said of {name} for storage was changed meanwhile. Open it again.")
    for field, after in values.items():
        words = f"storage {field.replace('_', ' ')}"
        note_change(act.session, act.actor, act.recorded_at, about, words, getattr(row, field), after)
        setattr(row, field, after)
    row.set_by, row.set_at, row.version = act.actor.person_id, act.recorded_at, row.version + 1
    act.session.add(row)
    act.session.flush()
    return row.version


def _judge_degrees(field: str, value: Decimal | None, unit: str) -> None:
    if unit not in ("C", "F"):
        raise _wrong(field, "Choose °C or °F.")
    if value is not None and not COLDEST <= value <= HOTTEST:
        raise _wrong(field, f"Enter {COLDEST} to {HOTTEST} degrees, or leave it empty: not known.")


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else getattr(value, "value", value)


def _wrong(field: str, sentence: str) -> Invalid:
    return Invalid(sentence, {field: sentence})
