"""Opening, widening and closing a job, on both databases: its ends, its people, and its short list."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from sqlmodel import select

from service.actions.run_job import JobAsked, add_people, close_job, open_job, short_list
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.rags import RagStep, Removal, RemovalHow
from service.records.engine import Database
from service.records.job_queries import is_in_job, people_of, the_job
from service.records.jobs import Job
from service.records.places import PlaceKind
from service.records.rag_queries import log_rows
from service.records.shop import Shift
from service.records.stock import Container
from tests.rag_shop import ENDS, RagShop, add_place, codes_of, make_shop, once, open_a_job


@pytest.fixture
def shop(database: Database) -> RagShop:
    return make_shop(database)


def _job(shop: RagShop, job_id: int) -> Job:
    with shop.database.reading() as session:
        return the_job(session, job_id)


def _close(shop: RagShop, job_id: int, role: Role = Role.FINISHER) -> None:
    with shop.database.writing() as session:
        close_job(session, shop.actor(role), shop.now, job_id, once(), "")


def test_it_ends_with_the_shift_else_at_midnight(shop: RagShop) -> None:
    by_shift = _job(shop, open_a_job(shop, "Till the shift ends", ends_at=None))
    assert by_shift.ends_by == datetime(2026, 3, 12, 16, tzinfo=UTC)  # 17:00 in Berlin
    shop.now = datetime(2026, 3, 12, 19, tzinfo=UTC)
    evening = _job(shop, open_a_job(shop, "Evening", ends_at=None))
    assert evening.ends_by == datetime(2026, 3, 12, 23, tzinfo=UTC)  # 24:00 in Berlin
    far = _job(shop, open_a_job(shop, "For ever", ends_at=shop.now + timedelta(days=3)))
    assert far.ends_by == evening.ends_by


def test_editing_the_shift_moves_no_open_job(shop: RagShop) -> None:
    number = open_a_job(shop, "Till the shift ends", ends_at=None)
    with shop.database.writing() as session:
        shift = session.exec(select(Shift)).one()
        shift.ends = time(23)
        session.add(shift)
    assert _job(shop, number).ends_by == datetime(2026, 3, 12, 16, tzinfo=UTC)


@pytest.mark.parametrize("said", [
    {"name": "  "}, {"ends_at": ENDS - timedelta(days=1)}, {"people": (4711,)}, {"place_id": 4711},
])  # fmt: skip
def test_what_cannot_be_opened(shop: RagShop, said: dict[str, object]) -> None:
    asked = JobAsked(once(), **({"name": "A job"} | said))  # type: ignore[arg-type]
    with shop.database.writing() as session, pytest.raises(Invalid):
        open_job(session, shop.actor(Role.FINISHER), shop.now, asked)


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT])
def test_students_and_readers_open_none(shop: RagShop, role: Role) -> None:
    with shop.database.writing() as session, pytest.raises(NotAllowed):
        open_job(session, shop.actor(role), shop.now, JobAsked(once(), "A job"))


def test_people_are_added_by_the_leader_or_a_keeper(shop: RagShop) -> None:
    number = open_a_job(shop, "Small", people=())
    reader = shop.people.reader.id or 0
    with shop.database.writing() as session:
        add_people(session, shop.actor(Role.FINISHER), shop.now, number, [reader, reader])
    with shop.database.reading() as session:
        job = the_job(session, number)
        assert [p.name for p in people_of(session, job)] == ["Piet Maas", "Ines Roth"]
        assert is_in_job(session, job, reader)
    with shop.database.writing() as session, pytest.raises(NotAllowed):
        add_people(session, shop.actor(Role.STUDENT), shop.now, number, [reader])
    with shop.database.writing() as session, pytest.raises(Invalid):
        add_people(session, shop.actor(Role.KEEPER), shop.now, number, [4711])


def test_it_does_not_close_over_loose_rags(shop: RagShop) -> None:
    shop.draw()
    with pytest.raises(Refused) as refused:
        _close(shop, shop.job)
    assert codes_of(refused.value) == {"rags-not-contained"}
    shop.pass_by(minutes=1)
    shop.into_can()
    load = shop.load().row
    shop.pass_by(minutes=1)
    _close(shop, shop.job)
    after = shop.load()
    assert after.row.contain_by == shop.now <= load.contain_by
    assert after.row.remove_by == load.remove_by and not after.state.ended
    with shop.database.reading() as session:
        assert log_rows(session)[-1].kind == "job-closed"
    with pytest.raises(Refused):
        _close(shop, shop.job)


def test_nothing_is_drawn_for_a_closed_job(shop: RagShop) -> None:
    _close(shop, shop.job)
    shop.pass_by(minutes=1)
    with pytest.raises(Refused) as refused:
        shop.draw()
    assert "job-not-running" in codes_of(refused.value)
    with shop.database.writing() as session, pytest.raises(Refused):
        add_people(session, shop.actor(Role.KEEPER), shop.now, shop.job, [shop.people.keeper.id or 0])


def test_the_short_list_names_what_is_left_out(shop: RagShop) -> None:
    shop.draw()
    with shop.database.writing() as session:
        bench = add_place(session, "Bench 1", PlaceKind.BENCH)
        container = session.exec(select(Container).where(Container.code == shop.oil)).one()
        container.place_id = bench
        session.add(container)
    with shop.database.reading() as session:
        owed = short_list(session, the_job(session, shop.job), shop.now)
    assert owed.loads == (shop.load_id(),)
    assert owed.findings.codes == {"rags-not-contained", "left-out"}


def test_a_load_that_has_left_is_not_on_the_list(shop: RagShop) -> None:
    shop.draw()
    shop.pass_by(minutes=1)
    shop.step(RagStep.REMOVED, removal=Removal(RemovalHow.MUNICIPALITY, "Town depot"))
    with shop.database.reading() as session:
        assert short_list(session, the_job(session, shop.job), shop.now).loads == ()
    _close(shop, shop.job)


def test_only_the_leader_or_a_keeper_closes(shop: RagShop) -> None:
    number = open_a_job(shop, "The keeper's", leader_id=shop.people.keeper.id)
    with pytest.raises(NotAllowed):
        _close(shop, number)
    with pytest.raises(NotAllowed):
        _close(shop, number, Role.STUDENT)
    _close(shop, number, Role.KEEPER)
    with pytest.raises(NotFound):
        _close(shop, 4711)
