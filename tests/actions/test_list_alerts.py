"""What wants attention: found by stored marks, judged anew, owned by somebody, worst first."""

from __future__ import annotations

import itertools
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event
from sqlmodel import Session, col, select, update

from service.actions.arrivals import Origin, ReceiveAsked
from service.actions.begin_shop import begin_shop
from service.actions.list_alerts import lines, list_alerts, report, sweep
from service.actions.receive_stock import receive
from service.core.access import Role
from service.core.alerts import AlertKind
from service.core.containers import AmountKnown, ContainerState, Standing
from service.core.findings import Invalid, Severity
from service.core.materials import Basis, Form, MaterialKind, SelfHeating
from service.core.months import add_days
from service.core.shelf_codes import make_code
from service.core.wipes import due_at
from service.records.attention_queries import wanting_attention
from service.records.duties import WIPES, Duty
from service.records.engine import Database
from service.records.jobs import Job, JobKind
from service.records.materials import Material, SafetySheet
from service.records.places import Place, PlaceKind
from service.records.rags import RagLoad
from service.records.stock import Container
from tests.builders import TODAY, Cast, cast

_numbers = itertools.count()


def once() -> str:
    return f"alert-{next(_numbers):06}"


def chance() -> str:
    return f"chance {next(_numbers)}"


@pytest.fixture
def people(database: Database, now: datetime) -> Cast:
    with database.writing() as session:
        made = cast(session)
        begin_shop(session, now)
    return made


def drier(session: Session, now: datetime, **facts: Any) -> int:
    """A drier of which nothing is missing, unless said otherwise."""
    values: dict[str, Any] = {
        "flash_point_c": 61, "hazards": ["Flam. Liq. 3"], "self_heating": SelfHeating.YES, **facts
    }
    row = Material(name="Japan drier", kind=MaterialKind.DRIER, form=Form.LIQUID, created_at=now, **values)
    session.add(row)
    session.flush()
    assert row.id is not None
    sheet = SafetySheet(material_id=row.id, regime="us-hcs", added_by=1, added_at=now)
    session.add(sheet)
    session.flush()
    return row.id


def take_in(session: Session, people: Cast, now: datetime, material_id: int, **said: Any) -> str:
    asked = ReceiveAsked(once(), material_id, **{"amount": "200 ml", **said})
    answer = receive(session, people.actor(Role.FINISHER), now, asked, chance)
    code: str = answer.result["containers"][0]["code"]
    return code


def kinds(session: Session, now: datetime, days: int = 14) -> list[tuple[AlertKind, str]]:
    return [(one.kind, one.about) for one in list_alerts(session, now, days)]


def test_an_empty_shop_has_none(database: Database, people: Cast, now: datetime) -> None:
    with database.reading() as session:
        assert list_alerts(session, now) == []
        assert report(session, now, 30) == "Nothing wants attention in the next 30 days."


def test_a_shop_that_is_not_set_up(database: Database, now: datetime) -> None:
    with database.reading() as session, pytest.raises(Invalid):
        list_alerts(session, now)


def test_containers_of_every_standing(database: Database, people: Cast, now: datetime) -> None:
    today = date(2026, 3, 12)
    with database.writing() as session:
        shelf = Place(code=make_code(900), name="Cabinet A", kind=PlaceKind.CABINET, created_at=now)
        session.add(shelf)
        session.flush()
        stuff = drier(session, now)
        # 24 months sealed: past, at 80 per cent, fresh, and of no known day.
        past = take_in(session, people, now, stuff, packed_on=date(2024, 3, 1), place_id=shelf.id)
        look = take_in(session, people, now, stuff, packed_on=date(2024, 6, 1))
        fresh = take_in(session, people, now, stuff, packed_on=today)
        nobody = take_in(session, people, now, stuff, origin=Origin.STOCK_TAKE)
        found = {one.about: one for one in list_alerts(session, now)}
    assert set(found) == {past, look, nobody}
    assert fresh not in found
    assert [found[code].kind for code in (past, nobody, look)] == [
        AlertKind.PAST, AlertKind.NOT_KNOWN, AlertKind.LOOK_FIRST
    ]
    assert "since 2 March 2026" in found[past].sentence
    assert "Cabinet A" in found[past].what_to_do
    assert "Nobody knows when it was packed" in found[nobody].sentence
    assert {one.owner for one in found.values()} == {"Orla Brandt"}
    assert found[past].ref == f"container {past}"
    with database.reading() as session:
        assert [one.about for one in list_alerts(session, now)] == [past, nobody, look]


