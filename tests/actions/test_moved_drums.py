"""A drum that is moved stands where somebody says, and else nobody knows where: it never stays behind."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction

import pytest

from service.actions.judge_store import look_at_store
from service.core.findings import Invalid
from service.core.waste_drums import Area, DrumStep
from service.records.engine import Database
from service.records.places import PlaceKind
from service.records.waste_drum_queries import seen_drum
from tests.builders import NOW
from tests.storage_shop import ToldStore
from tests.store_builders import place
from tests.waste_yard import Yard

ROOM = {"kind": "building", "storey": 1, "sprinklered": False, "approved_cabinets": True}
STRICTEST = "ifc-maq-ia-storage"


@pytest.fixture
def yard(database: Database) -> Yard:
    with database.writing() as session:
        told = ToldStore(session, {"rule_sets": ["ifc-2018"], "place": ROOM, "items": []})
        other = place(session, "Back room", PlaceKind.ROOM, told.building)
        made = Yard(database, told.people)
        made.rooms = {"first": told.room.id or 0, "back": other.id or 0}
        return made


def gallons(yard: Yard) -> dict[str, Fraction]:
    """What counts in the strictest row of each room, by its name."""
    with yard.database.reading() as session:
        judged = look_at_store(session)
    return {area.name: row.counted for area in judged.areas for row in area.rows if row.row.key == STRICTEST}


def begun(yard: Yard) -> int:
    drum = int(yard.begin(area=Area.SATELLITE, place_id=yard.rooms["first"], capacity="200 l")["drum"])
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="37.85411784 l")
    return drum


def stands(yard: Yard, drum: int) -> tuple[int | None, str]:
    with yard.database.reading() as session:
        seen = seen_drum(session, drum)
    return seen.place_id, seen.place


def test_it_counts_where_it_was_moved_to(yard: Yard) -> None:
    drum = begun(yard)
    (before,) = gallons(yard)
    done = yard.step(drum, DrumStep.MOVED, place_id=yard.rooms["back"])
    assert stands(yard, drum) == (yard.rooms["back"], "Back room")
    ((after, much),) = gallons(yard).items()
    assert before != after and "Back room" in after and much == 10
    yard.back(int(done["entry"]))
    assert stands(yard, drum)[0] == yard.rooms["first"]
    assert list(gallons(yard)) == [before]


def test_moved_nobody_knows_where_to_it_may_be_in_any_room(yard: Yard) -> None:
    drum = begun(yard)
    other = int(yard.begin(name="Drum 2", place_id=yard.rooms["back"])["drum"])
    yard.step(other, DrumStep.PUT_IN, what="Rinsings", amount="25 US gal")
    with yard.database.reading() as session:
        assert "may-stand-here" not in look_at_store(session).verdict.codes
    done = yard.step(drum, DrumStep.MOVED)
    assert "drum-place-not-known" in [one["code"] for one in done["findings"]]
    assert stands(yard, drum) == (None, "")
    with yard.database.reading() as session:
        judged = look_at_store(session)
    assert "may-stand-here" in judged.verdict.codes
    rows = [row for area in judged.areas if "Back room" in area.name for row in area.rows]
    assert [row.met for row in rows if row.row.key == STRICTEST] == [None]


def test_only_a_move_tells_a_place_and_only_one_that_is_there(yard: Yard) -> None:
    drum = begun(yard)
    with pytest.raises(Invalid, match="Only a move") as other:
        yard.step(drum, DrumStep.OVER, place_id=yard.rooms["back"])
    assert list(other.value.errors) == ["place"]
    with pytest.raises(Invalid, match="Choose a place of the list"):
        yard.step(drum, DrumStep.MOVED, place_id=987_654)


def test_a_past_day_says_where_it_stood_then(yard: Yard) -> None:
    drum = begun(yard)
    yard.step(drum, DrumStep.MOVED, now=NOW + timedelta(days=2), place_id=yard.rooms["back"])
    then, now = yard.record(as_of=NOW + timedelta(days=1)), yard.record(NOW + timedelta(days=2))
    assert [one.seen.place for one in then.drums] == ["Store room"]
    assert [one.seen.place for one in now.drums] == ["Back room"]
