"""The store where what is told of a material, its hazard classes and what is in a jar do not agree."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from sqlmodel import Session, select

from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.judge_store import look_at_store
from service.actions.read_recipe import LineRead
from service.actions.stored_kind import Kind, doubted
from service.core.access import Role
from service.core.material_facts import FlashMethod
from service.core.materials import Basis, Form, MaterialKind
from service.core.storage_categories import LiquidFacts, place_liquid
from service.core.storage_items import Stored
from service.core.storage_ladders import Scheme, Temperature
from service.core.store_limits import StoreJudged
from service.records.engine import Database
from service.records.materials import Material
from service.records.places import PlaceKind
from service.records.store_storage import MaterialStorage, PlaceStorage
from tests.builders import NOW
from tests.mixing_shop import MixShop, make_mix_shop
from tests.storage_shop import ToldStore
from tests.store_builders import material, once, place

ROOM = {"kind": "building", "storey": 1, "sprinklered": False, "approved_cabinets": True}
CAN = {"volume": {"value": 50, "unit": "gal"}, "capacity": {"value": 55, "unit": "gal"}, "container": "drum"}
IB = "ifc-maq-ib-ic-storage"


def counted(judged: StoreJudged, key: str) -> list[float]:
    return [round(float(row.counted), 3) for area in judged.areas for row in area.rows if row.row.key == key]


def told(session: Session, hazards: list[str], form: Form = Form.LIQUID, **facts: Any) -> StoreJudged:
    """Fifty gallons of one material in a room, by its facts."""
    shop = ToldStore(session, {"rule_sets": ["osha-1910.106", "ifc-2018"], "place": ROOM, "items": []})
    box = shop.put({"name": "thinner", "density_g_ml": "0.8", **CAN}, 1)
    stuff = session.get_one(Material, box.material_id)
    stuff.hazards, stuff.form = hazards, form
    storage = session.exec(select(MaterialStorage)).one()
    for name, value in facts.items():
        setattr(storage if name == "category" else stuff, name, value)
    session.add(stuff)
    session.flush()
    return look_at_store(session)


@pytest.mark.parametrize(
    ("form", "facts"),
    [
        (Form.LIQUID, {"no_flash_reason": "its sheet says none"}),
        (Form.LIQUID, {"flash_point_c": Decimal(65), "flash_point_method": "closed-cup"}),
        (Form.LIQUID, {"category": "IIIB"}),
        (Form.LIQUID, {"category": "none"}),
        (Form.LIQUID, {"category": "corrosive"}),
        (Form.LIQUID, {"category": "oxidizer-1", "no_flash_reason": "its sheet says none"}),
        (Form.POWDER, {}),
    ],
    ids=["no flash", "65 C", "IIIB", "none", "corrosive", "oxidiser without flash", "powder"],
)
def test_nothing_told_hides_a_flammable_liquid_of_its_hazard_classes(
    database: Database, form: Form, facts: dict[str, Any]
) -> None:
    with database.reading() as session:
        judged = told(session, ["Flam. Liq. 2 H225"], form, **facts)
        assert counted(judged, IB) == [50] and counted(judged, "osha-outside-cat234") == [50]
        assert judged.met is not True
        if facts.get("category") != "corrosive":
            (said,) = [one for one in judged.verdict if one.code == "told-facts-differ"][:1]
            assert "Flam. Liq. 2 H225" in said.sentence
        session.rollback()


def test_what_is_corrosive_and_flammable_counts_as_both(database: Database) -> None:
    with database.reading() as session:
        judged = told(session, ["Flam. Liq. 3 H226", "Skin Corr. 1A H314"], category="IC")
        assert counted(judged, IB) == [50] and counted(judged, "ifc-maq-corrosive-storage") == [50]
        session.rollback()


def test_a_liquid_of_a_class_of_which_nobody_knows_whether_it_burns_may_be_any(database: Database) -> None:
    with database.reading() as session:
        judged = told(session, [], category="corrosive")
        assert counted(judged, IB) == [] and judged.areas
        session.exec(select(Material)).one().hazards = None
        session.flush()
        unknown = look_at_store(session)
        assert counted(unknown, IB) == [50] and "flash-not-known" in unknown.verdict.codes
        session.rollback()


@pytest.mark.parametrize(
    "written",
    ["Aerosol 1 H222", "Press. Gas H280", "Pyr. Sol. 1 H250", "Acute Tox. 2 H300", "Self-heat. 1 H251"],
)
def test_a_class_that_no_row_was_judged_for_is_never_within(database: Database, written: str) -> None:
    with database.reading() as session:
        judged = told(session, [written], no_flash_reason="its sheet says none")
        assert judged.met is not True
        session.rollback()


def jar(database: Database) -> tuple[MixShop, int]:
    """A jar of half a heavy spirit and half of a light one, and its material."""
    shop = make_mix_shop(database)
    with database.writing() as session:
        room = place(session, "Store room", PlaceKind.ROOM).id or 0
        session.add(PlaceStorage(place_id=room, storey=1, set_by=shop.actor().person_id, set_at=NOW))
        for name, flash, boils, hazards in (
            ("heavy spirit", 70, 190, []), ("light spirit", -18, 56, ["Flam. Liq. 2 H225"]),
        ):  # fmt: skip
            stuff = material(
                session, name, basis=Basis.VOLUME, form=Form.LIQUID, kind=MaterialKind.SOLVENT, density="0.8"
            )
            stuff.hazards, stuff.flash_point_c = hazards, Decimal(flash)
            stuff.flash_point_method = "closed-cup"
            number = shop.ids[name] = stuff.id or 0
            session.add(MaterialStorage(
                material_id=number, set_by=shop.actor().person_id, set_at=NOW, source="its sheet",
                boiling_point=Decimal(boils),
            ))  # fmt: skip
    shop.can("heavy spirit"), shop.can("light spirit")
    recipe = shop.write(("heavy spirit", "500 ml"), ("light spirit", "500 ml"), name="Thinner")
    batch = int(shop.start(shop.keep(recipe=recipe)).result["batch"])
    with database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("1 l", room),), made="1 l")
        done = finish(session, shop.actor(Role.KEEPER), shop.now, asked, iter(["jar"]).__next__).result
    return shop, shop.box(str(done["jars"][0]["code"])).material_id


@pytest.mark.parametrize(
    "says",
    [
        {"flash_point": Decimal(70), "boiling_point": Decimal(190)}, {"category": "IIIB"},
        {"no_flash_reason": "tested"}, {"flash_point_c": Decimal(70), "flash_point_method": "closed-cup"},
    ],
    ids=["flash", "category", "no flash", "flash of the material"],
)  # fmt: skip
def test_a_figure_of_the_material_makes_no_jar_milder_than_what_went_in(
    database: Database, says: dict[str, Any]
) -> None:
    shop, made = jar(database)
    with database.reading() as session:
        before = in_the_room(look_at_store(session))
    with database.writing() as session:
        row = MaterialStorage(
            material_id=made, source="a test of another batch", set_by=shop.actor().person_id, set_at=NOW
        )
        stuff = session.get_one(Material, made)
        for name, value in says.items():
            setattr(row if hasattr(row, name) else stuff, name, value)
        session.add_all([row, stuff])
    with database.reading() as session:
        judged = look_at_store(session)
        after = in_the_room(judged)
    assert all(after[key] >= before[key] for key in before if "maq" in key), "it counts at least as before"
    assert "told-facts-differ" in judged.verdict.codes
    (area,) = [one for one in judged.areas if one.name == "Store room"]
    assert area.met is not True


def test_a_part_that_the_calculation_does_not_count_still_counts() -> None:
    """What is left out as staying in the film, or told for storage alone, flashes by its own figure."""
    hot, cold = (Temperature(Fraction(degrees), "C") for degrees in (70, -18))
    mixed = LiquidFacts("", flash=hot, method=FlashMethod.CALCULATED, part_flash=hot)
    mixed = replace(mixed, calculation_allowed=True)
    oil = Material(name="thinned oil", kind=MaterialKind.BINDER, form=Form.LIQUID, created_at=NOW)
    line = LineRead(oil, "500 ml", low=1, high=1, basis=Basis.VOLUME)
    kind = Kind(Stored(LiquidFacts("thinned oil", flash=cold)), None, ())
    (said,) = doubted(mixed, [line], [kind])
    assert "thinned oil" in said.because
    assert place_liquid(replace(mixed, also=(said,)), Scheme.OSHA).categories == ("1", "2", "4")
    same = Kind(Stored(LiquidFacts("thinned oil", flash=hot)), None, ())
    assert doubted(mixed, [line], [same]) == ()


def in_the_room(judged: StoreJudged) -> dict[str, float]:
    (area,) = [one for one in judged.areas if one.name == "Store room"]
    return {row.row.key: round(float(Fraction(row.counted)), 3) for row in area.rows}
