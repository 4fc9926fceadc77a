"""Loads of rags in drums: counted once, never less than what was put in, and never hidden by a number."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest

from service.core.rags import RagStep, Water
from service.core.waste_drums import DrumStep
from service.core.waste_rules import Category, Kind
from service.records.engine import Database
from tests.rag_shop import RagShop, make_shop
from tests.waste_yard import Yard


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


@pytest.fixture
def yard(shop: RagShop) -> Yard:
    return Yard(shop.database, shop.people)


def outside(shop: RagShop, mass: str = "0.4 kg") -> int:
    """A load that went into the drum outside; its number."""
    shop.draw()
    shop.pass_by(minutes=5)
    shop.step(RagStep.OUTSIDE_DRUM, can_id=shop.drum, water=Water.FULL, mass=mass)
    return shop.load_id()


def month_of(yard: Yard, number: int = 0) -> tuple[Fraction, bool, Category]:
    month, _ = yard.record().months[number]
    mass = month.month.of(Kind.WASTE)
    return mass.kg, mass.more, month.at_least


def test_what_names_a_load_and_is_something_else_counts_by_itself(shop: RagShop, yard: Yard) -> None:
    load = outside(shop)
    drum = yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, load_id=load, what="Spent thinner", amount="150 kg", now=shop.now)
    assert month_of(yard) == (Fraction(1504, 10), False, Category.SQG)


@pytest.mark.parametrize("what", ["", "Oily rags", "rags of load 1"])
def test_a_load_counts_once_and_never_less_than_was_put_in(shop: RagShop, yard: Yard, what: str) -> None:
    load, drum = outside(shop), yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, load_id=load, what=what, now=shop.now)
    assert month_of(yard)[:2] == (Fraction(4, 10), False), "told by its own step"
    yard.step(drum, DrumStep.PUT_IN, load_id=load, what=what, amount="100 kg", now=shop.now)
    yard.step(drum, DrumStep.PUT_IN, load_id=load, what=what, amount="50 kg", now=shop.now)
    assert month_of(yard) == (Fraction(150), False, Category.SQG)
    yard.step(drum, DrumStep.PUT_IN, load_id=load, what=what, amount="9 l", now=shop.now)
    assert month_of(yard)[:2] == (Fraction(150), True), "litres say nothing of its mass"


def test_a_load_nobody_weighed_is_at_least_what_was_put_in(shop: RagShop, yard: Yard) -> None:
    load, drum = outside(shop, mass=""), yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, load_id=load, amount="150 kg", now=shop.now)
    assert month_of(yard) == (Fraction(150), True, Category.SQG)


def test_a_load_put_in_in_another_month_counts_there_too(shop: RagShop, yard: Yard) -> None:
    load, drum = outside(shop), yard.begin()["drum"]
    yard.step(drum, DrumStep.PUT_IN, load_id=load, amount="150 kg", now=shop.now + timedelta(days=31))
    assert [month_of(yard, number)[0] for number in (0, 1)] == [150, 150]


def test_words_beside_a_load_that_say_no_rags_are_judged(shop: RagShop, yard: Yard) -> None:
    load, drum = outside(shop), yard.begin()["drum"]
    done = yard.step(drum, DrumStep.PUT_IN, load_id=load, what="mystery liquid of the shelf", now=shop.now)
    assert "waste-mix-not-judged" in {one["code"] for one in done["findings"]}
    other = yard.begin(name="Rags")["drum"]
    done = yard.step(other, DrumStep.PUT_IN, load_id=load, what="rags", now=shop.now)
    assert "waste-mix-not-judged" not in {one["code"] for one in done["findings"]}
