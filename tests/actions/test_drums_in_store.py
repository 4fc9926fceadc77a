"""A waste drum stands in the storage sums of its place: the most flammable liquid, the most it can hold."""

from __future__ import annotations

from fractions import Fraction

from service.actions.judge_store import look_at_store
from service.core.storage_rules import LITRES_PER_GALLON
from service.core.store_limits import StoreJudged
from service.core.waste_drums import DrumStep
from service.records.engine import Database
from tests.storage_shop import ToldStore
from tests.waste_yard import Yard

ROOM = {"kind": "building", "storey": 1, "sprinklered": False, "approved_cabinets": True}
STRICTEST = "ifc-maq-ia-storage"


def look(yard: Yard) -> StoreJudged:
    with yard.database.reading() as session:
        return look_at_store(session)


def gallons(judged: StoreJudged) -> list[tuple[Fraction, bool | None]]:
    found = [row for area in judged.areas for row in area.rows if row.row.key == STRICTEST]
    return [(row.counted, row.met) for row in found]


def test_a_drum_counts_where_it_stands_until_it_is_handed_over(database: Database) -> None:
    with database.writing() as session:
        told = ToldStore(session, {"rule_sets": ["osha-1910.106", "ifc-2018"], "place": ROOM, "items": []})
        yard = Yard(database, told.people)
        room = told.room.id
    drum = yard.begin(place_id=room, capacity="200 l")["drum"]
    assert not gallons(look(yard)), "an empty drum that was never used holds nothing"
    yard.step(drum, DrumStep.PUT_IN, what="Rinsings", amount="37.85411784 l")
    judged = look(yard)
    ((counted, within),) = gallons(judged)
    assert counted == 10 and within is not True
    assert [one.code for one in judged.verdict if one.about == f"waste drum {drum}"] == ["waste-drum-counted"]
    yard.step(drum, DrumStep.PUT_IN, what="More of it")
    ((most, within),) = gallons(look(yard))
    assert abs(most - 200 / LITRES_PER_GALLON) < Fraction(1, 100) and within is not True
    yard.leave(drum)
    assert not gallons(look(yard))
