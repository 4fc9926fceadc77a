"""A date that does not hold any more is told as cancelled, however it was lost; read back as a file."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta

import pytest
from ical.calendar_stream import IcsCalendarStream
from ical.event import Event, EventStatus
from sqlmodel import Session, col, select, update

from service.actions.begin_shop import begin_shop
from service.actions.calendar_feeds import make_feed
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.container_events import MoveAsked, OpenAsked, move
from service.actions.container_events import open_container as lift_the_lid
from service.actions.correct_entry import ReverseAsked, reverse
from service.actions.lose_stock import DiscardAsked, discard
from service.actions.tell_calendar import keep_told, look_up
from service.core.access import Role
from service.core.conditions import Found
from service.core.findings import NotFound
from service.core.ledger import Destination
from service.core.life_facts import CheckOutcome
from service.core.months import add_days
from service.outreach.calendar_feed import calendar_file
from service.records.engine import Database
from service.records.notices import CalendarTold
from service.records.stock import Container, Movement
from tests.actions.test_list_alerts import drier, once, take_in
from tests.builders import Cast, cast

SECRET = "x" * 43


@pytest.fixture
def people(database: Database, now: datetime) -> Cast:
    with database.writing() as session:
        made = cast(session)
        begin_shop(session, now)
    return made


def fetch(session: Session, at: datetime, secret: str = SECRET) -> dict[str, Event]:
    """The events as a subscriber reads them, by number."""
    session.flush()
    if look_up(session, at, secret).changed:
        keep_told(session, at, secret)
    told = look_up(session, at, secret)
    assert not told.changed, "what is told is kept"
    written = calendar_file(told.shop, "", told.entries, told.shop_since)
    events = IcsCalendarStream.calendar_from_ics(written.decode()).events
    found = {str(event.uid): event for event in events}
    assert len(found) == len(events)
    return found


def stand(events: dict[str, Event]) -> list[date]:
    return sorted(one.dtstart for one in events.values() if one.status is EventStatus.CONFIRMED)


def doubted(session: Session, people: Cast, code: str, at: datetime) -> None:
    asked = CheckAsked(once=once(), code=code, found=Found.THICKENED)
    check_condition(session, people.actor(Role.KEEPER), at, asked)


def failed(session: Session, people: Cast, code: str, at: datetime) -> None:
    asked = CheckAsked(once=once(), code=code, outcome=CheckOutcome.FAILED)
    check_condition(session, people.actor(Role.KEEPER), at, asked)


def to_a_firm(session: Session, people: Cast, code: str, at: datetime) -> None:
    keeper = people.actor(Role.KEEPER)
    lift_the_lid(session, keeper, at, OpenAsked(once=once(), code=code))
    move(session, keeper, at, MoveAsked(once=once(), code=code, handed_to="A firm", note="lent"))


def no_policy(session: Session, people: Cast, code: str, at: datetime) -> None:
    """Its kind is corrected to one of which nobody knows how long it keeps; its dates are settled anew."""
    box = session.exec(select(Container).where(col(Container.code) == code)).one()
    change = update(Container).where(col(Container.id) == box.id)
    session.exec(change.values(received_on=None, packed_on=None, printed_date=None, in_date_until=None))
    session.exec(change.values(next_alert_on=None, standing="not-known"))


def gone(session: Session, people: Cast, code: str, at: datetime) -> None:
    asked = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
    discard(session, people.actor(Role.KEEPER), at, asked)


@pytest.mark.parametrize("way", [doubted, failed, to_a_firm, no_policy, gone])
@pytest.mark.parametrize("end", [date(2028, 2, 29), date(2026, 3, 29), date(2026, 10, 25)])
def test_every_number_stands_or_is_cancelled_for_more_than_a_year(
    database: Database, people: Cast, now: datetime, way: Callable[..., None], end: date
) -> None:
    at = datetime.combine(add_days(end, -20), now.timetz())
    with database.writing() as session:
        make_feed(session, people.actor(Role.FINISHER), at, SECRET)
        stuff = drier(session, at)
        code = take_in(session, people, at, stuff, packed_on=add_days(end, -100), printed_date=end)
        lift_the_lid(session, people.actor(Role.FINISHER), at, OpenAsked(once=once(), code=code))
        first = seen = fetch(session, at)
        assert end in stand(first)
        at += timedelta(minutes=5)
        way(session, people, code, at)
        for days in (0, 1, 89, 100, 200):
            at += timedelta(days=days)
            then = fetch(session, at)
            assert first.keys() <= then.keys(), days
            for uid, event in seen.items():
                new = then[uid]
                assert (new.sequence or 0) >= (event.sequence or 0) and new.dtstamp >= event.dtstamp
                if new.status is not event.status:
                    assert new.status is EventStatus.CANCELLED and new.dtstart == event.dtstart
                    assert (new.sequence or 0) > (event.sequence or 0)
                    assert (new.summary or "").startswith("Cancelled: ")
            if way in (to_a_firm, no_policy, gone):
                assert stand(then) == []
            seen = then
            if way is failed and days == 1:
                assert end not in stand(then), "what was told as its last day is not told so any more"


def test_what_is_taken_back_stands_again_by_a_higher_number(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        make_feed(session, keeper, now, SECRET)
        code = take_in(session, people, now, drier(session, now), packed_on=date(2025, 3, 1))
        seen = [fetch(session, now)]
        gone(session, people, code, now + timedelta(minutes=1))
        seen.append(fetch(session, now + timedelta(minutes=2)))
        out = session.exec(select(Movement).order_by(col(Movement.id).desc())).first()
        assert out is not None
        reverse(session, keeper, now + timedelta(minutes=3), ReverseAsked(once(), out.id or 0, "Still here."))
        seen.append(fetch(session, now + timedelta(minutes=4)))
        assert [len(stand(one)) for one in seen] == [2, 0, 2]
        for uid in seen[0]:
            numbers = [one[uid].sequence or 0 for one in seen]
            assert numbers == sorted(set(numbers))
            first, last = seen[0][uid], seen[2][uid]
            assert (first.dtstart, first.summary) == (last.dtstart, last.summary)


def test_each_address_tells_what_it_told_itself(database: Database, people: Cast, now: datetime) -> None:
    keeper, finisher = people.actor(Role.KEEPER), people.actor(Role.FINISHER)
    with database.writing() as session:
        make_feed(session, keeper, now, SECRET)
        make_feed(session, finisher, now, "y" * 43)
        code = take_in(session, people, now, drier(session, now), packed_on=date(2025, 3, 1))
        lift_the_lid(session, finisher, now, OpenAsked(once=once(), code=code))
        assert len(stand(fetch(session, now))) == len(stand(fetch(session, now, "y" * 43))) == 2
        lift_the_lid(session, keeper, now, OpenAsked(once=once(), code=code))
        at = now + timedelta(hours=1)
        assert len(stand(fetch(session, at))) == 2
        his = fetch(session, at, "y" * 43)
        assert len(his) == 2 and stand(his) == [], "somebody else has opened it since"
        make_feed(session, finisher, at, "z" * 43)
        assert fetch(session, at, "z" * 43) == {}, "a new address has told nothing"
        with pytest.raises(NotFound):
            look_up(session, at, "y" * 43)
        assert len(session.exec(select(CalendarTold)).all()) == 4


def test_a_calendar_of_many_loses_none(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        make_feed(session, people.actor(Role.KEEPER), now, SECRET)
        stuff = drier(session, now)
        for _ in range(30):
            take_in(session, people, now, stuff, packed_on=date(2025, 3, 1))
        assert len(fetch(session, now)) == 60
        session.exec(update(Container).values(in_date_until=None, next_alert_on=None))
        assert stand(fetch(session, now + timedelta(days=1))) == []
        assert len(fetch(session, now + timedelta(days=1))) == 60
