"""The ventilation class of materials, containers and mixes, on both databases: not known is never a class."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session, select

from service.actions.judge_hazards import judge_material
from service.actions.judge_ventilation import (
    CardVentilation,
    band_of_container,
    card_of_container,
    card_of_material,
    of_lines,
    warm_room,
)
from service.actions.mix_of_materials import judge_lines
from service.actions.read_recipe import LineRead
from service.core.containers import ContainerState
from service.core.hazards.amount_band import AmountBand
from service.core.hazards.regimes import Regime
from service.core.hazards.ventilation_class import VentilationClass
from service.core.hazards.volatility import Volatility
from service.core.materials import Basis, Form, MaterialKind
from service.records.engine import Database
from service.records.materials import Material, SafetySheet
from service.records.people import Person
from service.records.places import Place, PlaceKind
from service.records.rooms import RoomAir
from service.records.stock import Container
from tests.actions.test_judge_hazards import add
from tests.builders import NOW, TODAY, cast

US = Regime.US_HCS
SMALL, MEDIUM, LARGE = AmountBand


def add_sheet(session: Session, material: Material) -> None:
    """A whole sheet of this law; whoever copied it is made once."""
    keeper = session.exec(select(Person.id)).first() or cast(session).keeper.id
    said = {"regime": "us-hcs", "sheet_date": date(2025, 6, 1), "copied_whole": True}
    session.add(SafetySheet(material_id=material.id, added_by=keeper, added_at=NOW, **said))
    session.flush()


def card(session: Session, material: Material, **more: Any) -> CardVentilation:
    found = card_of_material(session, material, judge_material(session, material, US, TODAY), **more)
    assert found is not None
    return found


def numbers(found: CardVentilation) -> list[int | None]:
    return [found.by_amount[size].number for size in AmountBand]


def thinner(session: Session, *classes: str, **more: Any) -> Material:
    """A liquid with a whole sheet, whose figures the tables hold by its published row."""
    said: dict[str, Any] = {"hazards": list(classes), "known_key": "turpentine", "cas": ""}
    material = add(session, **(said | more))
    add_sheet(session, material)
    return material


def box(session: Session, material: Material, **more: Any) -> Container:
    said: dict[str, Any] = {"code": "TTTTT2", "state": ContainerState.SEALED, "created_at": NOW}
    row = Container(material_id=material.id, **(said | more))
    session.add(row)
    session.flush()
    return row


def test_a_material_without_any_fact_has_no_class_at_any_amount(database: Database) -> None:
    with database.reading() as session:
        found = card(session, add(session, "Riddle"))
    assert numbers(found) == [None, None, None]
    assert [one.at_least for one in found.by_amount.values()] == [2, 3, 4]
    assert not any(one.verdict.complete for one in found.by_amount.values())


def test_a_card_has_three_answers_and_warmth_makes_them_worse(database: Database) -> None:
    with database.reading() as session:
        material = thinner(session, "Skin Sens. 1 H317", "Flam. Liq. 3 H226", "Asp. Tox. 1 H304")
        cool, usual = card(session, material, operating_c=15.0), card(session, material)
    # One of the published lists gives turpentine STOT RE 1, which is group D whatever its sheet says.
    assert numbers(usual) == [3, 4, 4]
    assert usual.by_amount[SMALL].volatility is Volatility.MEDIUM
    assert cool.by_amount[SMALL].at_least <= usual.by_amount[SMALL].at_least
    said = [one.sentence for one in usual.by_amount[SMALL].because]
    assert any("25 °C was taken" in one for one in said)
    assert any("H372" in one for one in said)


def test_a_sheet_that_is_missing_leaves_the_class_open(database: Database) -> None:
    with database.reading() as session:
        material = add(session, hazards=["Eye Irrit. 2 H319"], known_key="turpentine")
        found = card(session, material)
    assert numbers(found) == [None, None, None]


def test_the_headline_is_for_the_containers_own_size(database: Database) -> None:
    with database.reading() as session:
        material = thinner(session, "Skin Sens. 1 H317", density_g_ml=Decimal("0.86"), basis=Basis.MASS)
        assert card(session, material).headline is None
        tin = box(session, material, capacity_ul=500_000, balance=200_000)
        assert band_of_container(material, tin) is SMALL
        assert card(session, material).headline is SMALL
        drum = box(session, material, code="TTTTT4", balance=900_000_000)
        assert band_of_container(material, drum) is LARGE
        can = box(session, material, code="TTTTT6", capacity_ul=1_000_000)
        assert band_of_container(material, can) is MEDIUM
        assert card(session, material).headline is LARGE
        found = card_of_container(session, material, tin, US, TODAY)
        assert found is not None
        assert found.headline is SMALL
        unsized = box(session, material, code="TTTTT8")
        assert band_of_container(material, unsized) is None


def test_what_was_poured_into_a_container_counts(database: Database) -> None:
    with database.reading() as session:
        material = thinner(session, "Eye Irrit. 2 H319")
        plain = box(session, material, capacity_ul=500_000)
        taken = {"inherited_hazards": ["Carc. 1B H350"]}
        mixed = box(session, material, code="TTTTT4", capacity_ul=500_000, **taken)
        before = card_of_container(session, material, plain, US, TODAY)
        after = card_of_container(session, material, mixed, US, TODAY)
    assert before is not None and after is not None
    assert after.by_amount[SMALL].number == 4
    assert before.by_amount[SMALL].at_least < 4


@pytest.mark.parametrize(
    ("more", "number"),
    [
        ({}, 2),
        ({"toxic_metals": ["lead"]}, None),
        ({"name": "Lead white, dry"}, None),
        ({"ci_name": "PW1"}, None),
        ({"ci_name": "C.I. Pigment White 1"}, None),
    ],
)
def test_a_powder_is_dusty_and_lead_has_a_law_of_its_own(
    database: Database, more: dict[str, Any], number: int | None
) -> None:
    said = {"name": "Whiting", "kind": MaterialKind.DRY_PIGMENT, "form": Form.POWDER, "hazards": []} | more
    with database.reading() as session:
        material = add(session, **said)
        add_sheet(session, material)
        found = card(session, material).by_amount[MEDIUM]
    assert found.at_least >= 2
    assert found.dustiness == "high"
    if number is None:
        assert [one.what for one in found.not_covered] == ["lead"]
        assert found.number is None


def test_a_warm_room_makes_it_worse_and_a_cool_one_never_milder(database: Database) -> None:
    with database.reading() as session:
        keeper = cast(session).keeper.id or 0
        room = Place(code="TTRM22", name="Loft", kind=PlaceKind.ROOM, created_at=NOW)
        session.add(room)
        session.flush()
        shelf = Place(code="TTRM24", name="Shelf", kind=PlaceKind.SHELF, parent_id=room.id, created_at=NOW)
        session.add(shelf)
        session.flush()
        assert warm_room(session, None) is None
        assert warm_room(session, shelf.id) is None
        air = RoomAir(place_id=room.id or 0, temperature_tenths=120, set_by=keeper, set_at=NOW)
        session.add(air)
        session.flush()
        assert warm_room(session, shelf.id) is None
        air.temperature_tenths = 385
        session.flush()
        assert warm_room(session, shelf.id) == ("Loft", 38.5)
        material = thinner(session, "Skin Sens. 1 H317", known_key="acetone")
        tin = box(session, material, capacity_ul=500_000)
        usual = card_of_container(session, material, tin, US, TODAY)
        hot = card_of_container(session, material, tin, US, TODAY, 60.0)
    assert usual is not None and hot is not None
    assert hot.by_amount[SMALL].number == 4
    assert "liquid above its boiling point" in [one.what for one in hot.by_amount[SMALL].not_covered]
    assert usual.by_amount[SMALL].at_least < 4


def test_brushes_and_paper_get_no_class(database: Database) -> None:
    with database.reading() as session:
        brush = add(session, "Brush", kind=MaterialKind.CONSUMABLE, form=Form.PIECES)
        assert card_of_material(session, brush, judge_material(session, brush, US, TODAY)) is None


def mix(session: Session, *lines: tuple[Material, int | None]) -> VentilationClass:
    read = [
        LineRead(material, "as written", low=amount, high=amount, basis=Basis.VOLUME)
        for material, amount in lines
    ]
    judged, shares = judge_lines(session, read, US, TODAY)
    return of_lines(session, read, shares.parts, judged, TODAY, operating_c=20.0)


def test_a_mix_has_one_answer_from_its_whole_amount(database: Database) -> None:
    with database.reading() as session:
        oil = add(
            session, "Oil", kind=MaterialKind.BINDER, hazards=[], known_key="linseed_raw",
            density_g_ml=Decimal("0.93"),
        )  # fmt: skip
        add_sheet(session, oil)
        spirit = thinner(session, "Skin Sens. 1 H317", density_g_ml=Decimal("0.86"), known_key="turpentine")
        small = mix(session, (oil, 700_000), (spirit, 200_000))
        medium = mix(session, (oil, 700_000), (spirit, 300_000))
        alone = mix(session, (oil, 700_000))
        open_ended = mix(session, (oil, 700_000), (spirit, None))
    assert (small.amount, medium.amount) == (SMALL, MEDIUM)
    assert small.at_least < medium.at_least
    assert any(one.statement == "H372" for one in medium.because)
    assert any("brought by turpentine" in one.sentence for one in medium.because)
    assert medium.volatility is Volatility.MEDIUM
    assert alone.volatility is Volatility.LOW
    assert (open_ended.number, open_ended.amount) == (None, None)
    assert "amount-not-told" in open_ended.verdict.codes


def test_a_powder_of_a_mix_is_judged_undiluted(database: Database) -> None:
    with database.reading() as session:
        oil = add(
            session, "Oil", kind=MaterialKind.BINDER, hazards=[], known_key="linseed_raw",
            density_g_ml=Decimal("0.93"),
        )  # fmt: skip
        add_sheet(session, oil)
        pigment = add(
            session, "Brown", kind=MaterialKind.DRY_PIGMENT, form=Form.POWDER, hazards=["Carc. 1A H350"],
            bulk_low_g_ml=Decimal("0.5"), bulk_high_g_ml=Decimal("0.6"),
        )  # fmt: skip
        add_sheet(session, pigment)
        # 0.03 % of it: the wet mix is no carcinogen, the powder on the scales is.
        found = mix(session, (oil, 1_000_000), (pigment, 500))
    assert found.number == 4
    assert any("weighed and tipped in" in one.sentence for one in found.because)
