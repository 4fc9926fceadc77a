"""What a jar can hold, where it may stand, and what nobody takes for a measure."""

from __future__ import annotations

import itertools

import pytest

from service.actions.add_to_batch import AddAsked, add
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.receive_stock import ReceiveAsked, receive
from service.core.additions import HowAdded
from service.core.as_made import MadeLine, Stuff, what_it_makes
from service.core.findings import Invalid
from service.core.materials import Basis
from service.records.engine import Database
from service.records.places import NO_STOCK, PlaceKind
from tests.actions.sample_steps import begun
from tests.store_builders import holds, once, place

_number = itertools.count(1)


def jar(database: Database, batch: int, shop: object, **said: object) -> None:
    with database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("80 ml", **said),))  # type: ignore[arg-type]
        finish(session, shop.actor(), shop.now, asked, lambda: f"jar {next(_number)}")  # type: ignore[attr-defined]


def test_a_jar_holds_no_more_than_it_can(database: Database) -> None:
    made = begun(database)
    made.add("spirit", "100 ml")
    with pytest.raises(Invalid) as no:
        jar(database, made.batch, made.shop, capacity="50 ml")
    assert no.value.errors == {"capacity_0": "A jar of 50 ml does not hold 80 ml."}
    jar(database, made.batch, made.shop, capacity="80 ml")
    holds(database)


@pytest.mark.parametrize("kind", NO_STOCK)
def test_nothing_of_the_store_stands_in_a_can_for_rags(database: Database, kind: PlaceKind) -> None:
    made = begun(database)
    made.add("spirit", "100 ml")
    with database.writing() as session:
        number = place(session, "Red can", kind).id
    with pytest.raises(Invalid, match="for rags or waste"):
        jar(database, made.batch, made.shop, place_id=number)
    with database.writing() as session, pytest.raises(Invalid, match="for rags or waste") as no:
        asked = ReceiveAsked(once=once(), material_id=made.shop.ids["spirit"], amount="1 l", place_id=number)
        receive(session, made.shop.actor(), made.shop.now, asked, lambda: "code")
    assert set(no.value.errors) == {"place_id"}


def test_a_range_is_no_amount_that_was_put_in(database: Database) -> None:
    """Booked at its upper end it would be a figure that nobody measured."""
    made = begun(database)
    with pytest.raises(Invalid, match="one amount, as it was put in"):
        made.add("spirit", "1 to 2 tsp")
    made.add("spirit", "about 2 tsp")
    with database.writing() as session:
        asked = AddAsked(
            once=once(), batch_id=made.batch, code=made.cans["boiled oil"], how=HowAdded.NOT_MEASURED
        )
        add(session, made.shop.actor(), made.shop.now, asked)


def test_jars_are_no_yield_of_what_nobody_measured() -> None:
    """2,390 ml or more went in and one jar of 900 ml is kept: the recipe makes nobody knows how much."""
    stuff = {1: Stuff("spirits", liquid=True)}
    lines = [MadeLine(1, Basis.VOLUME, 2_390_000, unmeasured=True)]
    assert what_it_makes(lines, stuff, (900_000, Basis.VOLUME, "")) is None
    measured = what_it_makes(lines, stuff, (900_000, Basis.VOLUME, "measured"))
    assert measured is not None and measured.amount == 900_000
    whole = what_it_makes([MadeLine(1, Basis.VOLUME, 1_000_000)], stuff, (900_000, Basis.VOLUME, ""))
    assert whole is not None and whole.amount == 900_000