def test_soon_only_within_the_days_asked(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        # 80 per cent of the 731 days from 10 August 2024 are gone on 17 March 2026.
        code = take_in(session, people, now, drier(session, now), packed_on=date(2024, 8, 10))
        assert kinds(session, now, 4) == []
        assert kinds(session, now, 5) == [(AlertKind.SOON, code)]


def test_it_is_found_after_midnight_without_anybody_writing(
    database: Database, people: Cast, now: datetime
) -> None:
    with database.writing() as session:
        code = take_in(session, people, now, drier(session, now), packed_on=date(2024, 8, 10))
        assert session.exec(select(Container.standing)).one() is Standing.IN_DATE
    with database.reading() as session:
        # The last minute of 16 March in Berlin, and the first of the day on which it changes.
        assert kinds(session, datetime(2026, 3, 16, 22, 59, tzinfo=UTC), 0) == []
        midnight = datetime(2026, 3, 16, 23, 0, tzinfo=UTC)
        assert kinds(session, midnight, 0) == [(AlertKind.LOOK_FIRST, code)]
        long_after = datetime(2026, 8, 11, 8, 0, tzinfo=UTC)
        assert kinds(session, long_after, 0) == [(AlertKind.PAST, code)]
        assert session.exec(select(Container.standing)).one() is Standing.IN_DATE


def test_the_sweep_writes_down_what_changed_and_nothing_twice(
    database: Database, people: Cast, now: datetime
) -> None:
    later = datetime(2026, 3, 17, 8, 0, tzinfo=UTC)
    with database.writing() as session:
        take_in(session, people, now, drier(session, now), packed_on=date(2024, 8, 10))
        assert sweep(session, now) == 0
        before = list_alerts(session, later, 366)
        assert sweep(session, later) == 1
        assert sweep(session, later) == 0
        row = session.exec(select(Container)).one()
        assert row.standing is Standing.LOOK_FIRST
        assert row.next_alert_on == date(2026, 8, 11)
        assert list_alerts(session, later, 366) == before
        assert sweep(session, datetime(2026, 8, 11, 8, 0, tzinfo=UTC)) == 1
        assert row.standing is Standing.PAST
        assert row.next_alert_on is None
        assert kinds(session, datetime(2027, 1, 1, tzinfo=UTC), 0) == [(AlertKind.PAST, row.code)]


def test_gone_and_empty_ones_are_left_alone(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        code = take_in(session, people, now, drier(session, now), packed_on=date(2020, 1, 1))
        assert kinds(session, now) == [(AlertKind.PAST, code)]
        for state in (ContainerState.EMPTY, ContainerState.GONE):
            session.exec(update(Container).values(state=state))
            assert kinds(session, now) == []
        session.exec(update(Container).values(state=ContainerState.OPEN, balance=0))
        assert kinds(session, now) == []
        # How much is in it is not known: that is not nothing.
        unknown = {"balance": None, "balance_known": AmountKnown.NOT_KNOWN}
        session.exec(update(Container).values(**unknown))
        assert kinds(session, now) == [(AlertKind.PAST, code)]


@pytest.mark.parametrize(
    ("blanked", "words"),
    [
        ({"flash_point_c": None}, "the flash point is not known."),
        ({"hazards": None}, "the hazard class is not known."),
        ({"self_heating": SelfHeating.NOT_KNOWN}, "whether its rags can heat by themselves is not known."),
        ({"flash_point_c": None, "hazards": None}, "the flash point and the hazard class are not known."),
    ],
)
def test_missing_facts_of_what_is_in_the_store(
    database: Database, people: Cast, now: datetime, blanked: dict[str, Any], words: str
) -> None:
    with database.writing() as session:
        stuff = drier(session, now, **blanked)
        assert list_alerts(session, now) == []
        take_in(session, people, now, stuff, packed_on=date(2026, 3, 1))
        (one,) = list_alerts(session, now)
    assert one.kind is AlertKind.MISSING_FACT
    assert one.sentence == f"Japan drier: {words}"
    assert (one.owner, one.ref) == ("Orla Brandt", f"material {stuff}")


def test_a_missing_sheet_and_a_missing_policy(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        row = Material(
            name="Walnut dye", kind=MaterialKind.DYE, form=Form.POWDER, basis=Basis.MASS, hazards=[],
            self_heating=SelfHeating.NO, created_at=now,
        )
        session.add(row)
        session.flush()
        assert row.id is not None
        code = take_in(session, people, now, row.id, amount="100 g", packed_on=date(2026, 3, 1))
        found = list_alerts(session, now)
    assert [one.kind for one in found] == [AlertKind.NOT_KNOWN, AlertKind.MISSING_FACT]
    assert found[0].about == code
    assert "the safety data sheet and how long it keeps are not known" in found[1].sentence


def job_and_load(session: Session, people: Cast, made: datetime, due: datetime) -> RagLoad:
    job = Job(
        name="Table tops", kind=JobKind.SHOP_WORK, leader_id=people.finisher.id or 0, started_at=made,
        ends_by=due, created_at=made,
    )
    session.add(job)
    session.flush()
    assert job.id is not None
    load = RagLoad(
        job_id=job.id, profile="strict", made_at=made, used_until=due, contain_by=due, remove_by=due,
        because=[], owed_by=people.finisher.id or 0,
    )
    session.add(load)
    session.flush()
    return load


def test_rags_due_and_overdue_name_who_owes_them(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        job_and_load(session, people, now - timedelta(hours=1), now + timedelta(hours=2))
        (due,) = list_alerts(session, now, 0)
        (late,) = list_alerts(session, now + timedelta(hours=3), 0)
    assert (due.kind, due.severity, due.owner) == (AlertKind.DUTY, Severity.WARN, "Piet Maas")
    assert (late.kind, late.severity, late.owner) == (AlertKind.DUTY_OVERDUE, Severity.STOP, "Piet Maas")
    assert late.ref == "rag-load 1"
    assert "Until it is recorded" in late.what_to_do
    assert "Put them away when the use ends" in due.what_to_do


def test_duties(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        for days, done in ((-1, None), (3, None), (30, None), (-5, now)):
            session.add(
                Duty(
                    kind="waste-collection", sentence=f"In {days} days.", owed_by=people.keeper.id or 0,
                    due_at=now + timedelta(days=days), created_at=now, done_at=done,
                )
            )
        session.flush()
        found = list_alerts(session, now)
    assert [(one.kind, one.sentence) for one in found] == [
        (AlertKind.DUTY_OVERDUE, "In -1 days."), (AlertKind.DUTY, "In 3 days.")
    ]


def test_a_duty_due_at_the_end_of_a_day_is_due_on_that_day(
    database: Database, people: Cast, now: datetime
) -> None:
    """24:00 is midnight of the next day by the clock; who reads the list in the morning has to see it."""
    ends = due_at(add_days(TODAY, -180), ZoneInfo("Europe/Berlin"))
    with database.writing() as session:
        said = {"kind": WIPES, "sentence": "The wipes must leave.", "created_at": now}
        session.add(Duty(**said, owed_by=people.keeper.id or 0, due_at=ends))
        session.flush()
        (one,) = list_alerts(session, now, 0)
        (late,) = list_alerts(session, ends + timedelta(minutes=1), 0)
    assert (one.kind, one.due) == (AlertKind.DUTY, TODAY)
    assert (late.kind, late.due) == (AlertKind.DUTY_OVERDUE, TODAY)


def test_the_report_has_a_line_for_each(database: Database, people: Cast, now: datetime) -> None:
    with database.writing() as session:
        code = take_in(session, people, now, drier(session, now), packed_on=date(2024, 3, 1))
        (line,) = lines(session, now, 30)
        assert report(session, now, 30) == line
    mark, due, said, owner = line.split("\t")
    assert (mark, due, owner) == ("STOP", "2026-03-02", "Orla Brandt")
    assert code[:3] in said


def test_looking_costs_what_it_finds(database: Database, people: Cast, now: datetime) -> None:
    """The number of statements does not grow with what is found, and the search goes by the indexes."""
    with database.writing() as session:
        stuff = drier(session, now)
        for _ in range(20):
            take_in(session, people, now, drier(session, now, hazards=None), packed_on=date(2026, 3, 1))
        said = ReceiveAsked(once(), stuff, count=40, amount="200 ml", packed_on=date(2024, 3, 1))
        receive(session, people.actor(Role.FINISHER), now, said, chance)
    statements: list[str] = []
    with database.reading() as session:
        one_engine = session.get_bind()
        event.listen(one_engine, "before_cursor_execute", lambda *a: statements.append(a[2]))
        assert len(list_alerts(session, now)) == 60
    assert len(statements) <= 24
    if database.sqlite:
        with database.reading() as session:
            for wanted in (
                select(Container.id).where(
                    col(Container.state).in_([ContainerState.SEALED, ContainerState.OPEN]),
                    col(Container.standing).in_([Standing.PAST, Standing.NOT_KNOWN, Standing.LOOK_FIRST]),
                ),
                select(Container.id).where(col(Container.next_alert_on) <= date(2026, 3, 26)),
            ):
                text = str(wanted.compile(one_engine, compile_kwargs={"literal_binds": True}))
                plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {text}").all()
                assert "USING" in plan[0][3]
                assert "INDEX" in plan[0][3]
            assert len(wanting_attention(session, date(2026, 3, 26))) == 40
