"""Pouring over: both sides balance, and a new jar never starts a new life."""

from __future__ import annotations

import itertools
from datetime import timedelta

import pytest
from sqlmodel import select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.draw_stock import DrawAsked, draw
from service.actions.settle import Settled
from service.core.access import Role
from service.core.containers import ContainerState, Standing
from service.core.findings import Invalid, Refused
from service.core.life_facts import CheckOutcome
from service.core.materials import SelfHeating
from service.records.ageing_queries import checks_of
from service.records.engine import Database
from service.records.rags import RagLoad
from service.records.stock import Movement
from tests.builders import NOW, TODAY, Cast, cast
from tests.store_builders import container, holds, material, oil, once, received

_numbers = itertools.count(1)


def chance() -> str:
    return f"chance {next(_numbers)}"


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def pour(database: Database, people: Cast, **asked: object) -> Settled:
    with database.writing() as session:
        facts = DecantAsked(once=once(), **asked)  # type: ignore[arg-type]
        return decant(session, people.actor(Role.FINISHER), NOW, facts, chance)


def test_a_new_jar_inherits_dates_lot_and_self_heating(database: Database, people: Cast) -> None:
    with database.writing() as session:
        stuff = oil(session)
        code = received(
            session, people.actor(Role.KEEPER), stuff, lot="A-118", opened_on=TODAY - timedelta(days=9)
        )
        old = container(session, code)
    done = pour(database, people, code=code, amount="400 ml", capacity="500 ml")
    with database.writing() as session:
        jar = container(session, done.result["into"]["code"])
        assert (jar.balance, container(session, code).balance) == (400_000, 600_000)
        assert (jar.packed_on, jar.received_on, jar.opened_on) == (
            old.packed_on,
            old.received_on,
            old.opened_on,
        )
        assert (jar.lot, jar.inherited_self_heating) == ("A-118", SelfHeating.YES)
        assert (jar.state, jar.capacity_ul) == (ContainerState.OPEN, 500_000)
        assert jar.in_date_until == container(session, code).in_date_until
        # The mark of the material switched off later does not make the jar harmless.
        stuff = session.get_one(type(stuff), stuff.id)
        stuff.self_heating, stuff.self_heating_reason = SelfHeating.NO, "somebody said so"
        session.add(stuff)
        session.flush()
        drawn = draw(
            session, people.actor(Role.FINISHER), NOW, DrawAsked(once=once(), code=jar.code, amount="5 ml")
        )
        assert drawn.result["rag_load"] is not None
    holds(database)


def test_both_sides_name_each_other_and_what_was_lost_is_explained(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session))
    with pytest.raises(Invalid) as wrong:
        pour(database, people, code=code, amount="400 ml", lost="10 ml")
    assert "lost_note" in wrong.value.errors
    done = pour(database, people, code=code, amount="400 ml", lost="10 ml", lost_note="ran past the funnel")
    with database.reading() as session:
        rows = session.exec(select(Movement).where(Movement.posting_id == done.posting_id)).all()
        by_kind = {row.kind.value: row for row in rows}
        out, arrived = by_kind["decant-out"], by_kind["decant-in"]
        assert (out.change, arrived.change, by_kind["loss"].change) == (-390_000, 390_000, -10_000)
        assert (out.other_container_id, arrived.other_container_id) == (
            arrived.container_id,
            out.container_id,
        )
        assert by_kind["loss"].rag_load_id == session.exec(select(RagLoad)).one().id
    holds(database)


def test_all_of_an_unknown_amount_stays_unknown_on_the_other_side(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), material(session), None)
    done = pour(database, people, code=code)
    with database.reading() as session:
        assert container(session, code).state is ContainerState.EMPTY
        assert container(session, done.result["into"]["code"]).balance is None
    holds(database)


def test_into_an_open_one_the_older_dates_win_and_a_check_of_one_alone_is_void(
    database: Database, people: Cast
) -> None:
    finisher = people.actor(Role.FINISHER)
    policy = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 12}
    with database.writing() as session:
        keeper, stuff = people.actor(Role.KEEPER), oil(session, policy=policy)
        old = received(
            session,
            keeper,
            stuff,
            opened_on=TODAY - timedelta(days=200),
            lot="1",
            packed_on=TODAY - timedelta(days=500),
        )
        young = received(session, keeper, stuff, opened_on=TODAY - timedelta(days=5), lot="2")
        check_condition(
            session, finisher, NOW, CheckAsked(once=once(), code=young, outcome=CheckOutcome.PASSED)
        )
    pour(database, people, code=old, amount="100 ml", into=young)
    with database.reading() as session:
        box = container(session, young)
        assert box.opened_on == TODAY - timedelta(days=200)
        assert box.packed_on == TODAY - timedelta(days=500)
        assert box.lot == "1; 2"
        assert box.id is not None
        assert checks_of(session, box.id) == ()
        assert box.in_date_until == container(session, old).in_date_until
    holds(database)


def test_an_unknown_day_makes_what_is_poured_together_not_known(database: Database, people: Cast) -> None:
    with database.writing() as session:
        keeper, stuff = people.actor(Role.KEEPER), material(session)
        unknown = received(session, keeper, stuff, opened_on=None)
        known = received(session, keeper, stuff)
    with pytest.raises(Refused) as no:
        pour(database, people, code=unknown, amount="5 g", into=known)
    assert "look-before-use" in no.value.verdict.codes
    pour(database, people, code=unknown, amount="5 g", into=known, looked=True)
    with database.reading() as session:
        assert container(session, known).standing is Standing.NOT_KNOWN
    holds(database)


def test_only_the_same_material_and_another_open_container(database: Database, people: Cast) -> None:
    with database.writing() as session:
        keeper, stuff = people.actor(Role.KEEPER), material(session)
        code = received(session, keeper, stuff)
        sealed = received(session, keeper, stuff, is_open=False)
        other = received(session, keeper, material(session, "burnt umber, dry"))
    for into in (code, other):
        with pytest.raises(Invalid) as wrong:
            pour(database, people, code=code, amount="5 g", into=into)
        assert "into" in wrong.value.errors
    with pytest.raises(Refused) as no:
        pour(database, people, code=code, amount="5 g", into=sealed)
    assert "state-sealed" in no.value.verdict.codes
    with pytest.raises(Refused):
        pour(database, people, code=code, amount="2 kg")
    holds(database)


def test_overdue_rags_stop_decanting_oil(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = received(session, people.actor(Role.KEEPER), oil(session), now=NOW - timedelta(days=2))
        asked = DrawAsked(once=once(), code=code, amount="100 ml")
        draw(session, people.actor(Role.FINISHER), NOW - timedelta(days=1), asked)
    with pytest.raises(Refused):
        pour(database, people, code=code, amount="100 ml")
    holds(database)
