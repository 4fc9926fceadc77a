"""Ways around the rag duty, each tried on both databases. Every one leaves the duty standing.

Standing means: the load has not ended, neither clock is later than it was, and the block is still on.
"""

from __future__ import annotations

import ast
import itertools
from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlmodel import col, select

import service
from service.actions.container_events import MoveAsked, OpenAsked, move, open_container
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.decant import DecantAsked, decant
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.give_rags import give_to
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.make_batch import StartAsked, start
from service.actions.manage_people import switch_person
from service.actions.revise_material import Revision, facts_held, revise_material
from service.actions.run_job import close_job
from service.actions.set_up_shop import Profile, change_profile
from service.actions.settle import the_shop
from service.core.access import Role
from service.core.findings import Refused
from service.core.ledger import Destination
from service.core.materials import SelfHeating
from service.core.rags import RagStep
from service.records.duties import Duty
from service.records.engine import Database
from service.records.materials import Material
from service.records.people import Person
from service.records.places import PlaceKind
from service.records.rag_queries import log_rows
from service.records.shop import Shift
from service.records.stock import Movement
from tests.rag_shop import (
    ENDS,
    RagShop,
    a_batch,
    a_recipe,
    add_container,
    add_place,
    add_stock,
    codes_of,
    kept_check_of,
    make_shop,
    material_id,
    once,
    open_a_job,
)
from tests.rag_stands import stands

_secrets = (f"secret-{n}" for n in itertools.count())


def chance() -> str:
    return next(_secrets)


@pytest.fixture
def shop(database: Database) -> RagShop:
    """A load is overdue and loose, and a second job runs in which somebody would like to go on."""
    made = make_shop(database)
    made.overdue()
    made.job = open_a_job(made, "Second job", ends_at=None)
    return made


def _unflag(shop: RagShop, number: int) -> None:
    with shop.database.writing() as session:
        material = session.get(Material, number)
        assert material is not None
        facts = replace(
            facts_held(material), self_heating=SelfHeating.NO, binder="none",
            self_heating_reason="It was said that it does not heat",
            keeper_only=None,
        )  # fmt: skip
        asked = Revision(once(), material.version, facts=facts, reason="A try to get around the rags")
        revise_material(session, shop.actor(Role.KEEPER), shop.now, number, asked)


def test_the_flag_is_not_taken_off_while_rags_are_overdue(shop: RagShop) -> None:
    with stands(shop), pytest.raises(Refused) as refused:
        _unflag(shop, material_id(shop, shop.oil))
    assert codes_of(refused.value) == {"rags-overdue"}


def test_the_flag_taken_off_before_ends_no_load(database: Database) -> None:
    shop = make_shop(database)
    other = ""
    with shop.database.writing() as session:
        other = add_stock(session, shop.people, "Tung oil", SelfHeating.YES)
    shop.draw(other)
    shop.pass_by(minutes=1)
    with shop.database.writing() as session:
        material = session.get(Material, material_id(shop, other))
        assert material is not None
        material.self_heating, material.self_heating_reason = SelfHeating.NO, "said so"
        session.add(material)
    shop.pass_by(hours=4)
    shop.job = open_a_job(shop, "Second job", ends_at=None)
    with stands(shop):
        pass


def test_a_twin_without_the_flag_counts_as_self_heating(shop: RagShop) -> None:
    with shop.database.writing() as session:
        twin = add_stock(session, shop.people, "Linseed oil boiled", SelfHeating.NOT_KNOWN)
    with stands(shop), pytest.raises(Refused) as refused:
        shop.draw(twin)
    assert "rags-overdue" in codes_of(refused.value)


def test_a_second_can_of_the_same_material(shop: RagShop) -> None:
    with shop.database.writing() as session:
        twin = add_container(session, shop.people, material_id(shop, shop.oil))
    with stands(shop), pytest.raises(Refused):
        shop.draw(twin)


def test_a_draw_reversed_leaves_its_load(shop: RagShop) -> None:
    with shop.database.reading() as session:
        movement = session.exec(select(Movement.id).where(col(Movement.rag_load_id) == 1)).one()
    with stands(shop), shop.database.writing() as session:
        asked = ReverseAsked(once(), movement or 0, "It was the wrong can after all")
        reverse(session, shop.actor(Role.KEEPER), shop.now, asked)


def test_a_load_given_to_another(shop: RagShop) -> None:
    with stands(shop), shop.database.writing() as session:
        keeper = shop.actor(Role.KEEPER)
        give_to(session, keeper, shop.now, 1, keeper.person_id, "Piet has gone home ill", once())
    assert shop.load(1).row.owed_by == shop.people.keeper.id


