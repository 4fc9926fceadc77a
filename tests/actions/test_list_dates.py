"""What stands in somebody's calendar: theirs and nobody else's, changes by higher numbers, never rags."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event
from sqlmodel import Session, col, select, update

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.check_condition import CheckAsked, check_condition
from service.actions.container_events import MoveAsked, OpenAsked, move
from service.actions.container_events import open_container as lift_the_lid
from service.actions.count_stock import CountAsked, count
from service.actions.list_dates import list_dates
from service.actions.lose_stock import DiscardAsked, LossAsked, LossKind, discard, lose
from service.actions.receive_stock import receive
from service.actions.set_policy import PolicyAsked, set_policy
from service.core.access import Role
from service.core.ageing_policies import PolicyEnd
from service.core.calendar_entries import Entry, EntryKind
from service.core.ledger import Destination
from service.core.life_facts import CheckOutcome
from service.core.materials import Form, MaterialKind
from service.core.months import add_days
from service.records import calendar_dates
from service.records.duties import WIPES, Duty
from service.records.engine import Database
from service.records.materials import AgeingPolicyRow, Material
from service.records.owners import Here
from service.records.people import Person
from service.records.policy_queries import Subject
from service.records.stock import Container, Posting
from tests.actions.test_list_alerts import chance, drier, job_and_load, once, take_in
from tests.builders import TODAY, Cast, cast


@pytest.fixture
def people(database: Database, now: datetime) -> Cast:
    with database.writing() as session:
        made = cast(session)
        begin_shop(session, now)
    return made


def of(session: Session, people: Cast, role: Role, now: datetime) -> list[Entry]:
    person = people.person(role)
    return list(list_dates(session, now, Here(person.id or 0, person.name, role)).entries)


def told(entries: list[Entry]) -> list[tuple[str, date, bool]]:
    return [(one.kind.value, one.day, one.cancelled) for one in entries]


def varnish(session: Session, now: datetime) -> int:
    """A material whose end is definite: it is not checked for more time."""
    row = Material(name="Spirit varnish", kind=MaterialKind.SOLVENT, form=Form.LIQUID, created_at=now)
    session.add(row)
    session.flush()
    assert row.id is not None
    said = {"end": "expiry", "sealed_months": 12, "source": "label", "set_at": now}
    session.add(AgeingPolicyRow(material_id=row.id, **said))
    session.flush()
    return row.id


def test_a_container_has_two_days_and_a_finisher_sees_what_they_opened(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        code = take_in(session, people, now, drier(session, now), packed_on=date(2025, 3, 1))
        look, end = of(session, people, Role.KEEPER, now)
        assert told([look, end]) == [("look", date(2026, 10, 6), False), ("end", date(2027, 3, 1), False)]
        assert look.title == f"Look first: {code[:3]} {code[3:]} Japan drier"
        assert look.page == f"/containers/{code}" and end.title.startswith("Check again by: ")
        assert of(session, people, Role.FINISHER, now) == []
        lift_the_lid(session, people.actor(Role.FINISHER), now, OpenAsked(once=once(), code=code))
        again = of(session, people, Role.KEEPER, now)
        assert of(session, people, Role.FINISHER, now) == again != []
        assert of(session, people, Role.STUDENT, now) == of(session, people, Role.READER, now) == []
        lift_the_lid(session, people.actor(Role.KEEPER), now, OpenAsked(once=once(), code=code))
        assert of(session, people, Role.FINISHER, now) == [], "somebody else has opened it since"
        assert [one.uid for one in again] == [look.uid, end.uid]


def test_a_finisher_sees_it_though_another_container_was_opened_later_and_what_they_were_handed(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper, finisher = people.actor(Role.KEEPER), people.actor(Role.FINISHER)
    with database.writing() as session:
        stuff = drier(session, now)
        mine, other = (take_in(session, people, now, stuff, packed_on=date(2025, 3, 1)) for _ in range(2))
        lift_the_lid(session, finisher, now, OpenAsked(once=once(), code=mine))
        lift_the_lid(session, keeper, now, OpenAsked(once=once(), code=other))
        assert {one.page for one in of(session, people, Role.FINISHER, now)} == {f"/containers/{mine}"}
        move(session, keeper, now, MoveAsked(once=once(), code=other, handed_to="piet MAAS", note="lent"))
        both = {f"/containers/{mine}", f"/containers/{other}"}
        assert {one.page for one in of(session, people, Role.FINISHER, now)} == both
        move(session, keeper, now, MoveAsked(once=once(), code=other, handed_to="Piet Maas & Sons"))
        assert {one.page for one in of(session, people, Role.FINISHER, now)} == {f"/containers/{mine}"}


def test_what_counts_the_days_may_not_be_checked_for_more(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        take_in(session, people, now, varnish(session, now), packed_on=date(2026, 3, 1))
        take_in(session, people, now, varnish(session, now), packed_on=None, origin=Origin.STOCK_TAKE)
        entries = of(session, people, Role.KEEPER, now)
    assert [one.title.partition(":")[0] for one in entries] == ["Look first", "Last day in date"]


def test_every_change_of_a_date_grows_its_number_and_its_stamp(
    database: Database, people: Cast, now: datetime
) -> None:
    keeper, finisher = people.actor(Role.KEEPER), people.actor(Role.FINISHER)
    at = now

    def later() -> datetime:
        nonlocal at
        at += timedelta(minutes=1)
        return at

    with database.writing() as session:
        stuff = drier(session, now)
        code = take_in(session, people, now, stuff, packed_on=date(2025, 3, 1))
        seen = [of(session, people, Role.KEEPER, at)]

        def moved() -> None:
            session.flush()
            seen.append(of(session, people, Role.KEEPER, at))

        lift_the_lid(session, finisher, later(), OpenAsked(once=once(), code=code))
        moved()
        lasts: dict[str, Any] = {"sealed_months": 24, "opened_months": 9, "extends_months": 6}
        lasts |= {"end": PolicyEnd.RETEST, "grade": "memory"}
        subject = Subject(kind=MaterialKind.DRIER)
        asked = PolicyAsked(once=once(), subject=subject, reason="Ours skins early", **lasts)
        set_policy(session, keeper, later(), asked)
        moved()
        at = now + timedelta(days=200)
        passed = CheckAsked(once=once(), code=code, outcome=CheckOutcome.PASSED)
        check_condition(session, finisher, later(), passed)
        moved()
        gone = DiscardAsked(once=once(), code=code, destination=Destination.HAULER)
        discard(session, keeper, later(), gone)
        moved()
    uids = {tuple(sorted(one.uid for one in entries)) for entries in seen}
    assert len(uids) == 1
    for before, after in itertools.pairwise(seen):
        one, two = before[-1], after[-1]
        assert two.sequence > one.sequence and two.stamp > one.stamp
    days = [entries[-1].day for entries in seen]
    assert len(set(days)) == 3, "the policy and the check moved it"
    assert [one.cancelled for one in seen[-1]] == [True, True]


@pytest.mark.parametrize("way", ["discard", "count", "loss"])
def test_what_is_gone_is_cancelled_for_ninety_days_and_then_told_no_more(
    database: Database, people: Cast, now: datetime, way: str
) -> None:
    keeper = people.actor(Role.KEEPER)
    with database.writing() as session:
        code = take_in(session, people, now, drier(session, now), packed_on=date(2025, 3, 1))
        lift_the_lid(session, people.actor(Role.FINISHER), now, OpenAsked(once=once(), code=code))
        before = of(session, people, Role.KEEPER, now)
        at = now + timedelta(minutes=1)
        if way == "discard":
            discard(session, keeper, at, DiscardAsked(once=once(), code=code, destination=Destination.HAULER))
        elif way == "count":
            count(session, keeper, at, CountAsked(once=once(), code=code, amount="0 ml", reason="Used up"))
        else:
            lose(session, keeper, at, LossAsked(once=once(), code=code, loss=LossKind.DRIED_UP))
        after = of(session, people, Role.KEEPER, at)
        assert of(session, people, Role.FINISHER, at) == after, "he opened it last"
        assert [one.uid for one in after] == [one.uid for one in before]
        assert all(one.cancelled for one in after) and not any(one.cancelled for one in before)
        assert all(a.sequence > b.sequence for a, b in zip(after, before, strict=True))
        for number in range(30):  # other postings before and after: the search by halving finds its place
            take_in(session, people, at + timedelta(days=number), drier(session, now), packed_on=None)
        assert [one for one in of(session, people, Role.KEEPER, at + timedelta(days=89)) if one.cancelled]
        assert not [one for one in of(session, people, Role.KEEPER, at + timedelta(days=92)) if one.cancelled]


def test_the_search_by_halving_finds_the_first_of_any_time(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        assert calendar_dates._first_posting_since(session, now) >= 1
        times = [now + timedelta(hours=h) for h in (0, 0, 1, 5, 5, 5, 9)]
        for at in times:
            take_in(session, people, at, drier(session, now), packed_on=None)
        rows = session.exec(select(Posting.id, Posting.recorded_at).order_by(col(Posting.id))).all()
        for hours in (-1, 0, 0.5, 1, 5, 6, 9, 10):
            at = now + timedelta(hours=hours)
            meant = [number for number, recorded in rows if recorded >= at]
            found = calendar_dates._first_posting_since(session, at)
            assert [number for number, _ in rows if (number or 0) >= found] == meant, hours


def test_no_rags_stand_in_it_and_duties_of_others_neither(
    database: Database, people: Cast, now: datetime
) -> None:
    finisher = people.finisher.id or 0
    kinds = (
        ("waste-collection", "rag-load"), ("answer-violation", "posting"), ("answer-violation", "rag-load"),
        ("leaking-container", "container"), (WIPES, "place"),
    )  # fmt: skip
    with database.writing() as session:
        job_and_load(session, people, now - timedelta(hours=1), now + timedelta(hours=2))
        for kind, about in kinds:
            session.add(Duty(kind=kind, sentence=f"{kind} {about}.", owed_by=finisher, created_at=now,
                             due_at=now + timedelta(hours=3), about_kind=about))  # fmt: skip
        session.flush()
        mine = of(session, people, Role.FINISHER, now)
        assert [one.title for one in mine] == ["Due: leaking-container container.", f"Due: {WIPES} place."]
        assert {one.day for one in mine} == {TODAY} and {one.page for one in mine} == {"/duties"}
        assert of(session, people, Role.KEEPER, now) == of(session, people, Role.STUDENT, now) == []
        piet = session.get(Person, finisher)
        assert piet is not None
        piet.active = False
        session.flush()
        assert len(of(session, people, Role.KEEPER, now)) == 2, "he left: the keepers see to it"


def test_a_duty_that_is_done_is_cancelled(database: Database, people: Cast, now: datetime) -> None:
    ends = datetime(2028, 2, 29, 23, tzinfo=UTC)  # 24:00 of 29 February in Berlin
    at = ends - timedelta(days=30)
    with database.writing() as session:
        duty = Duty(kind="count-container", sentence="Count it.", owed_by=people.keeper.id or 0, due_at=ends,
                    created_at=at)  # fmt: skip
        session.add(duty)
        session.flush()
        (before,) = of(session, people, Role.KEEPER, at)
        assert (before.day, before.cancelled) == (date(2028, 2, 29), False)
        duty.done_at = at + timedelta(days=1)
        session.flush()
        (after,) = of(session, people, Role.KEEPER, at + timedelta(days=2))
        assert of(session, people, Role.KEEPER, at + timedelta(days=92)) == []
    assert after.cancelled and after.uid == before.uid
    assert after.sequence > before.sequence and after.stamp > before.stamp


@pytest.mark.parametrize("end", [date(2028, 2, 29), date(2026, 3, 29), date(2026, 10, 25)])
def test_the_day_is_the_one_the_book_says(database: Database, people: Cast, now: datetime, end: date) -> None:
    at = datetime.combine(add_days(end, -20), now.timetz())
    with database.writing() as session:
        stuff = drier(session, now)
        take_in(session, people, at, stuff, packed_on=add_days(end, -100), printed_date=end)
        row = session.exec(select(Container)).one()
        session.refresh(row)
        assert row.in_date_until == end
        days = {one.kind: one.day for one in of(session, people, Role.KEEPER, at)}
    assert days[EntryKind.END] == end


def test_a_store_with_more_dates_than_fit_says_so(
    database: Database, people: Cast, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    with database.writing() as session:
        stuff = drier(session, now)
        for days in range(0, 30, 5):
            take_in(session, people, now, stuff, packed_on=add_days(date(2025, 3, 1), days))
        whole = of(session, people, Role.KEEPER, now)
        assert len(whole) == 12 and not any(one.kind is EntryKind.MORE for one in whole)
        monkeypatch.setattr(calendar_dates.with_dates, "__defaults__", (4,))
        cut = of(session, people, Role.KEEPER, now)
    (more,) = [one for one in cut if one.kind is EntryKind.MORE]
    assert len(cut) == 9 and "not in this calendar" in more.title
    until = {(one.uid, one.day) for one in whole if one.day < more.day}
    assert until <= {(one.uid, one.day) for one in cut}, "nothing before that day is missing"


def test_it_costs_what_it_shows_and_writes_nothing(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        said: dict[str, Any] = {"count": 60, "amount": "200 ml", "packed_on": date(2025, 3, 1)}
        asked = ReceiveAsked(once(), drier(session, now), **said)
        receive(session, people.actor(Role.FINISHER), now, asked, chance)
        session.exec(update(Container).where(col(Container.id) > 50).values(balance=0))
    statements: list[str] = []
    with database.reading() as session:
        bind = session.get_bind()
        event.listen(bind, "before_cursor_execute", lambda *a: statements.append(a[2]))
        assert len(of(session, people, Role.KEEPER, now)) == 120
    assert len(statements) <= 30
    assert not [one for one in statements if not one.lstrip().upper().startswith(("SELECT", "BEGIN"))]
