"""Opened, closed, moved, checked, emptied: what each does to state and dates, and where rags stop it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.container_events import (
    MoveAsked,
    NotedAsked,
    OpenAsked,
    call_empty,
    close_container,
    move,
    open_container,
    relabel,
    vapour_free,
)
from service.actions.count_stock import CountAsked, count
from service.actions.draw_stock import DrawAsked, draw
from service.core.access import Role
from service.core.containers import ContainerState, Standing
from service.core.findings import Invalid, Refused
from service.core.life_facts import CheckOutcome
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rags import RagLoad, RagLogRow
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, holds, material, oil, once, place, received

RETEST = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6, "hard_months": 60}


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def overdue(database: Database, people: Cast) -> str:
    """Oil drawn yesterday whose rags nobody put away; the code of its can."""
    with database.writing() as session:
        code = received(
            session, people.actor(Role.KEEPER), oil(session), now=NOW - timedelta(days=1, hours=2)
        )
        asked = DrawAsked(once=once(), code=code, amount="100 ml")
        draw(session, people.actor(Role.FINISHER), NOW - timedelta(days=1), asked)
    return code


def test_the_first_opening_takes_its_day_and_a_later_one_changes_nothing(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), is_open=False)
        day = TODAY - timedelta(days=3)
        done = open_container(session, finisher, NOW, OpenAsked(once=once(), code=code, opened_on=day))
        assert done.result["first"]
        open_container(session, finisher, NOW, OpenAsked(once=once(), code=code))
        assert container(session, code).opened_on == day
        assert container(session, code).state is ContainerState.OPEN
    holds(database)


def test_opening_again_never_makes_an_unknown_day_known(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), opened_on=None)
        assert container(session, code).standing is Standing.NOT_KNOWN
        open_container(session, finisher, NOW, OpenAsked(once=once(), code=code))
        draw(session, finisher, NOW, DrawAsked(once=once(), code=code, amount="1 g", looked=True))
        assert container(session, code).opened_on is None
        assert container(session, code).standing is Standing.NOT_KNOWN
    late = OpenAsked(once=once(), code=code, found_out=True, opened_on=TODAY + timedelta(days=1))
    with pytest.raises(Invalid), database.writing() as session:
        open_container(session, finisher, NOW, late)
    with database.writing() as session:
        found = OpenAsked(once=once(), code=code, found_out=True, opened_on=TODAY - timedelta(days=20))
        open_container(session, finisher, NOW, found)
        assert container(session, code).standing is Standing.IN_DATE
    holds(database)


def test_a_day_that_has_not_come_is_no_opening_day(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), is_open=False)
        asked = OpenAsked(once=once(), code=code, opened_on=TODAY + timedelta(days=1))
        with pytest.raises(Invalid) as wrong:
            open_container(session, people.actor(Role.FINISHER), NOW, asked)
    assert "opened_on" in wrong.value.errors


@pytest.mark.parametrize(
    ("days", "code_of"), [(5, None), (15, "opened-before-it-came"), (40, "opened-before-packed")]
)
def test_an_opening_before_it_came_counts_and_is_said(
    database: Database, people: Cast, days: int, code_of: str | None
) -> None:
    came = {"packed_on": TODAY - timedelta(days=30), "received_on": TODAY - timedelta(days=10)}
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), is_open=False, **came)
    with database.writing() as session:
        day = TODAY - timedelta(days=days)
        asked = OpenAsked(once=once(), code=code, opened_on=day)
        done = open_container(session, people.actor(Role.FINISHER), NOW, asked)
        assert container(session, code).opened_on == day
    said = {one["code"] for one in done.result["findings"]} & {
        "opened-before-it-came", "opened-before-packed"
    }  # fmt: skip
    assert said == ({code_of} if code_of else set())


def test_closing_and_relabelling(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        stuff = material(session)
        code = received(session, people.actor(Role.KEEPER), stuff)
        sealed = received(session, people.actor(Role.KEEPER), stuff, is_open=False)
        close_container(session, finisher, NOW, NotedAsked(once=once(), code=code))
        relabel(session, finisher, NOW, NotedAsked(once=once(), code=code))
    with pytest.raises(Refused), database.writing() as session:
        close_container(session, finisher, NOW, NotedAsked(once=once(), code=sealed))
    holds(database)


def test_overdue_rags_stop_opening_oil_and_carrying_it_to_work(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    code = overdue(database, people)
    with database.writing() as session:
        shelf = place(session, "Oil shelf", PlaceKind.SHELF)
        cabinet = place(session, "Cabinet A", PlaceKind.CABINET)
        van = place(session, "Van", PlaceKind.VEHICLE)
        places = [
            place(session, "Bench 1", PlaceKind.BENCH),
            place(session, "Touch-up kit", PlaceKind.KIT),
            place(session, "House by the mill", PlaceKind.CUSTOMER_SITE),
            van,
            place(session, "Shelf in the van", PlaceKind.SHELF, van),
        ]
        dry = received(session, people.actor(Role.KEEPER), material(session))
    with pytest.raises(Refused), database.writing() as session:
        open_container(session, finisher, NOW, OpenAsked(once=once(), code=code))
    for one in places:
        with pytest.raises(Refused), database.writing() as session:
            move(session, finisher, NOW, MoveAsked(once=once(), code=code, place_id=one.id))
    with pytest.raises(Refused), database.writing() as session:
        move(session, finisher, NOW, MoveAsked(once=once(), code=code, handed_to="a customer"))
    with database.writing() as session:
        for where in (shelf, cabinet):
            move(session, finisher, NOW, MoveAsked(once=once(), code=code, place_id=where.id))
        move(session, finisher, NOW, MoveAsked(once=once(), code=dry, place_id=places[0].id))
        assert container(session, code).place_id == cabinet.id
        done = MoveAsked(
            once=once(), code=code, place_id=places[0].id, already_done=True,
            late_reason="Done before I looked",
        )
        move(session, finisher, NOW, done)
        assert "violation" in [row.kind for row in session.exec(select(RagLogRow)).all()]
    holds(database)


def test_a_move_needs_a_place_that_takes_containers(database: Database, people: Cast) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        drum = place(session, "Waste drum 1", PlaceKind.WASTE_DRUM)
        code = received(session, people.actor(Role.KEEPER), material(session))
        for asked in (
            MoveAsked(once=once(), code=code),
            MoveAsked(once=once(), code=code, place_id=drum.id),
            MoveAsked(once=once(), code=code, place_id=987_654),
        ):
            with pytest.raises(Invalid) as wrong:
                move(session, finisher, NOW, asked)
            assert "place_id" in wrong.value.errors


def test_a_passed_check_moves_a_retest_date_and_a_failed_one_ends_it(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        keeper, stuff = people.actor(Role.KEEPER), oil(session, policy=RETEST)
        opened = TODAY - timedelta(days=300)
        code = received(session, keeper, stuff, opened_on=opened, packed_on=TODAY - timedelta(days=310))
        before = container(session, code).in_date_until
        assert before is not None
        check_condition(
            session, finisher, NOW, CheckAsked(once=once(), code=code, outcome=CheckOutcome.PASSED)
        )
        after = container(session, code).in_date_until
        assert after is not None
        assert after > before
        asked = CheckAsked(once=once(), code=code, outcome=CheckOutcome.FAILED)
        assert check_condition(session, finisher, NOW, asked).result["standing"] == "past"
    holds(database)


def test_a_skin_strained_out_of_oil_is_a_loss_whose_rags_join_a_load(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session, policy=RETEST))
        before = container(session, code).in_date_until
        asked = CheckAsked(once=once(), code=code, outcome=CheckOutcome.SKIN_CUT, strained="15 ml")
        check_condition(session, finisher, NOW, asked)
        assert container(session, code).balance == 985_000
        assert container(session, code).in_date_until == before
        assert session.exec(select(RagLoad)).one().owed_by == finisher.person_id
    odd = CheckAsked(once=once(), code=code, outcome=CheckOutcome.PASSED, strained="15 ml")
    with pytest.raises(Invalid), database.writing() as session:
        check_condition(session, finisher, NOW, odd)
    holds(database)


def test_empty_only_where_the_book_says_so_and_vapour_free_only_when_empty(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session))
    with pytest.raises(Refused) as no, database.writing() as session:
        call_empty(session, finisher, NOW, NotedAsked(once=once(), code=code))
    assert no.value.verdict.codes == {"not-empty"}
    with pytest.raises(Refused), database.writing() as session:
        vapour_free(session, finisher, NOW, NotedAsked(once=once(), code=code))
    with database.writing() as session:
        count(session, finisher, NOW, CountAsked(once=once(), code=code, amount="nothing"))
        vapour_free(session, finisher, NOW, NotedAsked(once=once(), code=code))
        assert container(session, code).state is ContainerState.EMPTY
    holds(database)
