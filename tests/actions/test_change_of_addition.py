"""What an addition changed in a batch: by the worse end, of each addition, and before it goes in."""

from __future__ import annotations

from datetime import timedelta

import pytest

from service.actions.add_to_batch import AddAsked
from service.actions.change_of_addition import change_if_added, change_of_addition, change_of_undo
from service.actions.mix_of_materials import judge_lines, lines_of_batch
from service.core.additions import HowAdded, Span
from service.core.findings import Invalid
from service.core.mix_change import MixChange
from service.records.engine import Database
from service.records.materials import Material
from tests.actions.test_bench_additions import TODAY_LAW, newest, put_in, running, take_back
from tests.mixing_shop import MixShop
from tests.store_builders import once


def changed(shop: MixShop, batch: int) -> MixChange:
    with shop.database.reading() as session:
        number = newest(session, batch).row.id or 0
        found = change_of_addition(session, batch, number, TODAY_LAW, shop.now.date()).change
    assert found is not None
    return found


def test_a_solvent_in_tap_water_makes_it_flammable_and_says_so(database: Database) -> None:
    shop, batch = running(database)
    change = changed(shop, batch)
    assert change.before.empty and change.after.mass == Span(78_000, 78_000)
    assert change.after.volume == Span(100_000, 100_000)
    assert not change.complete, "nobody told the classes of the spirit"
    with database.writing() as session:
        spirit = session.get_one(Material, shop.ids["spirit"])
        spirit.hazards, spirit.flash_point_c = ["Flam. Liq. 3 H226"], None
        session.add(spirit)
    put_in(shop, batch, material_id=shop.ids["tap water"], amount="5 ml")
    change = changed(shop, batch)
    assert "Flam. Liq. 3 H226" in [one.text for one in change.before.hazards]
    assert change.after.mass == Span(83_000, 83_000)
    assert "nothing-changed" not in change.verdict.codes, "of the spirit not everything is known"


def test_oil_in_it_owes_its_rags_from_then_on(database: Database) -> None:
    shop, batch = running(database)
    put_in(shop, batch, code=shop.can("boiled oil"), amount="50 ml")
    assert "rags-heat" in changed(shop, batch).verdict.codes
    put_in(shop, batch, material_id=shop.ids["boiled oil"], amount="50 ml")
    assert "rags-heat" not in changed(shop, batch).verdict.codes


def test_not_measured_counts_as_the_worse_end_on_both_sides(database: Database) -> None:
    shop, batch = running(database)
    with database.writing() as session:
        for name, classes in (("spirit", ["Flam. Liq. 3 H226", "Asp. Tox. 1 H304"]), ("raw umber", [])):
            material = session.get_one(Material, shop.ids[name])
            material.hazards = classes
            session.add(material)
    put_in(shop, batch, code=shop.can("raw umber", 2_000_000), how=HowAdded.NOT_MEASURED)
    change = changed(shop, batch)
    assert change.after.mass == Span(78_000, 2_078_000)
    assert {"Flam. Liq. 3 H226"} <= {one.text for one in change.after.hazards}
    assert "not-measured" in {one.code for one in change.new_unknowns}
    assert not any("went" in code and "perhaps" not in code for code in change.verdict.codes)
    with database.reading() as session:
        _, shares = judge_lines(session, lines_of_batch(session, batch), TODAY_LAW, shop.now.date())
    spirit, umber = shares.parts
    assert (spirit.high, umber.low) == (100, 0) and spirit.low < 4 and umber.high > 96


def test_what_if_books_nothing_and_says_the_same(database: Database) -> None:
    shop, batch = running(database)
    code = shop.can("boiled oil")
    asked = AddAsked(once=once(), batch_id=batch, code=code, amount="50 ml")
    with database.reading() as session:
        look = change_if_added(session, shop.actor(), shop.now, shop.now.date(), asked, TODAY_LAW)
    assert shop.left(code) == 1_000_000
    put_in(shop, batch, code=code, amount="50 ml")
    done = changed(shop, batch)
    assert (look.before, look.after) == (done.before, done.after)
    assert done.verdict.codes <= look.verdict.codes
    with database.reading() as session, pytest.raises(Invalid):
        change_if_added(
            session, shop.actor(), shop.now, shop.now.date(),
            AddAsked(once=once(), batch_id=batch, amount="5 ml"), TODAY_LAW,
        )  # fmt: skip


def test_taking_back_says_what_it_made_of_the_mix(database: Database) -> None:
    shop, batch = running(database)
    with database.writing() as session:
        for name, classes in (("spirit", ["Flam. Liq. 3 H226"]), ("boiled oil", ["Skin Sens. 1 H317"])):
            material = session.get_one(Material, shop.ids[name])
            material.hazards = classes
            session.add(material)
    added = put_in(shop, batch, code=shop.can("boiled oil"), amount="50 ml").result["additions"][0]["id"]
    there = changed(shop, batch)
    take_back(shop, batch, added)
    with database.reading() as session:
        change = change_of_undo(session, batch, added, TODAY_LAW, shop.now.date())
    assert (change.before, change.after) == (there.after, there.before), "exactly the way back"
    gone = [one.sentence for one in change.verdict if one.code.startswith("hazard-")]
    assert any("Skin Sens. 1" in sentence for sentence in gone), gone
    assert not any("This addition" in one.sentence for one in change.verdict)


def test_a_change_is_told_of_each_addition_and_none_of_what_was_taken_back(database: Database) -> None:
    shop, batch = running(database)
    small = shop.can("boiled oil", 2000, printed_date=shop.now.date() + timedelta(days=200))
    shop.can("boiled oil")
    done = put_in(shop, batch, material_id=shop.ids["boiled oil"], amount="5 ml").result["additions"]
    assert done[0]["code"] == small and len(done) == 2
    with database.reading() as session:
        found = change_of_addition(session, batch, done[0]["id"], TODAY_LAW, shop.now.date())
    assert len(found.additions) == 2 and found.change is not None
    assert found.change.after.volume == Span(105_000, 105_000)
    for one in done:
        take_back(shop, batch, one["id"])
    with database.reading() as session:
        found = change_of_addition(session, batch, done[0]["id"], TODAY_LAW, shop.now.date())
    assert found.change is None
