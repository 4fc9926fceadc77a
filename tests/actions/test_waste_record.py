"""The waste record: alerts of drums, the cap of the site, and what the book had heard on a past day."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event

from service.actions.correct_entry import ReverseAsked, judge_reversal, reverse
from service.actions.list_alerts import list_alerts
from service.core.access import Role
from service.core.alert_pages import page_of
from service.core.alerts import AlertKind
from service.core.findings import Refused, Severity
from service.core.waste_drums import Area, DrumStep, Held
from service.core.waste_rules import Category
from service.records.engine import Database
from service.records.shop import ShopProfile
from service.records.stock import Movement
from tests.builders import NOW, TODAY, cast
from tests.store_builders import once
from tests.waste_yard import Yard

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        return Yard(database, cast(session))


def test_alerts_tell_a_drum_thirty_days_before_and_stop_when_it_is_past(yard: Yard) -> None:
    yard.site(Category.SQG)
    drum = yard.begin(first_waste_on=TODAY)["drum"]

    def told(days: int) -> list[Any]:
        with yard.database.reading() as session:
            found = list_alerts(session, NOW + timedelta(days=days))
        return [one for one in found if one.ref == f"waste-drum {drum}"]

    assert told(149) == []
    [soon] = told(150)
    assert (soon.kind, soon.severity) == (AlertKind.DUTY, Severity.WARN)
    assert page_of(soon) == f"/waste/drums/{drum}"
    assert "Order its collection" in soon.what_to_do and soon.people == (yard.people.keeper.id,)
    assert [one.severity for one in told(180)] == [Severity.WARN]
    [past] = told(181)
    assert (past.kind, past.severity) == (AlertKind.DUTY_OVERDUE, Severity.STOP)
    yard.leave(drum)
    assert told(181) == []


def test_alerts_tell_the_three_days_and_a_cap_that_is_passed(yard: Yard) -> None:
    yard.site(Category.VSQG)
    yard.begin(first_waste_on=TODAY, holds="1000.1 kg")
    drum = yard.begin(name="B", area=Area.SATELLITE, capacity="55 US gal")["drum"]
    yard.step(drum, DrumStep.OVER)
    with yard.database.reading() as session:
        soon = {one.ref: one for one in list_alerts(session, NOW + timedelta(days=3))}
        late = {one.ref: one for one in list_alerts(session, NOW + timedelta(days=4))}
    key = f"waste-drum {drum}"
    assert (soon[key].severity, late[key].severity) == (Severity.WARN, Severity.STOP)
    # 1000.1 kg in a month make the shop an LQG, which has no cap; the months count before the word told.
    assert "waste-drums" not in soon
    with yard.database.writing() as session:
        session.get_one(ShopProfile, 1).regime = "eu-clp"
    with yard.database.reading() as session:
        assert not [one for one in list_alerts(session, NOW + timedelta(days=400)) if "waste" in one.ref]
    found = yard.record(NOW + timedelta(days=400))
    assert found.site is None and {one.judged.citation for one in found.drums} == {"no rule read"}


def test_the_cap_of_the_site_is_told(yard: Yard) -> None:
    yard.site(Category.VSQG)
    for month in range(10, 13):
        yard.begin(
            name=f"{month}", first_waste_on=date(2025, month, 5), holds="99 kg", now=NOW
        )  # fmt: skip
    assert yard.record().site is not None and yard.record().drums[0].judged.deadline is None
    for month in range(1, 10):
        yard.begin(name=f"{month}", first_waste_on=date(2025, month, 5), holds="99 kg", now=NOW)
    with yard.database.reading() as session:
        found = {one.ref: one for one in list_alerts(session, NOW)}
    assert found["waste-drums"].severity is Severity.STOP and page_of(found["waste-drums"]) == "/waste/drums"
    assert sum(one.judged.overdue for one in yard.record().drums) == 9, "the 180 days of an SQG count now"


def test_the_record_of_a_past_day_is_what_the_book_had_heard(yard: Yard) -> None:
    drum = yard.begin(first_waste_on=TODAY, holds="5 kg")["drum"]
    yard.site(Category.SQG)
    code, later = yard.stuff(), NOW + timedelta(days=2)
    movement = yard.throw(code, amount="1 g", drum_id=drum)
    before = yard.record(NOW, NOW)
    yard.step(drum, DrumStep.PUT_IN, what="x", now=later)
    yard.site(Category.LQG, now=later)
    with yard.database.writing() as session:
        asked = ReverseAsked(once(), movement, "wrong container")
        reverse(session, yard.people.actor(Role.KEEPER), later, asked)
    yard.leave(drum, now=later + timedelta(minutes=1))
    yard.begin(name="New", now=later)
    then, now = yard.record(NOW, NOW), yard.record(later)
    assert (now.drums[0].seen.row.name, len(now.handed_over)) == ("New", 1)
    assert (then.site, then.handed_over, then.months) == (before.site, before.handed_over, before.months)
    assert [one.judged for one in then.drums] == [one.judged for one in before.drums]
    assert then.drums[0].judged.state.mg == Held(5_001_000)


def test_alerts_ask_no_more_for_many_drums_than_for_one(yard: Yard) -> None:
    def asked() -> int:
        statements: list[str] = []
        with yard.database.reading() as session:
            event.listen(session.get_bind(), "before_cursor_execute", lambda *a: statements.append(a[2]))
            list_alerts(session, NOW + timedelta(days=80))
        return len(statements)

    for number in range(2):
        yard.begin(name=f"Drum {number}", first_waste_on=TODAY, holds="2 kg")
    few = asked()
    for number in range(2, 9):
        drum = yard.begin(name=f"Drum {number}", first_waste_on=TODAY, holds="2 kg")["drum"]
        yard.step(drum, DrumStep.PUT_IN, what="Rinsings")
    assert asked() <= few


def test_a_discard_in_a_drum_that_left_is_not_taken_back(yard: Yard) -> None:
    drum = yard.begin(name="RV")["drum"]
    movement = yard.throw(yard.stuff(), amount="1 g", drum_id=drum)
    other = yard.throw(yard.stuff(), amount="1 g")
    left = yard.leave(drum, now=NOW + timedelta(minutes=1))["entry"]
    before, later = yard.record().months, NOW + timedelta(minutes=2)

    def back(number: int) -> None:
        with yard.database.writing() as session:
            asked = ReverseAsked(once(), number, "It was only set aside")
            reverse(session, yard.people.actor(Role.KEEPER), later, asked)

    with pytest.raises(Refused) as caught:
        back(movement)
    [said] = caught.value.verdict
    assert said.code == "drum-gone" and "RV" in said.sentence and "takes the hand-over back" in said.sentence
    assert yard.record().months == before
    with yard.database.reading() as session:
        row = session.get_one(Movement, movement)
        judged = judge_reversal(session, yard.people.actor(Role.KEEPER), later, row, "only set aside")
    assert "drum-gone" in judged.codes
    back(other)
    yard.back(left, now=later)
    back(movement)
    assert yard.record().months == []
