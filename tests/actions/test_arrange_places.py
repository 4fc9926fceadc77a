"""Places: their codes, what they stand in, and what is not known of a can or drum."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.actions.arrange_places import PlaceAsked, add_place, can_findings, change_place, describe_path
from service.actions.arrivals import ReceiveAsked
from service.actions.receive_stock import receive
from service.core.access import Role
from service.core.findings import Invalid, NotAllowed, NotFound, Refused, Stale
from service.core.materials import Form, MaterialKind, Unknown
from service.core.shelf_codes import is_code
from service.records.engine import Database
from service.records.materials import Material
from service.records.places import Place, PlaceKind
from service.records.shop import Change
from tests.builders import NOW, Cast, cast

_keys = itertools.count(1)
YES, NO, NOT_KNOWN = Unknown.YES, Unknown.NO, Unknown.NOT_KNOWN


def asked(name: str = "Cabinet A", kind: PlaceKind = PlaceKind.CABINET, **more: Any) -> PlaceAsked:
    return PlaceAsked(f"place-{next(_keys):06d}", name, kind, **more)


def made(session: Session, people: Cast, what: PlaceAsked, role: Role = Role.KEEPER) -> Place:
    text = f"chance {next(_keys)}"
    settled = add_place(session, people.actor(role), NOW, what, lambda: text)
    row = session.get(Place, settled.result["place"])
    assert row is not None
    return row


def test_a_place_gets_a_code_and_stands_in_another(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        room = made(session, people, asked("Store room", PlaceKind.ROOM))
        cabinet = made(session, people, asked("  Cabinet   A ", parent_id=room.id))
        assert is_code(cabinet.code) and cabinet.code != room.code
        assert cabinet.name == "Cabinet A"
        assert describe_path(session, cabinet) == "Cabinet A, Store room"


@pytest.mark.parametrize("role", [Role.READER, Role.STUDENT, Role.FINISHER])
def test_only_a_keeper_arranges_places(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(NotAllowed):
            made(session, people, asked(), role)


def test_what_is_not_known_of_a_can_is_said_and_counts_as_no(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        can = made(session, people, asked("Red can", PlaceKind.RAG_CAN, metal=YES, lid=NO))
        assert can_findings(can).codes == {"lid-no", "self-closing-not-known", "listed-not-known"}
        drum = made(
            session, people, asked("Yard drum", PlaceKind.OUTSIDE_DRUM, detached=NO, metal=YES, lid=YES)
        )
        assert "detached-no" in can_findings(drum).codes and drum.outdoors
        shelf = made(session, people, asked("Shelf", PlaceKind.SHELF, metal=YES, detached=YES))
        assert (shelf.metal, shelf.detached) == (NOT_KNOWN, NOT_KNOWN), "asked of cans and drums only"
        can_not_detached = made(session, people, asked("Can", PlaceKind.RAG_CAN, detached=YES))
        assert can_not_detached.detached is NOT_KNOWN, "only a drum stands apart from the building"


def test_a_change_is_kept_and_a_stale_one_refused(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        keeper = people.actor(Role.KEEPER)
        can = made(session, people, asked("Red can", PlaceKind.RAG_CAN))
        change_place(
            session, keeper, NOW, can.id or 0, asked("Rag can", PlaceKind.RAG_CAN, lid=YES, version=1)
        )
        assert (can.name, can.lid, can.version) == ("Rag can", YES, 2)
        rows = session.exec(
            select(Change).where(col(Change.about_kind) == "place", col(Change.about_id) == can.id)
        )
        kept = {row.field: (row.before, row.after) for row in rows}
        assert kept["name"] == ("Red can", "Rag can") and kept["lid"] == ("not-known", "yes")
        with pytest.raises(Stale):
            change_place(session, keeper, NOW, can.id or 0, asked("Other", PlaceKind.RAG_CAN, version=1))
        with pytest.raises(NotFound):
            change_place(session, keeper, NOW, 999, asked(version=1))


def test_a_place_never_stands_inside_itself(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        room = made(session, people, asked("Room", PlaceKind.ROOM))
        shelf = made(session, people, asked("Shelf", PlaceKind.SHELF, parent_id=room.id))
        for parent in (room.id, shelf.id, 999):
            with pytest.raises(Invalid) as caught:
                change_place(
                    session,
                    people.actor(Role.KEEPER),
                    NOW,
                    room.id or 0,
                    asked("Room", PlaceKind.ROOM, parent_id=parent, version=1),
                )
            assert "parent_id" in caught.value.errors


def test_a_place_is_retired_when_nothing_stands_in_it(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        keeper = people.actor(Role.KEEPER)
        room = made(session, people, asked("Room", PlaceKind.ROOM))
        shelf = made(session, people, asked("Shelf", PlaceKind.SHELF, parent_id=room.id))
        oil = Material(name="Oil", kind=MaterialKind.BINDER, form=Form.LIQUID, created_at=NOW)
        session.add(oil)
        session.flush()
        receive(
            session,
            keeper,
            NOW,
            ReceiveAsked("retire-00001", oil.id or 0, amount="1 l", place_id=shelf.id),
            lambda: "a can",
        )
        gone = asked("Shelf", PlaceKind.SHELF, parent_id=room.id, version=1, active=False)
        with pytest.raises(Refused) as caught:
            change_place(session, keeper, NOW, shelf.id or 0, gone)
        assert "place-in-use" in caught.value.verdict.codes
        with pytest.raises(Refused):
            change_place(
                session, keeper, NOW, room.id or 0, asked("Room", PlaceKind.ROOM, version=1, active=False)
            )
        empty = made(session, people, asked("Empty", PlaceKind.SHELF))
        change_place(
            session,
            keeper,
            NOW,
            empty.id or 0,
            replace(asked("Empty", PlaceKind.SHELF, version=1), active=False),
        )
        assert not empty.active


@pytest.mark.parametrize("name", ["", "   ", "x" * 121])
def test_a_place_needs_a_name(sqlite_database: Database, name: str) -> None:
    with sqlite_database.writing() as session:
        people = cast(session)
        with pytest.raises(Invalid) as caught:
            made(session, people, asked(name))
        assert "name" in caught.value.errors


def test_floor_and_distance_of_a_can_are_kept_and_of_nothing_else(database: Database) -> None:
    with database.writing() as session:
        people = cast(session)
        facts: dict[str, Any] = {"floor_cannot_burn": YES, "distance_mm": 1200, "capacity_ml": 38_000}
        can = made(session, people, asked("Red can", PlaceKind.RAG_CAN, **facts))
        assert (can.floor_cannot_burn, can.distance_mm, can.capacity_ml) == (YES, 1200, 38_000)
        shelf = made(session, people, asked("Shelf", PlaceKind.SHELF, **facts))
        assert (shelf.floor_cannot_burn, shelf.distance_mm, shelf.capacity_ml) == (NOT_KNOWN, None, None)
        for odd in (0, 1_000_001):
            with pytest.raises(Invalid) as caught:
                made(session, people, asked("Big", PlaceKind.RAG_CAN, capacity_ml=odd))
            assert "capacity_litres" in caught.value.errors
        for odd in (-1, 100_001):
            with pytest.raises(Invalid) as caught:
                made(session, people, asked("Far", PlaceKind.RAG_CAN, distance_mm=odd))
            assert "distance_mm" in caught.value.errors
        assert can.id is not None
        again = asked("Red can", PlaceKind.RAG_CAN, floor_cannot_burn=NO, distance_mm=None, version=1)
        change_place(session, people.actor(Role.KEEPER), NOW, can.id, again)
        assert (can.floor_cannot_burn, can.distance_mm) == (NO, None)
