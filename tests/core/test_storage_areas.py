"""Rooms are control areas only with fire barriers between them: told, told that not, not told."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_limits import RuleSetAnswer, judge_storage
from service.core.storage_places import Place, PlaceKind
from service.core.storage_rules import LITRES_PER_GALLON, RuleSet
from service.core.store_limits import Area, Box, judge_store
from service.core.store_tree import Spot, StoreTree
from service.records.knowledge_storage import storage_tables

TABLES = storage_tables()
GROUND = Place(PlaceKind.BUILDING, 1, sprinklered=False, approved_cabinets=False)
NOT_TOLD = "control-areas-not-told"


def item(gal: str, room: str, category: str = "IB", **more: Any) -> Stored:
    facts = LiquidFacts(f"{category} in {room}", category=category)
    return Stored(facts, volume_l=Fraction(gal) * LITRES_PER_GALLON, room=room, **more)


def judge(place: Place, *items: Stored) -> RuleSetAnswer:
    return judge_storage(TABLES, RuleSet.IFC, place, items)


def said(answer: RuleSetAnswer) -> list[tuple[str, str]]:
    return [(one.severity.value, one.sentence) for one in answer.verdict if one.code == NOT_TOLD]


@pytest.mark.parametrize("kind", [PlaceKind.BUILDING, PlaceKind.STOREY, PlaceKind.ROOM])
def test_two_rooms_that_are_too_much_together_are_not_known_until_barriers_are_told(kind: PlaceKind) -> None:
    place = replace(GROUND, kind=kind)
    two = item("90", "A"), item("90", "B")
    answer = judge(place, *two)
    assert (answer.met, answer.verdict.complete) == (None, False)
    (grave, words), *_ = said(answer)
    assert grave == "unknown"
    for part in ("180 gal", "120", "60 too much", "1 h", "IFC Table 5003.8.3.2", "A, B"):
        assert part in words, part
    assert all(one.met is not True for one in answer.rows if "ib" in one.row.key.split("-"))
    told = judge(replace(place, barriers=True), *two)
    assert (told.met, told.verdict.complete, said(told)) == (True, True, [])
    none = judge(replace(place, barriers=False), *two)
    assert none.met is False
    over = [one for one in none.rows if one.met is False and one.binding]
    assert {(one.counted, one.allowed.limit) for one in over} == {(180, 120)}


def test_what_is_within_even_as_one_area_is_a_note() -> None:
    answer = judge(GROUND, item("60", "A"), item("60", "B"))
    assert (answer.met, answer.verdict.complete) == (True, True)
    assert [grave for grave, _ in said(answer)] == ["note"]
    assert judge(replace(GROUND, barriers=False), item("60", "A"), item("60", "B")).met is True
    assert said(judge(GROUND, item("60", "A"), item("60", "A"))) == []


def test_a_table_without_control_areas_asks_for_no_barriers() -> None:
    answer = judge_storage(TABLES, RuleSet.OSHA, GROUND, [item("50", "A", "2"), item("50", "B", "2")])
    assert said(answer) == []


def test_the_hours_are_those_of_the_storey_and_floors_count_as_well() -> None:
    fifth = judge(GROUND, item("10", "A", storey=5), item("10", "B", storey=5))
    assert any("2 h" in words for _, words in said(fifth)) and fifth.met is None
    floors = judge(GROUND, item("80", "A", storey=1), item("80", "B", storey=2))
    assert floors.met is None and any("All storeys" in words for _, words in said(floors))
    assert judge(replace(GROUND, barriers=False), item("80", "A"), item("80", "B", storey=2)).met is None
    assert judge(replace(GROUND, barriers=True), item("80", "A"), item("80", "B", storey=2)).met is True


def test_without_barriers_the_areas_of_a_storey_are_one() -> None:
    rooms = [item("1", str(number), storey=3) for number in range(3)]
    assert judge(GROUND, *rooms).met is False
    none = judge(replace(GROUND, barriers=False), *rooms)
    counted = [one.counted for one in none.rows if one.row.key == "ifc-control-areas"]
    assert (none.met, counted) == (True, [1])


def test_one_cabinet_too_few_makes_the_one_area_smaller() -> None:
    """Twice as much only where all that is stored stands in approved cabinets."""
    place = replace(GROUND, approved_cabinets=True)
    two = item("110", "A", in_cabinet=True), item("30", "B")
    assert judge(place, *two).met is None
    both = item("110", "A", in_cabinet=True), item("30", "B", in_cabinet=True)
    assert judge(place, *both).met is True


def store(*gal: str) -> dict[str, Area]:
    spots = [Spot(1, "H", "House", "building", storey=1, sprinklered=False)]
    spots += [Spot(n, f"R{n}", f"Room {n}", "room", parent=1) for n in range(2, 2 + len(gal))]
    boxes = [Box(item(much, "", "IB"), n) for n, much in enumerate(gal, start=2)]
    judged = judge_store(TABLES, [RuleSet.IFC], StoreTree.of(spots), boxes)
    assert judged.met is (None if sum(map(Fraction, gal)) > 120 else True)
    return {area.name: area for area in judged.areas}


def test_the_store_says_it_of_the_building_and_of_each_room() -> None:
    areas = store("90", "90")
    for name in ("House", "Room 2", "Room 3"):
        assert areas[name].met is None, name
        assert NOT_TOLD in areas[name].verdict.codes, name
    rows = [one for one in areas["House"].rows if one.as_one]
    assert {one.group.name for one in rows} == {"storey 1 as one control area"}
    assert {one.counted for one in rows} == {180}
    within = store("50", "50")
    assert all(area.met is True for area in within.values())
