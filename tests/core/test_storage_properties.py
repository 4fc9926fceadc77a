"""Made-up stores: more in a place is never milder, and what is not known is never milder than what is."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any, Final

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.core.material_facts import FlashMethod
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_ladders import Temperature
from service.core.storage_limits import RuleSetAnswer, judge_storage
from service.core.storage_places import Place, PlaceKind
from service.core.storage_rules import LITRES_PER_GALLON, MATERIAL_CLASSES, RuleSet, Use, Vessel
from service.records.knowledge_storage import storage_tables

RANK: Final = {True: 0, None: 1, False: 2}
EVERYDAY = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
TENTHS = st.integers(-400, 2500).map(lambda n: Temperature(Fraction(n, 10), "F"))
NEAR_CUTS = st.sampled_from(
    [
        Temperature(Fraction(text), "F")
        for text in ("72.9", "73", "73.4", "99.9", "100", "140", "140.1", "199.4", "200")
    ]
)
GALLONS = st.sampled_from(["0", "0.25", "1", "5", "25", "30", "60", "119", "120", "121", "700"]).map(
    lambda text: Fraction(text) * LITRES_PER_GALLON
)
MAYBE = st.sampled_from([True, False, None])
LIQUIDS = st.builds(
    LiquidFacts,
    name=st.sampled_from(["one", "two", "three"]),
    flash=TENTHS | NEAR_CUTS,
    boiling=st.sampled_from([Temperature(Fraction(n), "F") for n in (90, 95, 97, 100, 300)]),
    method=st.sampled_from([FlashMethod.CLOSED_CUP, FlashMethod.CLOSED_CUP, FlashMethod.CALCULATED]),
    calculation_allowed=st.booleans(),
    part_flash=TENTHS,
    part_boiling=st.just(Temperature(Fraction(300), "F")),
    heated_to=st.none() | TENTHS,
)
ITEMS = st.builds(
    Stored,
    liquid=LIQUIDS,
    material_class=st.sampled_from([None, None, None, *sorted(MATERIAL_CLASSES)]),
    volume_l=GALLONS,
    density_kg_l=st.sampled_from([Fraction("0.7"), Fraction(1), Fraction(2)]),
    vessel=st.sampled_from(list(Vessel)),
    use=st.sampled_from(list(Use)),
    in_cabinet=st.booleans(),
    cabinet=st.sampled_from(["", "left"]),
    room=st.sampled_from(["", "mixing"]),
    storey=st.sampled_from([None, 1, 3, -1]),
    maintenance=st.booleans(),
).map(lambda one: replace(one, capacity_l=one.volume_l))
PLACES = st.builds(
    Place,
    kind=st.sampled_from([PlaceKind.ROOM, PlaceKind.STOREY, PlaceKind.BUILDING]),
    storey=st.sampled_from([1, 2, 4, -1, -3]),
    sprinklered=MAYBE,
    approved_cabinets=MAYBE,
    ambient_max_c=st.sampled_from([Fraction(20), Fraction(35)]),
    cabinets_in_area=st.sampled_from([2, 4]),
)


def judge(rule_set: RuleSet, place: Place, items: list[Stored]) -> RuleSetAnswer:
    return judge_storage(storage_tables(), rule_set, place, items)


def rows(answer: RuleSetAnswer) -> dict[tuple[str, str, int | None], int]:
    return {(one.row.key, one.group.name, one.group.storey): RANK[one.met] for one in answer.rows}


def never_milder(mild: RuleSetAnswer, harsh: RuleSetAnswer) -> None:
    assert RANK[harsh.met] >= RANK[mild.met], (mild.sentence, harsh.sentence)
    after = rows(harsh)
    for key, rank in rows(mild).items():
        assert after[key] >= rank, key


@EVERYDAY
@given(PLACES, st.lists(ITEMS, min_size=1, max_size=4), ITEMS, st.sampled_from(list(RuleSet)))
def test_more_in_a_place_never_makes_it_milder(
    place: Place, items: list[Stored], more: Stored, rule_set: RuleSet
) -> None:
    never_milder(judge(rule_set, place, items), judge(rule_set, place, [*items, more]))


@EVERYDAY
@given(
    PLACES,
    st.lists(ITEMS, min_size=1, max_size=3),
    st.sampled_from(list(RuleSet)),
    st.sampled_from(list(Use)),
)
def test_a_bigger_amount_never_makes_it_milder(
    place: Place, items: list[Stored], rule_set: RuleSet, use: Use
) -> None:
    items = [replace(items[0], use=use), *items[1:]]
    volume = items[0].volume_l
    assert volume is not None
    bigger = replace(items[0], volume_l=volume + 1, capacity_l=volume + 1)
    never_milder(judge(rule_set, place, items), judge(rule_set, place, [bigger, *items[1:]]))


STRONG: list[dict[str, Any]] = [
    {"flash": None},
    {"boiling": None},
    {"part_flash": None},
    {"part_boiling": None},
]


@pytest.mark.parametrize("gone", STRONG, ids=[next(iter(one)) for one in STRONG])
@EVERYDAY
@given(PLACES, st.lists(ITEMS, min_size=1, max_size=3), st.sampled_from(list(RuleSet)))
def test_an_unknown_fact_of_a_liquid_is_never_milder(
    gone: dict[str, Any], place: Place, items: list[Stored], rule_set: RuleSet
) -> None:
    """Row by row, and in the whole: it counts in every row it might count in."""
    first = replace(items[0], material_class=None)
    less = replace(first, liquid=replace(first.liquid, **gone))
    never_milder(judge(rule_set, place, [first, *items[1:]]), judge(rule_set, place, [less, *items[1:]]))


WEAK: list[dict[str, Any]] = [
    {"volume_l": None}, {"volume_l": None, "capacity_l": None}, {"vessel": None}, {"capacity_l": None},
]  # fmt: skip


@pytest.mark.parametrize("gone", WEAK, ids=[" ".join(one) for one in WEAK])
@EVERYDAY
@given(PLACES, st.lists(ITEMS, min_size=1, max_size=3), st.sampled_from(list(RuleSet)))
def test_an_unknown_amount_or_container_is_never_within_where_the_known_one_is_not(
    gone: dict[str, Any], place: Place, items: list[Stored], rule_set: RuleSet
) -> None:
    known = judge(rule_set, place, items)
    less = judge(rule_set, place, [replace(items[0], **gone), *items[1:]])
    assert known.met is True or less.met is not True


@pytest.mark.parametrize("name", ["storey", "sprinklered", "approved_cabinets", "cabinets_in_area"])
@EVERYDAY
@given(PLACES, st.lists(ITEMS, min_size=1, max_size=3), st.sampled_from(list(RuleSet)))
def test_an_unknown_fact_of_the_place_is_never_within_where_the_known_one_is_not(
    name: str, place: Place, items: list[Stored], rule_set: RuleSet
) -> None:
    known = judge(rule_set, place, items)
    less = judge(rule_set, replace(place, **{name: None}), items)
    assert known.met is True or less.met is not True
