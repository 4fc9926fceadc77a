"""A store told by a question to the storage calculator: places, materials and containers of the book."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any, Final

from sqlmodel import Session

from service.actions.container_events import NotedAsked, vapour_free
from service.actions.count_stock import CountAsked, count
from service.core.access import Actor, Role
from service.core.materials import Basis, Form, MaterialKind, Unknown
from service.core.storage_rules import RuleSet
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.stock import Container
from service.records.store_storage import MaterialStorage, PlaceStorage
from tests.builders import NOW, Cast, cast, shop
from tests.store_builders import container, material, once, place, received

_ALSO: Final = {
    "osha": RuleSet.OSHA, "ifc": RuleSet.IFC, "hse": RuleSet.HSE, "trgs": RuleSet.TRGS,
    "osha_1926_152": RuleSet.CONSTRUCTION,
}  # fmt: skip
_LITRES: Final = {
    "l": Fraction(1), "ml": Fraction(1, 1000), "gal": Fraction("3.785411784"), "qt": Fraction("0.946352946"),
}  # fmt: skip
_KG: Final = {"kg": Fraction(1), "lb": Fraction("0.45359237")}
_YES: Final = {True: Unknown.YES, False: Unknown.NO, None: Unknown.NOT_KNOWN}


def rule_sets(ask: dict[str, Any]) -> list[str]:
    told = ask.get("rule_sets") or ([ask["rule_set"]] if "rule_set" in ask else [])
    return [_ALSO[word].value if word in _ALSO else word for word in told]


class ToldStore:
    """The store of one question; the items stand where it says."""

    def __init__(self, session: Session, ask: dict[str, Any], people: Cast | None = None) -> None:
        self.session = session
        self.people = people or cast(session)
        self.keeper: Actor = self.people.actor(Role.KEEPER)
        shop(session).storage_rules = rule_sets(ask) or None
        self.told = ask.get("place") or {}
        self.building = place(session, "Works", PlaceKind.BUILDING)
        self.room = place(session, "Store room", PlaceKind.ROOM, self.building)
        self._say(self.building, sprinklered=_YES[self.told.get("sprinklered")])
        area = self.told.get("floor_area")
        ambient = self.told.get("ambient_max_c")
        self._say(
            self.room,
            storey=self.told.get("storey"),
            floor_area=None if area is None else Decimal(str(area["value"])),
            ambient_max=None if ambient is None else Decimal(str(ambient)),
            use_group=self.told.get("use_group"),
        )
        self.cabinets: dict[str, Place] = {}
        self.bench: Place | None = None
        for number, item in enumerate(ask.get("items", []), start=1):
            self.put(item, number)

    def _say(self, where: Place, **facts: Any) -> None:
        assert where.id is not None
        row = PlaceStorage(place_id=where.id, set_by=self.keeper.person_id, set_at=NOW, **facts)
        self.session.add(row)
        self.session.flush()

    def cabinet(self, name: str) -> Place:
        """A cabinet of the room, approved as the question says of its cabinets."""
        if name not in self.cabinets:
            made = place(self.session, name or "The cabinet", PlaceKind.CABINET, self.room)
            told = self.told.get("approved_cabinets", True if self.told.get("kind") == "cabinet" else None)
            self._say(made, approved=_YES[told])
            self.cabinets[name] = made
        return self.cabinets[name]

    def where(self, item: dict[str, Any]) -> Place:
        if item.get("use") == "open_use":
            self.bench = self.bench or place(self.session, "Bench", PlaceKind.BENCH, self.room)
            return self.bench
        if item.get("in_cabinet") or self.told.get("kind") == "cabinet":
            return self.cabinet(item.get("cabinet", ""))
        return self.room

    def put(self, item: dict[str, Any], number: int) -> Container:
        """One item as one container of a material of its own."""
        stuff = self.material(item, number)
        mass, volume = item.get("mass"), item.get("volume")
        capacity = item.get("capacity")
        size = None if capacity is None else round(_LITRES[capacity["unit"]] * _exact(capacity) * 1_000_000)
        if mass is not None:
            amount = round(_KG[mass["unit"]] * _exact(mass) * 1_000_000)
        elif volume is not None:
            amount = round(_LITRES[volume["unit"]] * _exact(volume) * 1_000_000)
        else:
            amount = 1_000_000
        code = received(
            self.session, self.keeper, stuff, amount, is_open=bool(item.get("emptied")),
            place_id=self.where(item).id, capacity_ul=size, vessel=item.get("container"),
        )  # fmt: skip
        if item.get("emptied"):
            self.empty(code, free=bool(item.get("vapour_free")))
        return container(self.session, code)

    def empty(self, code: str, *, free: bool = False) -> None:
        """Counted as nothing, which empties it, and free of vapour if asked."""
        counted = CountAsked(once=once(), code=code, amount="nothing")
        count(self.session, self.keeper, NOW, counted)
        if free:
            vapour_free(self.session, self.keeper, NOW, NotedAsked(once=once(), code=code))

    def material(self, item: dict[str, Any], number: int) -> Material:
        """A liquid with the figures of the item, in the units they are told in."""
        basis = Basis.MASS if "mass" in item else Basis.VOLUME
        density = item.get("density_g_ml")
        stuff = material(
            self.session, f"{item.get('name') or 'liquid'} {number}", basis=basis, form=Form.LIQUID,
            kind=MaterialKind.SOLVENT, density=None if density is None else str(density),
        )  # fmt: skip
        assert stuff.id is not None
        facts: dict[str, Any] = {"category": item.get("category"), "groups": item.get("groups", [])}
        for field in ("flash_point", "boiling_point"):
            if field in item:
                facts[field] = Decimal(str(item[field]["value"]))
                facts[field.replace("point", "unit")] = item[field]["unit"]
        row = MaterialStorage(
            material_id=stuff.id, source="the example", set_by=self.keeper.person_id, set_at=NOW, **facts
        )
        self.session.add(row)
        self.session.flush()
        return stuff


def _exact(told: dict[str, Any]) -> Fraction:
    return Fraction(str(told["value"]))

