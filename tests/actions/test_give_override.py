"""An override lets one named draw or batch through, once; who owes the block cannot give it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.give_override import OverrideAsked, give_override, overrides, read_for
from service.actions.give_rags import answer_violation, give_to
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.rag_override import OverrideFor
from service.records.duties import Duty
from service.records.engine import Database
from service.records.rag_queries import log_rows
from service.records.rags import OverrideUse, RagLoad
from tests.rag_shop import RagShop, add_container, codes_of, make_shop, once, open_a_job, second_keeper

REASON = "The last coat must go on while the first is wet"


@pytest.fixture
def shop(database: Database) -> RagShop:
    made = make_shop(database)
    made.overdue_in_can()
    made.job = open_a_job(made, "Second job", ends_at=None)
    return made


def _give(shop: RagShop, role: Role = Role.KEEPER, **said: object) -> int:
    asked = {"kind": OverrideFor.DRAW, "name": shop.oil, "job_id": shop.job, "reason": REASON} | said
    with shop.database.writing() as session:
        settled = give_override(session, shop.actor(role), shop.now, OverrideAsked(once(), **asked))  # type: ignore[arg-type]
    return int(settled.result["override"])


def test_one_draw_goes_through_and_no_second(shop: RagShop) -> None:
    with pytest.raises(Refused) as refused:
        shop.draw()
    assert codes_of(refused.value) == {"rags-overdue"}
    _give(shop)
    shop.pass_by(minutes=1)
    shop.draw()
    with pytest.raises(Refused):
        shop.draw()
    with shop.database.reading() as session:
        assert len(session.exec(select(OverrideUse)).all()) == 1
        assert overrides(session)[0].used_by_posting is not None
        kinds = [row.kind for row in log_rows(session)]
    assert kinds.count("override") == 1 and kinds.count("override-used") == 1


def test_one_at_a_time_for_the_same_draw(shop: RagShop) -> None:
    """They are not heaped up: the next one is given when the first was used or has lapsed."""
    first = _give(shop, until=shop.now + timedelta(minutes=30))
    with pytest.raises(Refused) as refused:
        _give(shop)
    assert codes_of(refused.value) == {"override-waits"}
    with shop.database.writing() as session:
        twin = add_container(session, shop.people, 1)
    assert _give(shop, name=twin) > first
    shop.pass_by(minutes=1)
    shop.draw()
    assert _give(shop, until=shop.now + timedelta(minutes=5)) > first
    with pytest.raises(Refused):
        _give(shop)
    shop.pass_by(minutes=6)
    assert _give(shop) > first


def test_it_names_its_container_and_its_job(shop: RagShop) -> None:
    with shop.database.writing() as session:
        load = session.get(RagLoad, shop.load_id())
        assert load is not None
        twin = add_container(session, shop.people, 1)
    _give(shop)
    with pytest.raises(Refused):
        shop.draw(twin)
    with pytest.raises(Refused):
        shop.draw(job_id=open_a_job(shop, "Third job", ends_at=None))
    shop.draw()


def test_it_ends_with_the_job(shop: RagShop) -> None:
    with pytest.raises(Refused) as refused:
        _give(shop, until=shop.now + timedelta(days=2))
    assert "override-too-long" in codes_of(refused.value)
    _give(shop, until=shop.now + timedelta(minutes=5))
    shop.pass_by(minutes=6)
    with pytest.raises(Refused):
        shop.draw()


def test_not_while_a_load_is_loose_past_its_time(database: Database) -> None:
    shop = make_shop(database)
    shop.overdue()
    shop.job = open_a_job(shop, "Second job", ends_at=None)
    with pytest.raises(Refused) as refused:
        _give(shop)
    assert "override-loose" in codes_of(refused.value)


def test_only_a_keeper_and_not_the_one_who_owes_it(shop: RagShop) -> None:
    for role in (Role.READER, Role.STUDENT, Role.FINISHER):
        with pytest.raises(NotAllowed):
            _give(shop, role)
    with shop.database.writing() as session:
        ruth = second_keeper(session)
        give_to(
            session,
            ruth,
            shop.now,
            shop.load_id(),
            shop.people.keeper.id or 0,
            "Piet has gone home ill",
            once(),
        )
    with pytest.raises(Refused) as refused:
        _give(shop)
    assert "override-own-load" in codes_of(refused.value)
    with shop.database.writing() as session, pytest.raises(Refused) as refused:
        give_to(
            session,
            shop.actor(Role.KEEPER),
            shop.now,
            shop.load_id(),
            shop.people.finisher.id or 0,
            "Back to him again",
            once(),
        )
    assert codes_of(refused.value) == {"rags-own-load"}


def test_reason_names_and_need(shop: RagShop) -> None:
    with pytest.raises(Refused):
        _give(shop, reason="because")
    with pytest.raises(NotFound):
        _give(shop, name="222222")
    with pytest.raises(NotFound):
        _give(shop, kind=OverrideFor.BATCH, name="99")
    with pytest.raises(NotFound):
        _give(shop, job_id=99_999)
    fresh = make_shop_without_block(shop)
    with pytest.raises(Refused) as refused:
        _give(fresh)
    assert codes_of(refused.value) == {"override-not-needed"}


def make_shop_without_block(shop: RagShop) -> RagShop:
    """The same shop after the rags have left."""
    from service.core.rags import RagStep, Removal, RemovalHow

    shop.pass_by(minutes=1)
    shop.step(RagStep.REMOVED, removal=Removal(RemovalHow.HAULER, "County waste service"))
    return shop


@pytest.mark.parametrize(
    "text", ["", "draw", "draw of ", "batch of recipe four", "everything", "draw of\x00"]
)
def test_what_it_is_for_is_one_thing(text: str) -> None:
    with pytest.raises(Invalid):
        read_for(text)


def test_a_violation_is_answered_once_by_a_keeper_who_is_no_party(shop: RagShop) -> None:
    shop.draw(already_done=True, role=Role.KEEPER, late_reason="Done before anybody looked")
    with shop.database.reading() as session:
        duty = session.exec(select(Duty)).one()
        assert duty.id is not None
        ruth = second_keeper(session)
    assert duty.owed_by == ruth.person_id
    for role in (Role.FINISHER, Role.KEEPER):
        with shop.database.writing() as session, pytest.raises(NotAllowed):
            answer_violation(session, shop.actor(role), shop.now, duty.id, "Spoken with everybody", once())
    with shop.database.writing() as session:
        answer_violation(session, ruth, shop.now, duty.id, "Spoken with everybody about the can", once())
    with shop.database.writing() as session, pytest.raises(Refused):
        answer_violation(session, ruth, shop.now, duty.id, "Spoken with everybody again", once())
    with shop.database.reading() as session:
        row = log_rows(session)[-1]
        assert row.kind == "answer" and "about the can" in row.body
    with shop.database.writing() as session, pytest.raises(NotFound):
        answer_violation(session, ruth, shop.now, 999, "Spoken with everybody again", once())


def test_giving_on_keeps_the_clocks_and_needs_a_reason_and_a_worker(shop: RagShop) -> None:
    load = shop.load().row
    keeper, student = shop.actor(Role.KEEPER), shop.people.student.id or 0
    with shop.database.writing() as session, pytest.raises(NotAllowed):
        give_to(
            session,
            shop.actor(Role.FINISHER),
            shop.now,
            shop.load_id(),
            student,
            "A reason in words",
            once(),
        )
    with shop.database.writing() as session, pytest.raises(Invalid):
        give_to(session, keeper, shop.now, shop.load_id(), student, "A reason in words", once())
    with shop.database.writing() as session, pytest.raises(Invalid):
        give_to(session, keeper, shop.now, shop.load_id(), keeper.person_id, "no", once())
    with shop.database.writing() as session:
        give_to(
            session, keeper, shop.now, shop.load_id(), keeper.person_id, "Piet has gone home ill", once()
        )
    after = shop.load()
    assert after.row.owed_by == keeper.person_id
    assert (after.row.contain_by, after.row.remove_by) == (load.contain_by, load.remove_by)
    assert after.judgement.blocks
