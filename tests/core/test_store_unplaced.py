"""What stands nobody knows where: at worst it is in this room, and no room is within as if it were not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.core.findings import Finding, Severity
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import Temperature
from service.core.storage_places import PlaceKind
from service.core.storage_rules import LITRES_PER_GALLON, RuleSet, Scope, Vessel
from service.core.store_changes import over_by
from service.core.store_limits import Area, Box, StoreJudged, judge_store
from service.core.store_tree import Spot, StoreTree
from service.records.knowledge_storage import storage_tables

TREE = StoreTree.of([
    Spot(1, "B", "Works", "building", sprinklered=False), Spot(2, "R", "Store", "room", 1, storey=1),
    Spot(3, "C", "Locker", "cabinet", 2, approved=True), Spot(4, "A", "Annex", "building", sprinklered=False),
    Spot(5, "H", "Hall", "room", 4, storey=1), Spot(6, "S", "Shed", "room", storey=1),
])  # fmt: skip


def can(name: str, gallons: int, where: int | None, **more: Any) -> Box:
    """Spirit of Class IB, category 2, in metal."""
    flash, boils = Temperature(Fraction(28), "F"), Temperature(Fraction(176), "F")
    litres = gallons * LITRES_PER_GALLON
    facts = {"flash": flash, "boiling": boils} | more.pop("facts", {})
    what = Stored(
        LiquidFacts(name, **facts), volume_l=litres, capacity_l=Fraction(1), vessel=Vessel.METAL,
        groups=more.pop("groups", frozenset()),
    )  # fmt: skip
    return Box(what, where, **more)


def judged(*boxes: Box) -> StoreJudged:
    return judge_store(storage_tables(), (RuleSet.IFC,), TREE, boxes)


def area(store: StoreJudged, number: int, kind: PlaceKind = PlaceKind.ROOM) -> Area:
    (found,) = [one for one in store.areas if (one.number, one.kind) == (number, kind)]
    return found


def said(area: Area) -> Sequence[Finding]:
    return [one for one in area.verdict if one.code == "may-stand-here"]


def test_a_room_is_within_only_with_all_that_may_stand_in_it() -> None:
    assert area(judged(can("a", 50, 2)), 2).met is True
    still = area(judged(can("a", 50, 2), can("lost", 60, None)), 2)
    assert still.met is True and [one.severity for one in said(still)] == [Severity.NOTE]
    over = area(judged(can("a", 100, 2), can("lost", 60, None)), 2)
    assert over.met is None and [one.severity for one in said(over)] == [Severity.UNKNOWN]
    assert "lost" in said(over)[0].sentence
    row = next(one for one in over.rows if one.row.key == "ifc-maq-ib-ic-storage")
    assert (row.counted, row.met) == (100, None), "it is not there for sure, so it makes nothing over"


@pytest.mark.parametrize("number", [2, 5, 6])
def test_it_may_be_in_every_room_of_every_building(number: int) -> None:
    store = judged(can("a", 1, 2), can("b", 1, 5), can("c", 1, 6), can("lost", 130, None))
    assert area(store, number).met is None
    buildings = [one for one in store.areas if one.kind is PlaceKind.BUILDING and one.number]
    assert len(buildings) == 2 and all(said(one) for one in buildings)


def test_what_has_a_building_and_no_room_may_be_in_its_rooms_and_no_others() -> None:
    store = judged(can("a", 1, 2), can("b", 1, 5), can("c", 1, 6), can("lost", 130, 1))
    assert area(store, 2).met is None and area(store, 5).met is True
    assert area(store, 6).met is None, "nobody said which building the shed is in"


def test_it_may_stand_in_a_cabinet_that_would_then_hold_too_much() -> None:
    store = judged(can("a", 70, 3), can("lost", 55, None))
    room = area(store, 2)
    row = next(one for one in room.rows if one.row.key == "ifc-cabinet")
    assert (row.counted, row.met) == (70, None)
    assert area(judged(can("a", 70, 3), can("lost", 50, None)), 2).met is True


def test_a_row_that_nothing_surely_here_counts_in_is_there_too() -> None:
    cold = {"facts": {"flash": Temperature(Fraction(-40), "F"), "boiling": Temperature(Fraction(60), "F")}}
    room = area(judged(can("a", 1, 2), can("lost", 40, None, **cold)), 2)
    row = next(one for one in room.rows if one.row.key == "ifc-maq-ia-storage")
    assert (row.counted, row.met, room.met) == (0, None, None)


def test_what_nobody_can_judge_may_be_here_too() -> None:
    lost = can("lost", 1, None, groups=frozenset({"aerosol"}), facts={"flash": None, "no_flash_point": True})
    assert area(judged(can("a", 1, 2), lost), 2).met is None


def test_a_pair_that_may_stand_here_is_not_known() -> None:
    bleach = Box(Stored(LiquidFacts("bleach"), material_class="oxidizer-1", mass_kg=Fraction(1)), None)
    room = area(judged(can("a", 1, 2), bleach), 2)
    assert [pair.judged.ok for pair in room.pairs] == [None] and room.met is None
    assert area(judged(can("a", 1, 2)), 2).met is True


def test_what_is_adrift_counts_where_it_was_and_may_be_elsewhere() -> None:
    store = judged(can("a", 1, 2), can("b", 1, 5), can("waste", 125, 2, adrift=True))
    assert area(store, 2).met is False and area(store, 5).met is None
    assert not said(area(store, 2))


def test_a_change_that_leaves_no_room_for_what_is_lost_says_so() -> None:
    before, after = (judged(can("a", gallons, 2), can("lost", 60, None)) for gallons in (50, 70))
    found = over_by(before, after)
    assert not found.blocking and "may-stand-here" in found.codes
    assert "may-stand-here" not in over_by(after, after).codes


LIQUIDS = st.builds(
    lambda number, flash, boils, gallons, where, known: Box(
        Stored(
            LiquidFacts(f"liquid {number}", flash=flash, boiling=boils),
            volume_l=Fraction(gallons) * LITRES_PER_GALLON if known else None,
            capacity_l=Fraction(gallons) * LITRES_PER_GALLON, vessel=Vessel.METAL,
        ),
        where,
    ),
    st.integers(1, 10**6), st.none() | st.integers(-40, 250).map(lambda n: Temperature(Fraction(n), "F")),
    st.none() | st.integers(80, 500).map(lambda n: Temperature(Fraction(n), "F")), st.integers(1, 130),
    st.sampled_from([2, 3, 5, 6, 1, None]), st.sampled_from([True, True, False]),
)  # fmt: skip


def open_rows(store: StoreJudged) -> set[Any]:
    return {
        (area.kind, area.number, row.row.key, row.group.name)
        for area in store.areas for row in area.rows
        if row.met is not True and row.group.scope is not Scope.CONTAINER
    }  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(LIQUIDS, min_size=1, max_size=4), LIQUIDS, st.sampled_from([2, 3, 5, 6]))
def test_whatever_is_not_within_with_it_there_is_not_within_while_it_is_lost(
    boxes: list[Box], one: Box, where: int
) -> None:
    there = judged(*boxes, replace(one, place_id=where))
    lost = judged(*boxes, replace(one, place_id=None))
    adrift = judged(*boxes, replace(one, place_id=5, adrift=True))
    for store in (lost, adrift):
        seen = {(area.kind, area.number) for area in store.areas}
        # A cabinet in which nothing else stands is no cabinet of the look while it is lost.
        known = {row.group.name for area in store.areas for row in area.rows}
        wanted = {row for row in open_rows(there) if row[:2] in seen and row[3] in known}
        # Nor are there two rooms that may be one control area while one of them is empty of it.
        wanted = {row for row in wanted if "control-area" not in row[2] and "control area" not in row[3]}
        assert wanted <= open_rows(store)
        mets = {(area.kind, area.number): area.met for area in there.areas}
        assert not [
            area.name for area in store.areas
            if area.met is True and mets.get((area.kind, area.number), True) is not True
        ]  # fmt: skip


def test_a_drum_without_a_place_is_no_thing_of_a_job() -> None:
    store = judged(can("drum", 1, None, in_use=True))
    assert "room-not-known" in store.verdict.codes and "place-of-use-not-known" not in store.verdict.codes
