"""Rags of a customer's site come home: the can of the van carried in, or emptied into the shop's."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from sqlmodel import col, select

from service.actions.empty_can import CarryAsked, EmptyAsked, carry_can, empty_can
from service.actions.look_at_waste import look_at_waste
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused
from service.core.materials import Unknown
from service.core.rags import RagStep, Water
from service.core.waste import Mass
from service.core.waste_rules import Category, Kind
from service.records.duties import Duty
from service.records.engine import Database
from service.records.places import Place, PlaceKind
from service.records.rags import RagLoad, RagLogRow
from tests.rag_shop import ENDS, RagShop, add_place, codes_of, make_shop, once, open_a_job


@dataclass
class Trip:
    """Two jobs at customers' houses, their rags in the lidded can of the van."""

    shop: RagShop
    van: int
    hall: int
    van_can: int
    loads: list[int]


@pytest.fixture
def trip(database: Database) -> Trip:
    shop = make_shop(database)
    with database.writing() as session:
        van = add_place(session, "The van", PlaceKind.VEHICLE)
        hall = add_place(session, "Hall", PlaceKind.ROOM)
        can = add_place(
            session, "Van can", PlaceKind.RAG_CAN, listed=Unknown.YES, self_closing=Unknown.YES,
            parent_id=van, distance_mm=700, floor_cannot_burn=Unknown.YES,
        )  # fmt: skip
    loads = []
    for name in ("Stairs of Ms Winter", "Table of Mr Thorn"):
        shop.job = open_a_job(shop, name)
        shop.draw()
        shop.pass_by(minutes=5)
        shop.step(RagStep.IN_CAN, can_id=can)
        loads.append(shop.load_id())
    return Trip(shop, van, hall, can, loads)


def empty(trip: Trip, into: int, role: Role = Role.FINISHER, **said: Any) -> list[dict[str, Any]]:
    asked = EmptyAsked(once(), said.pop("from_id", trip.van_can), into, **said)
    with trip.shop.database.writing() as session:
        return list(empty_can(session, trip.shop.actor(role), trip.shop.now, asked).result["loads"])


def carry(trip: Trip, to: int, role: Role = Role.FINISHER, **said: Any) -> dict[str, Any]:
    asked = CarryAsked(once(), said.pop("can_id", trip.van_can), to, **said)
    with trip.shop.database.writing() as session:
        return dict(carry_can(session, trip.shop.actor(role), trip.shop.now, asked).result)


def clocks(trip: Trip) -> list[tuple[Any, Any]]:
    with trip.shop.database.reading() as session:
        rows = session.exec(select(RagLoad).order_by(col(RagLoad.id))).all()
        return [(row.contain_by, row.remove_by) for row in rows]


def log(trip: Trip, kind: str) -> list[RagLogRow]:
    with trip.shop.database.reading() as session:
        return list(session.exec(select(RagLogRow).where(col(RagLogRow.kind) == kind)).all())


def test_the_can_comes_home_with_its_rags_and_their_times(trip: Trip) -> None:
    before = clocks(trip)
    trip.shop.pass_by(minutes=20)
    told = carry(trip, trip.hall)
    assert told["loads"] == trip.loads and told["sentence"] == "Van can carried from The van to Hall."
    assert clocks(trip) == before
    assert [row.load_id for row in log(trip, "can-carried")] == trip.loads
    with trip.shop.database.reading() as session:
        can = session.get_one(Place, trip.van_can)
        assert (can.parent_id, can.distance_mm, can.floor_cannot_burn) == (trip.hall, None, Unknown.NOT_KNOWN)
    for load in trip.loads:
        assert trip.shop.load(load).state.contained
    trip.shop.now = ENDS + timedelta(minutes=1)
    assert trip.shop.load(trip.loads[0]).judgement.past_remove, "coming home is no end and no new beginning"


def test_into_the_shops_can_in_one_act(trip: Trip) -> None:
    before = clocks(trip)
    trip.shop.pass_by(minutes=20)
    told = empty(trip, trip.shop.can)
    assert [one["id"] for one in told] == trip.loads and all(one["contained"] for one in told)
    assert clocks(trip) == before
    rows = log(trip, "can-emptied")
    assert len(rows) == 1 and "Van can emptied into Rag can, loads 1, 2" in rows[0].body
    steps = [row for row in log(trip, "step") if row.posting_id == rows[0].posting_id]
    assert [row.load_id for row in steps] == trip.loads
    with pytest.raises(Refused) as refused:
        empty(trip, trip.shop.can)
    assert codes_of(refused.value) == {"can-empty"}


