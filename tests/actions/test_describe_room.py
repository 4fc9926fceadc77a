"""What a keeper writes down of a room's air, on both databases."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from service.actions.arrange_places import PlaceAsked, add_place
from service.actions.describe_room import RoomAsked, describe_room
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Stale
from service.core.materials import Unknown
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.rooms import AirFrom, air_of, rooms
from service.records.shop import Change
from tests.builders import NOW, Cast, cast

AIR = RoomAsked(
    "r1",
    0,
    Decimal("90.5"),
    Decimal(300),
    AirFrom.FAN,
    Decimal("3"),
    Decimal("24.5"),
    Unknown.YES,
    " by the door ",
)


def a_room(
    session: Session, people: Cast, name: str = "Finishing room", kind: PlaceKind = PlaceKind.ROOM
) -> int:
    keeper = people.actor(Role.KEEPER)
    made = add_place(session, keeper, NOW, PlaceAsked(f"place {name}", name, kind), lambda: f"chance {name}")
    return int(made.result["place"])


def test_a_room_is_described_and_each_change_is_kept(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        place, keeper = a_room(session, people), people.actor(Role.KEEPER)
        assert describe_room(session, keeper, NOW, place, AIR).result["version"] == 1
        again = describe_room(session, keeper, NOW, place, AIR)
        assert again.repeated
        changed = RoomAsked("r2", 1, Decimal(80))
        assert describe_room(session, keeper, NOW, place, changed).result["version"] == 2
    with database.reading() as session:
        row = air_of(session, place)
        assert row is not None
        assert (row.volume_l, row.fresh_air_l_h, row.mixing_tenths, row.temperature_tenths) == (
            80_000, None, None, None,
        )  # fmt: skip
        changes = session.exec(select(Change).where(Change.about_kind == "place")).all()
        told = {(one.field, one.before, one.after) for one in changes}
        assert ("volume l", "90500", "80000") in told
        assert ("fresh air l h", "300000", None) in told
        assert [one.name for one in rooms(session)] == ["Finishing room"]


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        (RoomAsked("a", 0, volume_m3=Decimal(0)), "volume_m3"),
        (RoomAsked("b", 0, volume_m3=Decimal(10**7)), "volume_m3"),
        (RoomAsked("c", 0, fresh_air_m3_h=Decimal(-1)), "fresh_air_m3_h"),
        (RoomAsked("d", 0, mixing_factor=Decimal("0.2")), "mixing_factor"),
        (RoomAsked("e", 0, temperature_c=Decimal(77)), "temperature_c"),
    ],
)
def test_what_cannot_be_is_refused(database: Database, asked: RoomAsked, field: str) -> None:
    with database.writing() as session:
        people = cast(session)
        place = a_room(session, people)
        with pytest.raises(Invalid) as wrong:
            describe_room(session, people.actor(Role.KEEPER), NOW, place, asked)
    assert field in wrong.value.errors


def test_who_may_and_what_is_a_room(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        place, shelf = a_room(session, people), a_room(session, people, "Shelf", PlaceKind.SHELF)
        keeper, student = people.actor(Role.KEEPER), people.actor(Role.STUDENT)
        with pytest.raises(NotAllowed):
            describe_room(session, student, NOW, place, AIR)
        with pytest.raises(NotFound):
            describe_room(session, keeper, NOW, 999_999, replace(AIR, once="y"))
        with pytest.raises(Invalid, match="is no room"):
            describe_room(session, keeper, NOW, shelf, replace(AIR, once="z"))
        with pytest.raises(Stale):
            describe_room(session, keeper, NOW, place, RoomAsked("x", 7))
