"""What was found in a tin or told of it, as the alerts and the pages say it, and whom it reaches."""

from __future__ import annotations

import itertools
from datetime import datetime, timedelta

import pytest
from sqlmodel import Session, col, select

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.decant import DecantAsked, decant
from service.actions.list_alerts import list_alerts
from service.actions.settle import Settled
from service.core.access import Role
from service.core.alerts import Alert, AlertKind
from service.core.conditions import Found
from service.core.containers import ContainerState, Standing
from service.core.shelf_codes import show_code
from service.records.duties import TOLD_BY_SOMEBODY, Duty
from service.records.engine import Database
from tests.builders import NOW, Cast, cast
from tests.store_builders import container, oil, once, received

RETEST = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6, "hard_months": 60}
_number = itertools.count(1)
LATER = NOW + timedelta(minutes=30)


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def tin(session: Session, people: Cast) -> str:
    stuff = oil(session, policy=RETEST)
    return received(session, people.actor(Role.KEEPER), stuff, 1_000_000)


def look(session: Session, people: Cast, code: str, found: Found, now: datetime = NOW) -> Settled:
    asked = CheckAsked(once=once(), code=code, found=found)
    return check_condition(session, people.actor(Role.FINISHER), now, asked)


def alert_of(session: Session, code: str) -> Alert:
    (one,) = (one for one in list_alerts(session, LATER, 0) if one.ref == f"container {code}")
    return one


def test_what_ended_it_is_told_before_a_later_doubt(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = tin(session, people)
        look(session, people, code, Found.RANCID)
        look(session, people, code, Found.THICKENED, LATER)
        one = alert_of(session, code)
    assert one.kind is AlertKind.PAST
    assert one.what_to_do == "A check on 12 March 2026 found: rancid. Set it apart and discard it."


def test_a_doubt_alone_says_what_was_found(database: Database, people: Cast) -> None:
    with database.writing() as session:
        code = tin(session, people)
        look(session, people, code, Found.THICKENED)
        one = alert_of(session, code)
    assert one.kind is AlertKind.LOOK_FIRST and one.sentence.endswith("found: thickened.")


def pour(session: Session, people: Cast, code: str) -> str:
    asked = DecantAsked(once=once(), code=code, amount="100 ml")
    done = decant(session, people.actor(Role.FINISHER), NOW, asked, lambda: f"jar {next(_number)}")
    return str(done.result["into"]["code"])


@pytest.mark.parametrize("found", [Found.RANCID, Found.THICKENED])
def test_what_is_found_in_a_jar_asks_for_a_look_at_its_tin_and_the_other_jars(
    database: Database, people: Cast, found: Found
) -> None:
    with database.writing() as session:
        code, stranger = tin(session, people), tin(session, people)
        jar, sister = pour(session, people, code), pour(session, people, code)
        third, daughter = pour(session, people, code), pour(session, people, sister)
        done = look(session, people, jar, found, LATER)
        owed = {
            duty.about_id: duty
            for duty in session.exec(select(Duty).where(col(Duty.kind) == TOLD_BY_SOMEBODY)).all()
        }
        assert container(session, sister).state is ContainerState.EMPTY
        same = {number: container(session, number) for number in (code, third, daughter)}
        assert set(owed) == {one.id for one in same.values()} and stranger not in same
        assert all(one.standing is Standing.IN_DATE for one in same.values())
        (said,) = (one["sentence"] for one in done.result["findings"] if one["code"] == "same-stuff")
        assert all(show_code(one) in said for one in same)
        look(session, people, code, Found.SOUND, LATER + timedelta(minutes=1))
        (answered,) = (duty for duty in owed.values() if duty.done_at is not None)
        assert answered.about_id == same[code].id


def test_what_was_found_in_the_tin_itself_owes_no_second_look_at_its_jars(
    database: Database, people: Cast
) -> None:
    with database.writing() as session:
        code = tin(session, people)
        pour(session, people, code)
        look(session, people, code, Found.RANCID, LATER)
        assert not session.exec(select(Duty).where(col(Duty.kind) == TOLD_BY_SOMEBODY)).all()


def test_what_is_found_in_a_tin_follows_through_a_jar_that_was_emptied(
    database: Database, people: Cast
) -> None:
    with database.writing() as session:
        code = tin(session, people)
        daughter = pour(session, people, pour(session, people, code))
        look(session, people, code, Found.THICKENED, LATER)
        assert container(session, daughter).standing is Standing.LOOK_FIRST