def test_the_shift_edited_the_grace_and_the_zone_changed(shop: RagShop) -> None:
    with stands(shop), shop.database.writing() as session:
        for shift in session.exec(select(Shift)).all():
            shift.ends = time(23, 59)
            session.add(shift)
        profile = the_shop(session)
        said = Profile(profile.name, "Pacific/Honolulu", profile.regime, profile.unit_system, 120)
        change_profile(session, shop.actor(Role.KEEPER), shop.now, profile.version, said)


def test_the_job_does_not_close_over_loose_rags(shop: RagShop) -> None:
    with stands(shop), shop.database.writing() as session, pytest.raises(Refused) as refused:
        close_job(session, shop.actor(Role.KEEPER), shop.now, 1, once())
    assert "rags-not-contained" in codes_of(refused.value)


def test_a_closed_job_still_owes_its_rags(database: Database) -> None:
    shop = make_shop(database)
    shop.overdue_in_can()
    with shop.database.writing() as session:
        close_job(session, shop.actor(Role.FINISHER), shop.now, 1, once())
    shop.job = open_a_job(shop, "Second job", ends_at=None)
    shop.pass_by(minutes=1)
    with stands(shop):
        pass


@pytest.mark.parametrize("table", ["rag_load", "rag_log"])
def test_the_database_itself_deletes_neither_load_nor_log(shop: RagShop, table: str) -> None:
    refused = pytest.raises(Exception, match=r"never|append-only")
    with stands(shop), refused, shop.database.writer.begin() as connection:
        connection.execute(text(f"delete from {table}"))


@pytest.mark.parametrize("later", ["contain_by", "remove_by"])
def test_the_database_itself_moves_no_clock_later(shop: RagShop, later: str) -> None:
    far = {"t": (shop.now + timedelta(days=9)).isoformat()}
    with stands(shop), pytest.raises(Exception, match="never move later"), shop.database.writer.begin() as c:
        c.execute(text(f"update rag_load set {later} = :t"), far)


def test_no_act_deletes_a_job_or_a_load() -> None:
    """Nothing in the service deletes a job, its people, a load, the log, a duty, a movement or a posting."""
    kept = {"job", "load", "duty", "movement", "posting", "container", "material", "override", "Job"}
    root = Path(service.__file__).parent
    for path in root.rglob("*.py"):
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            if getattr(node.func, "attr", getattr(node.func, "id", "")) == "delete":
                names = {arg.id for arg in node.args if isinstance(arg, ast.Name)}
                assert not names & kept, f"{path.name}: {names}"


def test_the_one_who_owes_it_is_switched_off(shop: RagShop) -> None:
    with stands(shop):
        with shop.database.writing() as session:
            person = session.get(Person, shop.people.finisher.id)
            assert person is not None and person.id is not None
            switch_person(session, shop.actor(Role.KEEPER), shop.now, person.id, person.version, active=False)
        assert shop.load(1).row.owed_by == shop.people.finisher.id
    assert "Piet Maas" in shop.load(1).judgement.sentence


def test_oil_taken_as_a_count_difference_is_written_down(shop: RagShop) -> None:
    with stands(shop):
        with shop.database.writing() as session:
            asked = CountAsked(once=once(), code=shop.oil, amount="600 ml")
            count(session, shop.actor(Role.FINISHER), shop.now, asked)
        with shop.database.reading() as session:
            kinds = [row.kind for row in log_rows(session)]
            assert "unexplained-use" in kinds and "violation" in kinds
            assert session.exec(select(Duty).where(col(Duty.keeper_answers).is_(True))).all()


@pytest.mark.parametrize("where", [Destination.WASTE_DRUM, Destination.HAULER, Destination.DRY_REFUSE])
def test_oil_taken_as_a_discard(shop: RagShop, where: Destination) -> None:
    with stands(shop), shop.database.writing() as session:
        asked = DiscardAsked(once=once(), code=shop.oil, destination=where, amount="200 ml")
        discard(session, shop.actor(Role.FINISHER), shop.now, asked)


def test_oil_taken_as_a_discard_into_the_rag_can_is_refused(shop: RagShop) -> None:
    asked = DiscardAsked(
        once=once(), code=shop.oil, destination=Destination.RAG_CAN, amount="200 ml", job_id=shop.job
    )
    with stands(shop), shop.database.writing() as session, pytest.raises(Refused):
        discard(session, shop.actor(Role.FINISHER), shop.now, asked)


def test_through_a_mix_made_before(database: Database) -> None:
    shop = make_shop(database)
    batch = a_batch(shop, a_recipe(shop))
    shop.pass_by(minutes=1)
    with shop.database.writing() as session:
        jars = (JarAsked("150 ml"),)
        asked = FinishAsked(once=once(), batch_id=batch, jars=jars, loss_note="pot and brush")
        made = finish(session, shop.actor(Role.FINISHER), shop.now, asked, chance).result
    jar = made["jars"][0]["code"]
    with shop.database.writing() as session:
        mix = session.get(Material, material_id(shop, jar))
        assert mix is not None
        mix.self_heating, mix.self_heating_reason, mix.binder = SelfHeating.NO, "it was said so", "none"
        session.add(mix)
    shop.pass_by(hours=4)
    shop.job = open_a_job(shop, "Second job", ends_at=None)
    with stands(shop), pytest.raises(Refused) as refused:
        shop.draw(jar)
    assert "rags-overdue" in codes_of(refused.value)


