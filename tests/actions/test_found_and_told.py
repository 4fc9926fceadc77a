"""What was found in a tin or told of it, as the alerts and the pages say it, and whom it reaches."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlmodel import Session

from service.actions.check_condition import CheckAsked, check_condition
from service.actions.list_alerts import list_alerts
from service.actions.settle import Settled
from service.core.access import Role
from service.core.alerts import Alert, AlertKind
from service.core.conditions import Found
from service.records.engine import Database
from tests.builders import NOW, Cast, cast
from tests.store_builders import oil, once, received

RETEST = {"end": "retest", "sealed_months": 24, "opened_months": 12, "extends_months": 6, "hard_months": 60}
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
