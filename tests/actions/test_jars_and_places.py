"""What a jar can hold, where it may stand, and what nobody takes for a measure."""

from __future__ import annotations

import itertools
from decimal import Decimal

import pytest

from service.actions.add_to_batch import AddAsked, add
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, balance_of, finish
from service.actions.keep_as_made import AsMadeAsked, keep_as_made, written_of
from service.actions.receive_stock import ReceiveAsked, receive
from service.actions.start_sample import SampleAsked, start_sample
from service.actions.what_went_in import what_went_in
from service.core.additions import HowAdded
from service.core.as_made import MadeLine, Stuff, what_it_makes
from service.core.findings import Invalid
from service.core.materials import Basis
from service.records.engine import Database
from service.records.materials import Material
from service.records.mixing_queries import lines_of, the_batch, the_recipe, the_version
from service.records.places import NO_STOCK, PlaceKind
from tests.actions.sample_steps import BOARD, Sampled, begun
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


def loose_umber(database: Database, made: Sampled) -> None:
    """Raw umber that lies at 0.55 to 0.75 g/ml and whose grains weigh 3.2 g/ml (figures of the example)."""
    with database.writing() as session:
        umber = session.get_one(Material, made.shop.ids["raw umber"])
        umber.bulk_low_g_ml, umber.bulk_high_g_ml = Decimal("0.55"), Decimal("0.75")
        umber.density_g_ml = Decimal("3.2")
        session.add(umber)


def test_a_spoon_of_powder_keeps_its_spread_in_what_is_made_again(database: Database) -> None:
    """A US tablespoon holds 14.787 ml: 8.13 g at 0.55 g/ml, 11.09 g at 0.75 g/ml, by hand."""
    made = begun(database)
    loose_umber(database, made)
    made.add("raw umber", "1 tbsp"), made.add("boiled oil", "60 ml")
    with database.writing() as session:
        asked = AsMadeAsked(once=once(), batch_id=made.batch)
        number = keep_as_made(session, made.shop.actor(), made.shop.now, asked).result["recipe"]
    with database.reading() as session:
        recipe = the_recipe(session, int(number))
        version = the_version(session, recipe)
        written = {m.name: row.written for row, m in lines_of(session, version.id or 0)}
    assert written["raw umber"] == "8.13 g to 11.1 g" and written["boiled oil"] == "60 ml"
    weighed = begun_again(database, made)
    assert weighed == "5 g"


def begun_again(database: Database, made: Sampled) -> str:
    """What was weighed is written as it was weighed."""
    with database.writing() as session:
        asked = SampleAsked(once=once(), target="another door", board=BOARD, purpose="stain")
        batch = int(start_sample(session, made.shop.actor(), made.shop.now, asked).result["batch"])
    with database.writing() as session:
        more = AddAsked(once=once(), batch_id=batch, amount="5 g", code=made.cans["raw umber"])
        add(session, made.shop.actor(), made.shop.now, more)
    with database.reading() as session:
        (line,) = what_went_in(session, batch).made.lines
    return written_of(line)


def test_a_balance_by_the_room_things_take_where_the_mix_was_never_weighed(database: Database) -> None:
    """32 g of grains at 3.2 g/ml take 10 ml: with 160 ml of liquids 170 ml went in and 100 ml came out."""
    made = begun(database)
    loose_umber(database, made)
    made.add("raw umber", "32 g"), made.add("boiled oil", "60 ml"), made.add("spirit", "100 ml")
    made.finish("100 ml", loss="3 ml", loss_note="pot")
    with database.reading() as session:
        told = balance_of(session, the_batch(session, made.batch))
    assert (told.difference, told.lost, told.unexplained) == (70_000, 3_000, 67_000)
    assert {"not-explained", "volumes-do-not-add"} <= {f.code for f in told.findings}
