"""What was thrown into a waste drum that nobody named still stands in the house, until the drum is named."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import Session

from service.actions.fill_drum import SortAsked, put_discards_in
from service.actions.judge_store import look_at_store
from service.core.access import Role
from service.core.ledger import Destination
from service.core.store_limits import StoreJudged
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.store_storage import PlaceStorage
from tests.builders import NOW
from tests.storage_shop import ToldStore
from tests.store_builders import once, place
from tests.waste_yard import Yard

ROOM = {"kind": "building", "storey": 1, "sprinklered": False, "approved_cabinets": True}
ROWS = ["osha-1910.106", "ifc-2018"]
SPIRIT: dict[str, Any] = {
    "name": "spirit", "volume": {"value": 130, "unit": "gal"}, "capacity": {"value": 150, "unit": "gal"},
    "container": "portable_tank", "flash_point": {"value": 28, "unit": "F"},
    "boiling_point": {"value": 176, "unit": "F"},
}  # fmt: skip
STORED = "ifc-maq-ib-ic-storage"


class Thrown:
    """A tank of spirit in the store room; a little of it, and another thing, in a hall."""

    def __init__(self, database: Database) -> None:
        self.database = database
        with database.writing() as session:
            self.told = ToldStore(session, {"rule_sets": ROWS, "place": ROOM, "items": []})
            self.yard = Yard(database, self.told.people)
            self.code = self.told.put(SPIRIT, 1).code
            hall = place(session, "Hall", PlaceKind.ROOM, self.told.building)
            self.room, self.told.room = self.told.room.id or 0, hall
            self._storey(session, hall.id or 0)
            self.told.put({**SPIRIT, "volume": {"value": 5, "unit": "gal"}}, 2)
            self.drum_place = place(session, "Old drum", PlaceKind.WASTE_DRUM, hall).id
            self.hall = hall.id or 0

    def _storey(self, session: Session, number: int) -> None:
        session.add(PlaceStorage(
            place_id=number, storey=1, set_by=self.told.keeper.person_id, set_at=NOW
        ))  # fmt: skip

    def look(self) -> StoreJudged:
        with self.database.reading() as session:
            return look_at_store(session)

    def counted(self, number: int) -> float:
        return sum(
            float(row.counted) for area in self.look().areas for row in area.rows
            if area.number == number and row.row.key == STORED
        )  # fmt: skip

    def met(self, number: int) -> bool | None:
        found = [
            row.met for area in self.look().areas for row in area.rows
            if area.number == number and row.row.key == STORED
        ]  # fmt: skip
        assert len(found) == 1
        return found[0]

    def codes(self) -> frozenset[str]:
        return self.look().verdict.codes


def test_what_went_into_a_drum_nobody_named_stays_in_the_sums(database: Database) -> None:
    thrown = Thrown(database)
    assert thrown.counted(thrown.room) == pytest.approx(130)
    assert thrown.met(thrown.hall) is None, "one control area with the room, unless barriers part them"
    movement = thrown.yard.throw(thrown.code, amount="125 US gal")
    assert thrown.counted(thrown.room) == pytest.approx(130) and thrown.met(thrown.room) is False
    assert thrown.met(thrown.hall) is None, "it may stand there as well"
    assert {"waste-in-no-drum-counted", "may-stand-here"} <= thrown.codes()
    drum = thrown.yard.begin(place_id=thrown.hall, capacity="150 US gal")["drum"]
    with database.writing() as session:
        asked = SortAsked(once(), drum, (movement,))
        put_discards_in(session, thrown.yard.people.actor(Role.KEEPER), NOW, asked)
    assert thrown.counted(thrown.room) == pytest.approx(5)
    assert "waste-in-no-drum-counted" not in thrown.codes()


def test_all_of_an_unknown_amount_is_no_amount_that_is_known(database: Database) -> None:
    thrown = Thrown(database)
    code = thrown.yard.stuff(None, name="lost thinner")
    thrown.yard.throw(code)
    (box,) = [one for one in thrown.look().boxes if "thrown into a waste drum" in one.what.name]
    assert "an amount not known" in box.what.name and box.adrift
    assert thrown.look().met is not True


def test_it_counts_at_the_place_of_the_drum_that_was_named(database: Database) -> None:
    thrown = Thrown(database)
    thrown.yard.throw(thrown.code, amount="125 US gal", place_id=thrown.drum_place)
    assert thrown.counted(thrown.room) == pytest.approx(5) and thrown.met(thrown.room) is None
    assert thrown.counted(thrown.hall) == pytest.approx(130) and thrown.met(thrown.hall) is False


@pytest.mark.parametrize("gone", [Destination.HAULER, Destination.COLLECTION_POINT])
def test_what_left_the_house_counts_no_more(database: Database, gone: Destination) -> None:
    thrown = Thrown(database)
    thrown.yard.throw(thrown.code, amount="125 US gal", destination=gone)
    assert thrown.counted(thrown.room) == pytest.approx(5) and thrown.met(thrown.room) is True