def test_no_new_batch_and_no_batch_set_aside(shop: RagShop) -> None:
    check = kept_check_of(shop, a_recipe(shop))
    with stands(shop), shop.database.writing() as session, pytest.raises(Refused) as refused:
        asked = StartAsked(once=once(), check_id=check, job_id=shop.job)
        start(session, shop.actor(Role.FINISHER), shop.now, asked)
    assert "rags-overdue" in codes_of(refused.value)


@pytest.mark.parametrize("kind", [PlaceKind.BENCH, PlaceKind.VEHICLE, PlaceKind.KIT, PlaceKind.CUSTOMER_SITE])
def test_a_container_moved_whole(shop: RagShop, kind: PlaceKind) -> None:
    with shop.database.writing() as session:
        work = add_place(session, "Somewhere", kind)
        shelf = add_place(session, "A shelf in it", PlaceKind.SHELF, parent_id=work)
    for place in (work, shelf, None):
        asked = MoveAsked(once=once(), code=shop.oil, place_id=place, handed_to="" if place else "Ms Winter")
        with stands(shop), shop.database.writing() as session, pytest.raises(Refused):
            move(session, shop.actor(Role.FINISHER), shop.now, asked)


@pytest.mark.parametrize("into_other", [True, False])
def test_decanted_into_another_jar(shop: RagShop, into_other: bool) -> None:
    with shop.database.writing() as session:
        other = add_container(session, shop.people, material_id(shop, shop.oil))
    asked = DecantAsked(once=once(), code=shop.oil, amount="100 ml", into=other if into_other else "")
    with stands(shop), shop.database.writing() as session, pytest.raises(Refused):
        decant(session, shop.actor(Role.FINISHER), shop.now, asked, chance)


def test_a_sealed_can_opened_without_a_draw(shop: RagShop) -> None:
    asked = OpenAsked(once=once(), code=shop.oil)
    with stands(shop), shop.database.writing() as session, pytest.raises(Refused):
        open_container(session, shop.actor(Role.FINISHER), shop.now, asked)


@pytest.mark.parametrize("back", [timedelta(minutes=31), timedelta(days=2)])
def test_the_clock_of_the_machine_goes_back(shop: RagShop, back: timedelta) -> None:
    shop.step(RagStep.LOOSE)  # the book has heard of this instant
    before = shop.load(1).row
    now, shop.now = shop.now, shop.now - back
    with pytest.raises(Refused) as refused:
        shop.draw()
    assert "rags-overdue" in codes_of(refused.value)
    shop.now = now
    assert shop.load(1).row.remove_by == before.remove_by


@pytest.mark.parametrize("minutes", [10, 31, 44])
def test_a_draw_dated_before_the_block_is_no_way_through(database: Database, minutes: int) -> None:
    """Within the quarter of an hour that needs no reason it is judged now; beyond it, it is a late entry that
    says so, joins a load and stands in the log."""
    shop = make_shop(database)
    shop.draw()
    shop.now = ENDS + timedelta(minutes=5)
    shop.job = open_a_job(shop, "Second job", ends_at=None)
    when = shop.now - timedelta(minutes=minutes)
    if minutes <= 15:
        with stands(shop), pytest.raises(Refused) as refused:
            shop.draw(happened_at=when, job_id=1)
        assert "rags-overdue" in codes_of(refused.value)
        return
    with stands(shop):
        shop.draw(happened_at=when, job_id=1, late_reason="Written up after the class")
        with shop.database.reading() as session:
            newest = log_rows(session)[-1]
            assert newest.kind == "draw-joined" and newest.happened_at == when < newest.recorded_at


def test_said_to_be_done_already_is_a_violation_that_somebody_else_answers(shop: RagShop) -> None:
    with stands(shop):
        shop.draw(already_done=True, late_reason="Done before anybody looked")
    with shop.database.reading() as session:
        duty = session.exec(select(Duty).where(col(Duty.keeper_answers).is_(True))).one()
    assert duty.owed_by != shop.people.finisher.id


def test_a_student_joins_no_other_way(shop: RagShop) -> None:
    with stands(shop), pytest.raises(Refused):
        shop.draw(role=Role.STUDENT)


def test_nothing_oily_is_blocked_only(shop: RagShop) -> None:
    """What does not heat goes on: else people would learn to work beside the book."""
    shop.draw(shop.spirit)

