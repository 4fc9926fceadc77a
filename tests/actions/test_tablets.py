"""Shared tablets: who can be tapped, for how long, and wrong PINs; on both databases."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from sqlmodel import Session

from service.actions.manage_people import set_pin, switch_person
from service.actions.sign_in import (
    find_session,
    open_session,
)
from service.actions.tablets import Tap, make_device, people_to_tap, switch_device, tap, untap
from service.actions.throttle import Throttled
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed
from service.records.engine import Database
from service.records.jobs import Job, JobKind, JobPerson
from service.records.people import Person
from tests.builders import FAST_HASHER, LIMITS, NOW, PINS, TODAY, Cast, cast, opening, person


@pytest.fixture
def people(database: Database) -> Cast:
    with database.writing() as session:
        return cast(session)


def still_in(session: Session, token: str, now: datetime = NOW, today: date = TODAY) -> bool:
    return find_session(session, token, LIMITS, now, today) is not None


def a_tablet(database: Database, people: Cast) -> tuple[int, int]:
    """(session id, device id) of a signed-in tablet with the token "tab"."""
    with database.writing() as session:
        device = make_device(session, people.actor(Role.KEEPER), NOW, "Bench")
        row = open_session(session, opening("tab"), device_id=device.id)
        return row.id or 0, device.id or 0


def tapped(database: Database, now: datetime = NOW) -> Person | None:
    with database.reading() as session:
        found = find_session(session, "tab", LIMITS, now, TODAY)
        assert found is not None and found.device is not None
        return found.person


def test_a_tapped_person_stays_two_minutes_and_no_longer(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    assert tapped(database) is None
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"]), NOW, TODAY)
    who = tapped(database, NOW + timedelta(seconds=119))
    assert who is not None and who.id == people.finisher.id
    assert tapped(database, NOW + timedelta(minutes=2)) is None
    with database.writing() as session:
        untap(session, session_id)
    assert tapped(database) is None


def test_students_are_tapped_only_while_their_job_runs(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    mine = Tap(session_id, device_id, people.student.id or 0, PINS["sanne"])
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, mine, NOW, TODAY)
    with database.writing() as session:
        job = Job(
            name="Evening class", kind=JobKind.CLASS, leader_id=people.finisher.id or 0, started_at=NOW,
            ends_by=NOW + timedelta(hours=8), created_at=NOW,
        )
        session.add(job)
        session.flush()
        session.add(JobPerson(job_id=job.id or 0, person_id=people.student.id or 0, added_at=NOW))
        session.add(JobPerson(job_id=job.id or 0, person_id=people.reader.id or 0, added_at=NOW))
    with database.reading() as session:
        assert {p.name for p in people_to_tap(session, TODAY)} == {"Orla Brandt", "Piet Maas", "Sanne Vos"}
    tap(database, FAST_HASHER, mine, NOW, TODAY)
    assert tapped(database) is not None
    with database.writing() as session:
        session.get_one(Job, job.id).closed_at = NOW
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, mine, NOW, TODAY)


def test_wrong_pins_wait_per_person_and_tablet(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    wrong = Tap(session_id, device_id, people.finisher.id or 0, "1111")
    for _ in range(6):
        with pytest.raises(Invalid):
            tap(database, FAST_HASHER, wrong, NOW, TODAY)
    right = Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"])
    with pytest.raises(Throttled):
        tap(database, FAST_HASHER, right, NOW, TODAY)
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.keeper.id or 0, PINS["orla"]), NOW, TODAY)
    tap(database, FAST_HASHER, right, NOW + timedelta(seconds=2), TODAY)


def test_disabling_takes_a_tapped_person_off_at_once(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, PINS["piet"]), NOW, TODAY)
    with database.writing() as session:
        person_row = session.get_one(Person, people.finisher.id)
        switch_person(
            session, people.actor(Role.KEEPER), NOW, person_row.id or 0, person_row.version, active=False
        )
    assert tapped(database) is None


def test_a_switched_off_tablet_is_signed_out_and_stays_so(database: Database, people: Cast) -> None:
    _, device_id = a_tablet(database, people)
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        device = switch_device(session, keeper, NOW, device_id, 1, active=False)
        assert not still_in(session, "tab")
        switch_device(session, keeper, NOW, device_id, device.version, active=True)
        assert not still_in(session, "tab")
    with database.writing() as session, pytest.raises(NotAllowed):
        make_device(session, people.actor(Role.FINISHER), NOW, "Own tablet")


def test_a_tablet_stays_because_it_may_do_nothing_alone(database: Database, people: Cast) -> None:
    a_tablet(database, people)
    assert tapped(database, NOW + timedelta(days=300)) is None


def test_a_pin_taken_away_is_gone(database: Database, people: Cast) -> None:
    session_id, device_id = a_tablet(database, people)
    with database.writing() as session:
        set_pin(session, people.actor(Role.KEEPER), NOW, people.finisher.id or 0, None)
        person(session, "Wim", Role.FINISHER)
    with pytest.raises(Invalid):
        tap(database, FAST_HASHER, Tap(session_id, device_id, people.finisher.id or 0, ""), NOW, TODAY)
