"""What is kept apart: told pairs, and those that the items of one room bring together."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored
from service.core.storage_pairs import Pair, judge_pair, pairs_among
from service.records.knowledge_storage import storage_tables

HELD = storage_tables().kept_apart


@pytest.mark.parametrize(
    ("told", "ok"),
    [
        ({}, None), ({"same_cabinet": False}, None), ({"same_cabinet": True}, False),
        ({"same_cabinet": True, "distance_ft": Fraction(30)}, False),
        ({"distance_ft": Fraction(20)}, True), ({"distance_ft": Fraction("19.99")}, None),
        ({"distance_ft": Fraction("19.99"), "partition": False}, False), ({"partition": True}, True),
        ({"partition": False}, False), ({"separate_cabinets": True}, True), ({"same_room": False}, None),
        ({"distance_ft": Fraction(6096) / Fraction("304.8")}, True),
    ],
)  # fmt: skip
def test_an_oxidiser_and_a_flammable_liquid(told: dict[str, Any], ok: bool | None) -> None:
    for a, b in (("oxidizer", "flammable_liquid"), ("flammable_liquid", "oxidizer")):
        judged = judge_pair(HELD, Pair(a, b, **told))
        assert judged.ok is ok
        assert judged.rules[0].citation == "IFC 5003.9.8"


def test_another_room_is_enough_for_what_may_not_share_one() -> None:
    assert judge_pair(HELD, Pair("water_reactive", "flammable_liquid", same_room=False)).ok is True
    assert judge_pair(HELD, Pair("water_reactive", "flammable_liquid", same_room=True)).ok is None


def test_a_pair_that_no_text_names_is_never_fit_to_stand_together() -> None:
    for told in ({}, {"same_cabinet": False, "distance_ft": Fraction(100)}, {"partition": True}):
        judged = judge_pair(HELD, Pair("acid", "flour", **told))  # type: ignore[arg-type]
        assert (judged.ok, judged.rules) == (None, ())


def stored(name: str, material_class: str | None = None, **more: Any) -> Stored:
    return Stored(LiquidFacts(name), material_class=material_class, **more)


def test_items_of_one_room_or_cabinet_make_pairs() -> None:
    spirit, bleach = stored("spirit"), stored("bleach", "oxidizer-2")
    assert pairs_among(HELD, [spirit, bleach], {0}) == [Pair("flammable_liquid", "oxidizer", same_room=True)]
    assert pairs_among(HELD, [spirit, bleach], set()) == []
    apart = [stored("spirit", room="a"), stored("bleach", "oxidizer-2", room="b")]
    assert pairs_among(HELD, apart, {0}) == []
    inside = [stored("spirit", in_cabinet=True), stored("bleach", "oxidizer-2", in_cabinet=True)]
    pair = Pair("flammable_liquid", "oxidizer", same_cabinet=True, same_room=True)
    assert pairs_among(HELD, [*inside, *inside], {0, 2}) == [pair]
    assert judge_pair(HELD, pair).ok is False
    nitric = [
        stored("nitric", groups=frozenset({"nitric_acid"})),
        stored("oxalic", groups=frozenset({"acid"})),
    ]
    assert pairs_among(HELD, nitric, set()) == [Pair("acid", "nitric_acid", same_room=True)]
