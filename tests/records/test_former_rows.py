"""Former rows: what is kept before a change, and how a row is put back as it stood."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.exc import OperationalError
from sqlmodel import Session, col, select

from service.actions.book_then import book_then
from service.actions.finish_batch import FinishAsked, finish
from service.actions.note_change import note_change
from service.actions.read_recipe import LineAsked
from service.actions.write_recipe import RecipeAsked, revise_recipe
from service.core.containers import ContainerState
from service.core.materials import Form, MaterialKind, SelfHeating
from service.records.components import MaterialComponent
from service.records.copied_book import copied_book, put_back
from service.records.duties import Duty
from service.records.engine import Database
from service.records.former_rows import FORMER, KEPT, RECORDED_AT, kept_since, rows_that_stood
from service.records.jobs import Job
from service.records.materials import Material
from service.records.mixing import Batch, BatchState, Recipe
from service.records.people import Person
from service.records.shop import Change, ShopProfile
from service.records.stock import Container
from service.records.store_in_use import pots_standing
from tests.builders import NOW, cast
from tests.mixing_shop import make_mix_shop
from tests.rag_shop import make_shop
from tests.store_builders import once

LATER = NOW + timedelta(hours=2)
LAST = NOW + timedelta(hours=4)


def a_material(session: Session, **facts: Any) -> Material:
    said = {"hazards": ["Flam. Liq. 3 H226"], "density_g_ml": Decimal("0.870"), "note": "x"} | facts
    row = Material(name="Thinner", kind=MaterialKind.SOLVENT, form=Form.LIQUID, created_at=NOW, **said)
    session.add(row)
    session.flush()
    return row


def change(database: Database, number: int, at: Any, **values: Any) -> None:
    with database.writing() as session:
        session.info[RECORDED_AT] = at
        row = session.get_one(Material, number)
        for name, value in values.items():
            setattr(row, name, value)
        session.add(row)


def material_of(database: Database, at: Any) -> Material:
    with database.snapshot() as session, copied_book(session, at) as copy:
        return copy.exec(select(Material)).one()


def test_a_row_is_told_as_it_stood_at_each_instant(database: Database) -> None:
    with database.writing() as session:
        number = a_material(session).id or 0
    long = "é" * 1990
    change(database, number, LATER, hazards=None, density_g_ml=None, note=long, self_heating=SelfHeating.YES)
    change(database, number, LAST, hazards=[], note="y", self_heating_reason="z" * 2000)
    change(database, number, LAST + timedelta(hours=1), note="last of all", hazards=["Carc. 1B"])
    first, second = material_of(database, LATER), material_of(database, LAST)
    third = material_of(database, LAST + timedelta(hours=1))
    assert (first.hazards, first.density_g_ml, first.note) == (["Flam. Liq. 3 H226"], Decimal("0.870"), "x")
    assert (second.hazards, second.density_g_ml, second.note) == (None, None, long)
    assert second.self_heating is SelfHeating.YES and second.created_at == NOW
    assert (third.hazards, third.note) == ([], "y")
    assert material_of(database, LAST + timedelta(days=1)).hazards == ["Carc. 1B"]


def test_nothing_is_kept_of_what_changes_nothing(database: Database) -> None:
    with database.writing() as session:
        number = a_material(session).id or 0
    change(database, number, LATER, note="x", version=9)
    with database.reading() as session:
        assert kept_since(session) is None
        assert session.exec(select(Change)).all() == []


def test_a_row_that_was_taken_out_is_there_again_and_a_later_one_is_not(database: Database) -> None:
    with database.writing() as session:
        people, number = cast(session), a_material(session).id or 0
        said = {"material_id": number, "source": "sheet", "set_by": people.keeper.id}
        session.add(MaterialComponent(position=0, name="Xylene", hazards=None, set_at=NOW, **said))
    for at, name in ((LATER, "Toluene"), (LAST, "Heptane")):
        with database.writing() as session:
            session.info[RECORDED_AT] = at
            session.delete(session.exec(select(MaterialComponent)).one())
            session.flush()
            session.add(MaterialComponent(position=0, name=name, set_at=at, **said))
    for at, name in ((LATER, "Xylene"), (LAST, "Toluene"), (LAST + timedelta(hours=1), "Heptane")):
        with database.snapshot() as session, copied_book(session, at) as copy:
            assert [row.name for row in copy.exec(select(MaterialComponent)).all()] == [name]


def test_of_people_only_the_name_is_kept_and_no_secret_is_copied(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
    with database.writing() as session:
        session.info[RECORDED_AT] = LATER
        row = session.get_one(Person, people.finisher.id)
        row.name, row.password_hash, row.email = "Piet Maas-Roth", "another", "piet@shop.example"
        session.add(row)
    with database.snapshot() as session:
        (kept,) = session.exec(select(Change).where(col(Change.about_kind) == f"{FORMER}person")).all()
        assert json.loads(kept.before or "") == {"id": people.finisher.id, "name": "Piet Maas"}
        with copied_book(session, LATER) as copy:
            there = copy.get_one(Person, people.finisher.id)
            assert there.name == "Piet Maas"
            assert {one.password_hash for one in copy.exec(select(Person)).all()} == {None}
            assert there.email is None and there.pin_hash is None


def test_a_row_kept_by_an_older_program_takes_what_is_not_known_for_its_new_columns(
    sqlite_database: Database,
) -> None:
    with sqlite_database.writing() as session:
        number = a_material(session).id or 0
    change(sqlite_database, number, LATER, hazards=None, has_drier="yes")
    with sqlite_database.snapshot() as session:
        (former,) = rows_that_stood(session, LATER)
        del former.values["has_drier"]
        with copied_book(session, LATER) as copy:
            put_back(copy, former, LATER)
            copy.commit()
            row = copy.exec(select(Material)).one()
    assert row.hazards == ["Flam. Liq. 3 H226"]
    assert row.has_drier.value == "not-known"


def test_what_was_changed_before_rows_were_kept_is_blanked_and_named(database: Database) -> None:
    """As an older program left it: a note in words, and no row."""
    with database.writing() as session:
        people, row = cast(session), a_material(session)
        number = row.id or 0
        session.connection().exec_driver_sql("update material set note = 'set by an older program'")
        about = ("material", number)
        keeper = people.actor(people.keeper.role)
        note_change(session, keeper, LATER, about, "hazards", "Carc. 1B", "none")
        note_change(session, keeper, LATER, ("shop", 1), "regime", "eu-clp", "us-hcs")
    with database.snapshot() as session, book_then(session, LATER) as told:
        assert [one for one in told.not_known if "Thinner" in one] == list(told.not_known)
        material = told.session.exec(select(Material)).one()
        assert material.hazards is None and material.density_g_ml is None
        assert told.session.get_one(ShopProfile, 1).regime == "eu-clp"
    with database.snapshot() as session, book_then(session, LATER + timedelta(seconds=1)) as told:
        assert told.not_known == ()
        assert told.session.exec(select(Material)).one().hazards == ["Flam. Liq. 3 H226"]


def test_the_copy_refuses_what_it_does_not_hold(database: Database) -> None:
    """A table that is not copied is no empty table: asking it is an error."""
    with (
        database.snapshot() as session,
        copied_book(session, NOW) as copy,
        pytest.raises(OperationalError, match="no such table"),
    ):
        copy.exec(select(Duty)).all()


def test_amount_state_and_place_follow_the_acts(database: Database) -> None:
    shop = make_shop(database)
    before = shop.now
    shop.draw(amount="400 ml")
    with database.reading() as session:
        now = session.exec(select(Container).where(col(Container.code) == shop.oil)).one()
    with database.snapshot() as session, book_then(session, before) as told:
        then = told.session.exec(select(Container).where(col(Container.code) == shop.oil)).one()
    assert (now.balance, then.balance) == (600_000, 1_000_000)
    # By its acts it came sealed and the draw opened it; this shop only says otherwise of its cans.
    assert (now.state, then.state) == (ContainerState.OPEN, ContainerState.SEALED)


def test_a_job_closed_and_a_batch_ended_since_are_open_and_run_then(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also where an older program kept no row of them; a finish told late ran until it was written down."""
    for kind in (Batch, Recipe):
        monkeypatch.delitem(KEPT, kind)
    shop = make_mix_shop(database)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    batch = int(shop.start(shop.keep()).result["batch"])
    before, later = shop.now + timedelta(hours=1), shop.now + timedelta(hours=2)
    with database.writing() as session:
        name, version = session.get_one(Recipe, 1).name, session.get_one(Recipe, 1).version
        asked = FinishAsked(
            once=once(), batch_id=batch, loss_note="pot", happened_at=shop.now + timedelta(minutes=5),
            late_reason="It was written down after the lesson.",
        )  # fmt: skip
        finish(session, shop.actor(), later, asked, iter(["jar"]).__next__)
        lines = (LineAsked(shop.ids["raw umber"], "10 g"),)
        revise_recipe(session, shop.actor(), later, 1, version, RecipeAsked(once(), "Renamed", lines))
        job = session.get_one(Job, shop.job)
        job.closed_at, job.close_note = later, "All of it was used."
        session.add(job)
    for at, over in ((before, False), (later + timedelta(hours=1), True)):
        with database.snapshot() as session, book_then(session, at) as told:
            there = told.session
            row, job = there.get_one(Batch, batch), there.get_one(Job, shop.job)
            assert (row.state is BatchState.FINISHED, row.finished_at is not None) == (over, over)
            assert (job.closed_at is not None, bool(job.close_note)) == (over, over)
            assert there.get_one(Recipe, 1).name == ("Renamed" if over else name)
            assert len(pots_standing(there)) == (not over)
            assert told.not_known == ()
