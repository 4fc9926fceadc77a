"""Recurring checks in somebody's calendar: one entry each, that moves on when the check was made."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from ical.event import EventStatus
from sqlmodel import Session

from service.actions.begin_shop import begin_shop
from service.actions.calendar_feeds import make_feed
from service.actions.do_check import DoneAsked, TakeBackAsked, do_check, take_back_check
from service.actions.list_alerts import list_alerts
from service.actions.list_dates import list_dates
from service.actions.set_checks import ChangeCheck, CheckAsked, begin_check, end_check
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.calendar_entries import Entry
from service.core.findings import Severity
from service.core.recurring_checks import Result
from service.records.check_queries import count_due
from service.records.engine import Database
from service.records.owners import Here
from service.records.people import Person
from tests.actions.test_tell_calendar import SECRET, fetch, stand
from tests.builders import Cast, cast
from tests.store_builders import once

MONDAY, THURSDAY = date(2026, 3, 9), date(2026, 3, 12)


@pytest.fixture
def people(database: Database, now: datetime) -> Cast:
    with database.writing() as session:
        made = cast(session)
        begin_shop(session, now)
    return made


def begin(session: Session, people: Cast, now: datetime, known: str = "rag-can-lids") -> int:
    asked = CheckAsked(once=once(), known=known, owner=people.actor(Role.FINISHER).person_id)
    return int(begin_check(session, people.actor(Role.KEEPER), now, asked).result["check"])


def of(session: Session, people: Cast, role: Role, now: datetime) -> list[Entry]:
    person = people.person(role)
    return list(list_dates(session, now, Here(person.id or 0, person.name, role)).entries)


def made(session: Session, people: Cast, now: datetime, check: int) -> int:
    asked = DoneAsked(once=once(), check_id=check, result=Result.FINE)
    return int(do_check(session, people.actor(Role.FINISHER), now, asked).result["entry"])


def test_who_sees_to_a_check_has_its_day_and_nobody_else(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        check = begin(session, people, now)
        (one,) = of(session, people, Role.FINISHER, now)
        assert one.uid == f"check-{check}" and one.day == MONDAY + timedelta(days=6)
        assert one.page == f"/recurring-checks/{check}/record"
        assert one.title == "Check: Rag cans: lids and feet"
        assert "once in each calendar week" in one.text
        for role in (Role.KEEPER, Role.STUDENT, Role.READER):
            assert of(session, people, role, now) == []
        # Who is not here any more leaves it to the keepers.
        owner = session.get_one(Person, people.actor(Role.FINISHER).person_id)
        owner.active = False
        session.add(owner)
        session.flush()
        assert [entry.uid for entry in of(session, people, Role.KEEPER, now)] == [one.uid]


def test_one_entry_moves_on_when_it_is_made_and_back_when_that_is_taken_back(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        check = begin(session, people, now)
        make_feed(session, people.actor(Role.FINISHER), now, SECRET)
        first = fetch(session, now)
        entry = made(session, people, now, check)
        second = fetch(session, now + timedelta(minutes=1))
        back = TakeBackAsked(once(), entry, "Pressed the wrong one.")
        take_back_check(session, people.actor(Role.FINISHER), now, back)
        third = fetch(session, now + timedelta(minutes=2))
    week = timedelta(days=7)
    assert [stand(one) for one in (first, second, third)] == [
        [MONDAY + week - timedelta(days=1)], [MONDAY + 2 * week - timedelta(days=1)],
        [MONDAY + week - timedelta(days=1)],
    ]  # fmt: skip
    assert first.keys() == second.keys() == third.keys(), "one number for ever"
    numbers = [next(iter(one.values())).sequence or 0 for one in (first, second, third)]
    assert numbers == sorted(set(numbers)), "each change by a higher number"


def test_an_ended_check_is_told_as_cancelled(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        check = begin(session, people, now)
        make_feed(session, people.actor(Role.FINISHER), now, SECRET)
        (before,) = fetch(session, now).values()
        ends = ChangeCheck(once(), check, 1, until=THURSDAY, reason="The cans went to the other workshop.")
        end_check(session, people.actor(Role.KEEPER), now, ends)
        (after,) = fetch(session, now + timedelta(days=1)).values()
    assert (before.status, after.status) == (EventStatus.CONFIRMED, EventStatus.CANCELLED)
    assert after.uid == before.uid and (after.sequence or 0) > (before.sequence or 0)


def test_one_long_late_still_stands_in_the_calendar(database: Database, people: Cast, now: datetime) -> None:
    later = now + timedelta(days=200)
    with database.writing() as session:
        begin(session, people, now)
        (one,) = of(session, people, Role.FINISHER, later)
    assert one.day == later.date() - timedelta(days=90) and not one.cancelled
    assert "It was due on 15 March 2026." in one.text


def test_a_late_look_stops_nobody_and_is_to_be_done_today(
    database: Database, people: Cast, now: datetime
) -> None:
    """What the look found not fine is a duty that does stop, once it is late."""
    late = now + timedelta(days=8)
    with database.writing() as session:
        check = begin(session, people, now)
        (one,) = [one for one in list_alerts(session, late) if one.ref == f"recurring-check {check}"]
        assert (one.kind, one.severity) == (AlertKind.DUTY_OVERDUE, Severity.WARN)
        failed = DoneAsked(
            once=once(), check_id=check, result=Result.NOT_FINE, sentence="The lid of can 2 stays open."
        )
        do_check(session, people.actor(Role.FINISHER), late, failed)
        found = [one for one in list_alerts(session, late + timedelta(days=2)) if "can 2" in one.sentence]
    assert [(one.kind, one.severity) for one in found] == [(AlertKind.DUTY_OVERDUE, Severity.STOP)]


def test_the_number_of_duties_has_what_is_due_or_late(
    database: Database, people: Cast, now: datetime
) -> None:
    owner = people.actor(Role.FINISHER).person_id
    with database.writing() as session:
        check = begin(session, people, now)
        daily = begin(session, people, now, "rag-day")
        assert count_due(session, owner, THURSDAY) == 1, "the day's own look alone"
        assert count_due(session, people.actor(Role.KEEPER).person_id, THURSDAY) == 0
        assert count_due(session, owner, MONDAY + timedelta(days=6)) == 2
        made(session, people, now, daily)
        made(session, people, now, check)
        assert count_due(session, owner, THURSDAY) == 0