def test_into_the_drum_with_one_mass_for_all(trip: Trip) -> None:
    trip.shop.pass_by(minutes=20)
    told = empty(trip, trip.shop.drum, water=Water.FULL, mass="2 kg")
    assert all(one["remove_met"] for one in told)
    with trip.shop.database.reading() as session:
        owed = session.exec(select(Duty).where(col(Duty.kind) == "waste-collection")).all()
        assert len(owed) == 2 and all("2 kg, of loads 1, 2 together" in duty.sentence for duty in owed)


def test_one_mass_for_all_counts_once_in_its_month(trip: Trip) -> None:
    trip.shop.pass_by(minutes=20)
    empty(trip, trip.shop.drum, water=Water.FULL, mass="200 kg")
    with trip.shop.database.reading() as session:
        [(month, lines)] = look_at_waste(session, ZoneInfo("Europe/Berlin")).months
    assert [line.kg for line in lines] == [200, 0]
    assert month.month.of(Kind.WASTE) == Mass(Fraction(200)) and month.at_least is Category.SQG


def test_a_mass_that_nothing_keeps_is_refused_and_not_lost(trip: Trip) -> None:
    with pytest.raises(Invalid) as wrong:
        empty(trip, trip.shop.can, mass="60 kg")
    assert set(wrong.value.errors) == {"mass"}
    trip.shop.draw()
    trip.shop.pass_by(minutes=5)
    with pytest.raises(Invalid) as wrong:
        trip.shop.step(RagStep.IN_CAN, can_id=trip.shop.can, mass="60 kg")
    assert "taken away" in wrong.value.sentence and set(wrong.value.errors) == {"mass"}


def test_written_down_late_it_counts_from_when_it_was_done(trip: Trip) -> None:
    done = trip.shop.now + timedelta(minutes=10)
    trip.shop.now = ENDS + timedelta(hours=2)
    with pytest.raises(Invalid):
        empty(trip, trip.shop.drum, water=Water.FULL, happened_at=done)
    why = "We unloaded first and came to the tablet after the meal"
    told = empty(trip, trip.shop.drum, water=Water.FULL, happened_at=done, late_reason=why)
    assert all(one["remove_met"] for one in told)
    assert not log(trip, "violation"), "it was done in time, and only written down late"
    assert all(row.happened_at == done and why in row.body for row in log(trip, "can-emptied"))


def test_done_too_late_is_a_violation_of_each_load(trip: Trip) -> None:
    trip.shop.now = ENDS + timedelta(minutes=30)
    empty(trip, trip.shop.drum, water=Water.FULL)
    assert [row.load_id for row in log(trip, "violation")] == trip.loads


def test_all_of_them_or_none(trip: Trip) -> None:
    """A bucket that is not listed is no rag can, and a drum without water no drum: nothing is written."""
    for into, water in ((trip.shop.bucket, None), (trip.shop.drum, Water.PARTLY), (trip.shop.drum, None)):
        with pytest.raises(Refused):
            empty(trip, into, water=water)
    assert not log(trip, "can-emptied")
    with trip.shop.database.reading() as session:
        assert not session.exec(select(Duty)).all()


def test_who_may_and_what_is_no_can(trip: Trip) -> None:
    for role in (Role.READER, Role.STUDENT):
        with pytest.raises(NotAllowed):
            empty(trip, trip.shop.can, role)
        with pytest.raises(NotAllowed):
            carry(trip, trip.hall, role)
    for wrong in (trip.van, trip.van_can):
        with pytest.raises(Invalid):
            empty(trip, wrong)
    with pytest.raises(NotFound):
        empty(trip, 4711)
    with pytest.raises(Invalid):
        carry(trip, trip.shop.can)
    with pytest.raises(Invalid):
        carry(trip, trip.hall, can_id=trip.shop.drum)
    with pytest.raises(Refused) as refused:
        carry(trip, trip.van)
    assert codes_of(refused.value) == {"can-is-there"}
