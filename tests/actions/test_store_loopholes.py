"""Ways to make the book say enough, known or harmless where it is not, found by trying; on both databases."""

from __future__ import annotations

import itertools
from datetime import timedelta

import pytest
from sqlmodel import col, select

from service.actions.container_events import MoveAsked, move
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.count_stock import CountAsked, count
from service.actions.describe_material import MaterialAsked, describe_material
from service.actions.draw_stock import DrawAsked, ReturnAsked, draw, put_back
from service.actions.fill_jars import JarAsked
from service.actions.finish_batch import FinishAsked, finish
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.run_job import JobAsked, open_job
from service.core.access import Role
from service.core.findings import Invalid, Refused
from service.core.ledger import Destination, MovementKind
from service.core.material_entry import Description
from service.core.materials import Form, MaterialKind
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rag_queries import log_rows
from service.records.rags import RagLoad
from service.records.stock import Movement
from tests.builders import NOW, Cast, cast
from tests.mixing_shop import MixShop, codes, make_mix_shop
from tests.rag_shop import codes_of, make_shop
from tests.store_builders import container, holds, material, oil, once, place, received

_chance = itertools.count(1)


def chance() -> str:
    return f"store loophole {next(_chance)}"


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def reversal(shop: MixShop, movement: int) -> None:
    with shop.database.writing() as session:
        asked = ReverseAsked(once=once(), movement_id=movement, reason="It was the wrong can")
        reverse(session, shop.actor(Role.KEEPER), shop.now, asked)


# Enough


def test_a_draw_some_minutes_before_a_count_is_still_taken_off(database: Database, people: Cast) -> None:
    """Only a late entry with its sentence may say that the count had it in already."""
    finisher, before = people.actor(Role.FINISHER), NOW - timedelta(minutes=5)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
        count(session, finisher, NOW, CountAsked(once=once(), code=code, amount="1000 g"))
    later = NOW + timedelta(minutes=5)
    with database.writing() as session:
        draw(session, finisher, later, DrawAsked(once=once(), code=code, amount="400 g", happened_at=before))
        assert container(session, code).balance == 600_000
    with pytest.raises(Refused) as refused, database.writing() as session:
        draw(session, finisher, later, DrawAsked(once=once(), code=code, amount="5 kg", happened_at=before))
    assert refused.value.verdict.codes >= {"not-enough"}
    with database.writing() as session:
        asked = ReturnAsked(once=once(), code=code, amount="100 g", happened_at=before)
        put_back(session, finisher, later, asked)
        # What came back before the count was counted with it.
        assert container(session, code).balance == 600_000
    holds(database)


def test_what_was_handed_out_is_not_counted_as_there(database: Database) -> None:
    shop = make_mix_shop(database)
    shop.can("raw umber"), shop.can("boiled oil")
    gone = shop.can("spirit")
    with database.writing() as session:
        asked = MoveAsked(once=once(), code=gone, handed_to="Ms Winter, for her own table")
        move(session, shop.actor(), shop.now, asked)
    checked = shop.look().check
    assert ("short", "spirit") in codes(checked.verdict)
    assert ("handed-out", gone) in codes(checked.verdict)
    with database.writing() as session:
        shelf = place(session, "Shelf 1", PlaceKind.SHELF)
        move(session, shop.actor(), shop.now, MoveAsked(once=once(), code=gone, place_id=shelf.id))
    assert not shop.look().check.shortages


def test_what_a_finished_batch_holds_does_not_go_back_to_its_can_as_well(database: Database) -> None:
    """The jar and the can would both count the same ounce; and the jar would lose what it holds."""
    shop = make_mix_shop(database)
    for name in ("raw umber", "boiled oil", "spirit"):
        shop.can(name)
    batch = int(shop.start(shop.keep()).result["batch"])
    with database.writing() as session:
        asked = FinishAsked(once=once(), batch_id=batch, jars=(JarAsked("500 ml"),), loss_note="pot")
        made = finish(session, shop.actor(), shop.now, asked, chance).result["jars"][0]["movement"]
        drawn = session.exec(
            select(Movement.id).where(
                col(Movement.batch_id) == batch, col(Movement.kind) == MovementKind.DRAW
            )
        ).all()
    for movement in drawn:
        with pytest.raises(Refused) as refused:
            reversal(shop, movement or 0)
        assert codes_of(refused.value) == {"in-a-jar"}
    reversal(shop, made)
    reversal(shop, drawn[0] or 0)
    holds(database)


# Oily rags


def test_an_unknown_rest_of_oil_into_the_rag_can_is_a_draw(database: Database) -> None:
    shop = make_shop(database)
    with database.writing() as session:
        unknown = received(session, shop.actor(Role.KEEPER), oil(session, "Old oil"), None)
    asked = DiscardAsked(
        once=once(), code=unknown, destination=Destination.RAG_CAN, job_id=shop.job, place_id=shop.can
    )
    with database.writing() as session:
        discard(session, shop.actor(Role.FINISHER), shop.now, asked)
        assert session.exec(select(RagLoad)).one().job_id == shop.job


def test_an_unknown_rest_of_oil_into_the_rag_can_is_blocked(database: Database) -> None:
    shop = make_shop(database)
    with database.writing() as session:
        unknown = received(session, shop.actor(Role.KEEPER), oil(session, "Old oil"), None)
    shop.overdue()
    asked = DiscardAsked(once=once(), code=unknown, destination=Destination.RAG_CAN)
    with pytest.raises(Refused) as refused, database.writing() as session:
        discard(session, shop.actor(Role.FINISHER), shop.now, asked)
    assert "rags-overdue" in codes_of(refused.value)


@pytest.mark.parametrize("kind", [LossKind.STUCK, LossKind.SPILLED, LossKind.OTHER])
def test_oil_stuck_to_tools_or_spilled_is_wiped(database: Database, kind: LossKind) -> None:
    shop = make_shop(database)
    asked = LossAsked(once=once(), code=shop.oil, loss=kind, amount="50 ml", note="brush", job_id=shop.job)
    with database.writing() as session:
        lose(session, shop.actor(Role.FINISHER), shop.now, asked)
        assert session.exec(select(RagLoad)).one().job_id == shop.job


def test_oil_that_dried_up_stands_in_the_rag_log(database: Database) -> None:
    shop = make_shop(database)
    asked = LossAsked(once=once(), code=shop.oil, loss=LossKind.DRIED_UP, amount="500 ml")
    with database.writing() as session:
        lose(session, shop.actor(Role.FINISHER), shop.now, asked)
        assert [row.kind for row in log_rows(session)] == ["unexplained-use"]


@pytest.mark.parametrize("role", [Role.STUDENT, Role.READER])
def test_a_job_is_led_by_somebody_who_may_look_after_its_rags(database: Database, role: Role) -> None:
    shop = make_shop(database)
    asked = JobAsked(once(), "Their job", leader_id=shop.people.person(role).id)
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        open_job(session, shop.actor(Role.FINISHER), shop.now, asked)
    assert "leader" in wrong.value.errors


# Ages


def test_a_published_row_of_another_kind_lends_nothing(database: Database, people: Cast) -> None:
    """An oil picked as a pigment would last for ever: how long it lasts goes by the row."""
    said = Description("Linseed oil", MaterialKind.BINDER, Form.LIQUID)
    with pytest.raises(Invalid) as wrong, database.writing() as session:
        asked = MaterialAsked(once(), said, known_key="isopropanol")
        describe_material(session, people.actor(Role.FINISHER), NOW, asked)
    assert "kind" in wrong.value.errors
