"""What rags weighed when they left is kept in the log, and the larger figure counts."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from sqlmodel import col, select

from service.core.access import Role
from service.core.rags import RagStep, Removal, RemovalHow, Water
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from service.records.rags import RagLogRow
from tests.rag_shop import RagShop, make_shop
from tests.waste_yard import Yard

AWAY = Removal(RemovalHow.HAULER, "Millrace Carriers")


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


@pytest.mark.parametrize(
    ("first", "then", "kg", "more"),
    [
        ("about 0.4 kg", "160 kg", Fraction(160), False),
        ("160 kg", "1 kg", Fraction(160), False),
        ("", "160 kg", Fraction(160), False),
        ("160 kg", "", Fraction(160), False),
        ("160 kg", "half a drum", Fraction(160), True),
    ],
)
def test_the_larger_mass_of_rags_counts(
    shop: RagShop, first: str, then: str, kg: Fraction, more: bool
) -> None:
    shop.draw()
    shop.pass_by(minutes=5)
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL, mass=first)
    shop.pass_by(minutes=5)
    shop.step(RagStep.REMOVED, Role.KEEPER, loads=(shop.load_id(),), mass=then, removal=AWAY)
    [(month, _)] = Yard(shop.database, shop.people).record().months
    mass = month.month.of(Kind.WASTE)
    assert (mass.kg, mass.more, month.at_least) == (kg, more, Category.SQG)
    with shop.database.reading() as session:
        last = session.exec(select(RagLogRow).order_by(col(RagLogRow.id).desc())).first()
    assert last is not None and json.loads(last.body).get("mass", "") == then


def test_rags_that_only_left_have_the_mass_they_left_with(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=5)
    shop.step(RagStep.REMOVED, Role.KEEPER, loads=(shop.load_id(),), mass="1 kg", removal=AWAY)
    [(month, [line])] = Yard(shop.database, shop.people).record().months
    assert line.kg == 1 and not month.month.of(Kind.WASTE).more
