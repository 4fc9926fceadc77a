"""The demo's storage limits: what is known of its rooms, and a cabinet that is nearly full of strong spirit.

Every act has a key of its own, so that the codes of the rest of the demo stay as they are.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlmodel import Session

from service.actions.arrivals import ReceiveAsked
from service.actions.describe_material import MaterialAsked, describe_material
from service.actions.describe_storage import (
    MaterialStorageAsked,
    PlaceStorageAsked,
    describe_material_storage,
    describe_place_storage,
)
from service.actions.receive_stock import receive
from service.core.access import Actor
from service.core.containers import Condition
from service.core.material_entry import Description, KeeperFacts
from service.core.materials import Basis, Form, MaterialKind, SelfHeating, Unknown
from service.core.storage_rules import Vessel
from service.demo_loader.tale import read


def fill_cabinet(session: Session, keeper: Actor, at: datetime, places: dict[str, int]) -> None:
    """Say what is known of the rooms, and take the spirit in."""
    told = read("storage")
    for row in told["places"]:
        facts = {name: value for name, value in row.items() if name != "key"}
        for name in ("approved", "sprinklered"):
            if name in facts:
                facts[name] = Unknown(facts[name])
        for name in ("floor_area", "ambient_max"):
            if name in facts:
                facts[name] = Decimal(facts[name])
        asked = PlaceStorageAsked(f"demo-storage-{row['key']}", **facts)
        describe_place_storage(session, keeper, at, places[row["key"]], asked)
    _take_in(session, keeper, at, places, told["spirit"])


def _take_in(
    session: Session, keeper: Actor, at: datetime, places: dict[str, int], row: dict[str, Any]
) -> None:
    said = Description(row["name"], MaterialKind.SOLVENT, Form.LIQUID, row["maker"], basis=Basis.VOLUME)
    facts = KeeperFacts(
        hazards=tuple(row["hazards"]),
        hazards_source=row["source"],
        toxic_metals=(),
        self_heating=SelfHeating.NO,
        self_heating_reason=row["self_heating_reason"],
        density_g_ml=Decimal(row["density"]),
        density_source=row["source"],
    )
    made = describe_material(session, keeper, at, MaterialAsked("demo-storage-material", said, facts))
    number = int(made.result["material"])
    figures = MaterialStorageAsked(
        "demo-storage-figures", 0, Decimal(row["flash_f"]), "F", Decimal(row["boils_f"]), "F",
        source=row["source"],
    )  # fmt: skip
    describe_material_storage(session, keeper, at, number, figures)
    asked = ReceiveAsked(
        "demo-storage-delivery", number, count=row["count"], amount=row["amount"], capacity=row["amount"],
        place_id=places[row["place"]], condition=Condition.SOUND, sheet_came=Unknown.NO,
        vessel=Vessel(row["vessel"]), supplier=row["maker"],
    )  # fmt: skip
    chance = iter(f"demo-storage-code-{n}" for n in range(1000))
    receive(session, keeper, at, asked, lambda: next(chance))
