"""Training in the book: several people at once, who may, what counts, and taking back."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import col, select

from service.actions.do_check import TakeBackAsked
from service.actions.train import TrainedAsked, take_back_training, train
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.training import KEEPER_ONLY, Group, Taught, asked_of, needs
from service.records.checks import Training
from service.records.engine import Database
from service.records.training_queries import held_groups, who_lacks
from tests.builders import NOW, TODAY, ZONE, Cast, cast
from tests.store_builders import material, once

FINISHER, KEEPER, STUDENT, READER = Role.FINISHER, Role.KEEPER, Role.STUDENT, Role.READER
BERLIN = ZoneInfo(ZONE)


class Room:
    def __init__(self, database: Database) -> None:
        self.database = database
        with database.writing() as session:
            self.people: Cast = cast(session)

    def number(self, role: Role) -> int:
        return self.people.actor(role).person_id

    def teach(self, role: Role = KEEPER, **said: Any) -> dict[str, Any]:
        now = said.pop("now", NOW)
        usual = {
            "once": once(), "people": (self.number(STUDENT),), "groups": (Group.RAGS,),
            "topic": "Where oily rags go", "taught_by": "Orla of the store",
        }  # fmt: skip
        with self.database.writing() as session:
            return train(session, self.people.actor(role), now, TrainedAsked(**(usual | said))).result

    def back(self, entry: int, role: Role = KEEPER, reason: str = "They were not there.", **said: Any) -> Any:
        with self.database.writing() as session:
            asked = TakeBackAsked(once(), entry, reason)
            return take_back_training(session, self.people.actor(role), said.get("now", NOW), asked).result

    def lacks(self, role: Role) -> set[Group]:
        with self.database.reading() as session:
            _, found = who_lacks(session, TODAY, BERLIN)
            return {need.group for need in found if need.person == self.number(role)}


@pytest.fixture
def room(database: Database) -> Room:
    return Room(database)


def test_one_entry_for_each_person_and_group(room: Room) -> None:
    people = (room.number(STUDENT), room.number(FINISHER))
    done = room.teach(people=people, groups=(Group.RAGS, Group.GENERAL))
    assert len(done["entries"]) == 4 and done["people"] == 2
    assert room.lacks(STUDENT) == set()
    assert room.lacks(KEEPER) >= {Group.RAGS, Group.GENERAL}


@pytest.mark.parametrize("role", [STUDENT, READER])
def test_a_student_and_a_reader_write_none_down(room: Room, role: Role) -> None:
    entry = room.teach()["entries"][0]
    with pytest.raises(NotAllowed):
        room.teach(role)
    with pytest.raises(NotAllowed):
        room.back(entry, role)
    assert room.lacks(READER) == set()


def test_a_finisher_does_not_write_down_their_own(room: Room) -> None:
    with pytest.raises(NotAllowed, match="own training"):
        room.teach(FINISHER, people=(room.number(STUDENT), room.number(FINISHER)))
    assert room.teach(FINISHER)["people"] == 1
    assert room.teach(KEEPER, people=(room.number(KEEPER),))["people"] == 1


def test_keeper_only_groups_are_asked_of_who_may_draw_them(room: Room) -> None:
    with room.database.writing() as session:
        row = material(session)
        row.hazards, row.toxic_metals, row.keeper_only = [], None, None
        session.add(row)
    assert room.lacks(FINISHER) == {Group.GENERAL, Group.RAGS, Group.TOXIC_METALS}
    assert room.lacks(STUDENT) == {Group.GENERAL, Group.RAGS}
    with room.database.reading() as session:
        assert set(held_groups(session, BERLIN)) == {Group.TOXIC_METALS}


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"people": ()}, "people"), ({"people": (999,)}, "people"), ({"groups": ()}, "groups"),
        ({"topic": " a "}, "topic"), ({"topic": "x" * 301}, "topic"), ({"taught_by": ""}, "taught_by"),
        ({"on": TODAY + timedelta(days=1)}, "on"), ({"on": date(1900, 1, 1)}, "on"),
        ({"on": TODAY - timedelta(days=1)}, "late_reason"), ({"note": "x" * 2001}, "note"),
        ({"people": tuple(range(1, 202))}, "people"),
    ],
)  # fmt: skip
def test_what_makes_no_sense_is_refused_at_its_field(room: Room, said: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        room.teach(**said)
    assert field in refused.value.errors


@pytest.mark.parametrize("on", [date(2024, 2, 29), date(2025, 3, 30), date(2025, 10, 26), date(2026, 3, 11)])
def test_an_earlier_day_is_a_late_entry_on_that_day(room: Room, on: date) -> None:
    done = room.teach(on=on, late_reason="The list of names was on paper.")
    with room.database.reading() as session:
        row = session.get_one(Training, done["entries"][0])
    assert (row.on_day, row.late, done["late"]) == (on, True, True)
    assert row.late_reason.startswith("The list")


def test_taking_back_is_an_entry_of_its_own(room: Room) -> None:
    room.teach(groups=(Group.GENERAL,))
    entry = room.teach()["entries"][0]
    assert room.lacks(STUDENT) == set()
    with pytest.raises(Refused, match="own entries"):
        room.back(entry, FINISHER)
    with pytest.raises(Refused, match="few words"):
        room.back(entry, reason="-")
    room.back(entry)
    assert room.lacks(STUDENT) == {Group.RAGS}
    with room.database.reading() as session:
        rows = session.exec(select(Training).order_by(col(Training.id))).all()
    assert [row.reverses_id for row in rows] == [None, None, entry]
    for number in (entry, rows[-1].id or 0):
        with pytest.raises(Refused, match="already"):
            room.back(number)
    with pytest.raises(NotFound):
        room.back(999)


def test_what_came_in_since_is_named(room: Room) -> None:
    groups = (*KEEPER_ONLY, Group.GENERAL, Group.RAGS)
    room.teach(KEEPER, people=(room.number(FINISHER),), groups=groups)
    with room.database.writing() as session:
        row = material(session)
        row.hazards, row.toxic_metals, row.keeper_only = [], None, None
        row.created_at = NOW + timedelta(days=2)
        name = row.name
        session.add(row)
    with room.database.reading() as session:
        _, found = who_lacks(session, TODAY, BERLIN)
        mine = [need for need in found if need.person == room.number(FINISHER)]
    assert [(need.group, need.last, need.newer) for need in mine] == [(Group.TOXIC_METALS, TODAY, name)]


ENTRIES = st.lists(
    st.builds(Taught, st.integers(1, 4), st.sampled_from(list(Group)), st.dates(date(2020, 1, 1))),
    max_size=12,
)
HELD = st.dictionaries(
    st.sampled_from(KEEPER_ONLY), st.tuples(st.dates(date(2020, 1, 1)), st.just("x")), max_size=4
)


@given(ENTRIES, ENTRIES, HELD)
def test_more_training_never_makes_anybody_lack_more(
    before: list[Taught], more: list[Taught], held: dict[Group, tuple[date, str]]
) -> None:
    people = dict(zip(range(1, 5), Role, strict=True))
    was = {(need.person, need.group) for need in needs(people, before, held)}
    now = {(need.person, need.group) for need in needs(people, [*before, *more], held)}
    assert now <= was
    never = {(need.person, need.group) for need in needs(people, [], held)}
    assert never == {(number, group) for number, role in people.items() for group in asked_of(role, held)}
