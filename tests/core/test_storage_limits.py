"""Sums against rows: footnotes, storeys, what stands in cabinets, what was emptied, and what is not known."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from service.core.findings import Severity
from service.core.storage_categories import LiquidFacts
from service.core.storage_items import Stored, amount_of
from service.core.storage_ladders import Temperature
from service.core.storage_limits import RuleSetAnswer, judge_storage
from service.core.storage_places import Place, PlaceKind
from service.core.storage_rows import JudgedRow
from service.core.storage_rules import (
    KG_PER_POUND,
    LITRES_PER_GALLON,
    Measure,
    RuleSet,
    Scope,
    Use,
    UseGroup,
    Vessel,
)
from service.records.knowledge_storage import storage_tables
from service.web.store_view import with_metric

TABLES = storage_tables()
GROUND = Place(PlaceKind.ROOM, 1, sprinklered=False, approved_cabinets=False)
BUILDING = replace(GROUND, kind=PlaceKind.BUILDING, approved_cabinets=True)


def gallons(many: str) -> Fraction:
    return Fraction(many) * LITRES_PER_GALLON


def item(category: str | None, gal: str | None, name: str = "spirit", **more: Any) -> Stored:
    facts = LiquidFacts(name, category=category)
    return Stored(facts, volume_l=None if gal is None else gallons(gal), **more)


def judge(rule_set: RuleSet, place: Place, *items: Stored) -> RuleSetAnswer:
    return judge_storage(TABLES, rule_set, place, items)


def row(answer: RuleSetAnswer, key: str) -> JudgedRow:
    found = [one for one in answer.rows if one.row.key == key]
    assert len(found) == 1, (key, [one.row.key for one in answer.rows])
    return found[0]


def codes(answer: RuleSetAnswer) -> set[str]:
    return set(answer.verdict.codes)


@pytest.mark.parametrize(
    ("gal", "met", "near"),
    [("95.9", True, False), ("96", True, True), ("120", True, True), ("120.0000001", False, False)],
)
def test_at_the_limit_is_within_and_a_drop_more_is_over(gal: str, met: bool, near: bool) -> None:
    answer = judge(RuleSet.IFC, GROUND, item("II", gal))
    assert row(answer, "ifc-maq-ii-storage").met is met
    assert answer.met is met
    assert ("near-the-limit" in codes(answer)) is near
    assert ("over-the-limit" in codes(answer)) is (not met)


@pytest.mark.parametrize(
    ("gal", "words", "on_page"),
    [("114.43549", "114.5 of 120 gal, which is near", "114.5 gal"),
     ("120.0000001", "120.1 gal counted, 120 by this row, so 0.000001 too much", "120.1 gal"),
     ("120", "120 of 120 gal, which is near", "120 gal")],
)  # fmt: skip
def test_figures_say_as_much_as_means_something_and_never_milder(gal: str, words: str, on_page: str) -> None:
    answer = judge(RuleSet.IFC, GROUND, item("II", gal))
    said = [one.sentence for one in answer.verdict if one.code in ("near-the-limit", "over-the-limit")]
    assert len(said) == 1 and words in said[0], said
    counted = row(answer, "ifc-maq-ii-storage").counted
    assert with_metric(counted, Measure.GALLON).startswith(f"{on_page} (")
    assert with_metric(Fraction("2.6417205"), Measure.GALLON, up=False).startswith("2.641 gal")


@pytest.mark.parametrize(
    ("sprinklered", "approved", "in_cabinet", "limit"),
    [(False, False, False, 120), (None, None, True, 120), (True, False, True, 240), (False, True, True, 240),
     (False, True, False, 120), (True, True, True, 480), (True, True, False, 240), (None, True, True, 240)],
)  # fmt: skip
def test_footnotes_d_and_e(
    sprinklered: bool | None, approved: bool | None, in_cabinet: bool, limit: int
) -> None:
    place = replace(GROUND, sprinklered=sprinklered, approved_cabinets=approved)
    answer = judge(RuleSet.IFC, place, item("IB", "1", in_cabinet=in_cabinet))
    assert row(answer, "ifc-maq-ib-ic-storage").allowed.limit == limit


def test_one_can_outside_takes_the_doubling_of_the_cabinets_away() -> None:
    place = replace(GROUND, approved_cabinets=True)
    inside = item("IB", "200", in_cabinet=True)
    assert row(judge(RuleSet.IFC, place, inside), "ifc-maq-ib-ic-storage").met is True
    both = judge(RuleSet.IFC, place, inside, item("IB", "1"))
    found = row(both, "ifc-maq-ib-ic-storage")
    assert (found.allowed.limit, found.met) == (120, False)


def test_cabinets_do_not_raise_what_may_be_in_use() -> None:
    place = replace(GROUND, approved_cabinets=True)
    used = [item("IB", "100", use=Use.CLOSED), item("IB", "30", use=Use.OPEN)]
    answer = judge(RuleSet.IFC, place, *used, item("IB", "1", in_cabinet=True))
    assert row(answer, "ifc-maq-ib-ic-storage").met is False
    assert row(answer, "ifc-maq-ib-ic-closed").allowed.limit == 120


@pytest.mark.parametrize(
    ("storey", "sprinklered", "category", "limit"),
    [(1, False, "IB", "120"), (2, False, "IB", "90"), (3, False, "IB", "60"), (4, False, "IB", "15"),
     (6, True, "IB", "30"), (7, False, "IB", "6"), (12, False, "IB", "6"), (-1, False, "IB", "0"),
     (-1, True, "IB", "22.5"), (-2, True, "IB", "15"), (-1, True, "IA", "7.5"), (-1, None, "II", "0"),
     (-1, True, "II", "180"), (-3, True, "II", "0"), (-3, True, "IIIB", "0"), (-2, False, "IIIB", "6600")],
)  # fmt: skip
def test_storeys(storey: int, sprinklered: bool | None, category: str, limit: str) -> None:
    place = replace(GROUND, storey=storey, sprinklered=sprinklered)
    answer = judge(RuleSet.IFC, place, item(category, "0.1"))
    key = {"IA": "ia", "IB": "ib-ic", "II": "ii", "IIIB": "iiib"}[category]
    found = row(answer, f"ifc-maq-{key}-storage")
    assert (found.allowed.limit, found.allowed.unlimited) == (Fraction(limit), False)


def test_an_unknown_storey_is_never_within_and_may_be_over() -> None:
    place = replace(GROUND, storey=None)
    low = judge(RuleSet.IFC, place, item("II", "1"))
    assert (low.met, row(low, "ifc-maq-ii-storage").met) == (None, None)
    assert "limit-not-known" in codes(low)
    assert judge(RuleSet.IFC, place, item("II", "121")).met is False


def test_the_combination_counts_all_of_class_i_together() -> None:
    answer = judge(RuleSet.IFC, GROUND, item("IA", "25"), item("IB", "60"), item("IC", "40"))
    assert [row(answer, f"ifc-maq-{key}-storage").met for key in ("ia", "ib-ic", "i")] == [True, True, False]


def test_unlimited_is_said_so_and_only_where_it_is_sprinklered() -> None:
    plain = row(judge(RuleSet.IFC, GROUND, item("IIIB", "13201")), "ifc-maq-iiib-storage")
    assert (plain.met, plain.over_by) == (False, 1)
    sprinklered = judge(RuleSet.IFC, replace(GROUND, sprinklered=True), item("IIIB", "99999"))
    wet = row(sprinklered, "ifc-maq-iiib-storage")
    assert (wet.allowed.unlimited, wet.allowed.limit, wet.met, wet.share) == (True, None, True, None)


def test_what_is_allowed_only_with_sprinklers() -> None:
    pound = Stored(LiquidFacts("powder"), material_class="pyrophoric", mass_kg=KG_PER_POUND)
    dry = judge(RuleSet.IFC, GROUND, pound)
    assert (row(dry, "ifc-maq-pyrophoric-storage").allowed.limit, dry.met) == (0, False)
    assert judge(RuleSet.IFC, replace(GROUND, sprinklered=True), pound).met is True


def test_an_emptied_can_counts_as_full_until_it_is_free_of_vapour() -> None:
    can = Stored(LiquidFacts("spirit", category="IB"), capacity_l=gallons("5"), emptied=True)
    answer = judge(RuleSet.IFC, GROUND, item("IB", "118"), can)
    assert (row(answer, "ifc-maq-ib-ic-storage").counted, answer.met) == (123, False)
    assert "counts-as-full" in codes(answer)
    free = judge(RuleSet.IFC, GROUND, item("IB", "118"), replace(can, vapour_free=True))
    assert (row(free, "ifc-maq-ib-ic-storage").counted, free.met) == (118, True)
    unknown = judge(RuleSet.IFC, GROUND, item("IB", "1"), replace(can, capacity_l=None))
    assert (unknown.met, "capacity-not-known" in codes(unknown)) == (None, True)


def test_an_unknown_amount_counts_as_full_and_is_never_within() -> None:
    full = judge(RuleSet.IFC, GROUND, item("IB", None, capacity_l=gallons("5")))
    assert (row(full, "ifc-maq-ib-ic-storage").counted, full.met) == (5, None)
    nothing = judge(RuleSet.IFC, GROUND, item("IB", None))
    assert (nothing.met, "amount-not-known" in codes(nothing)) == (None, True)
    heavy = Stored(LiquidFacts("spirit", category="IB"), mass_kg=100 * KG_PER_POUND)
    assert "density-not-known" in codes(judge(RuleSet.IFC, GROUND, heavy))
    known = replace(heavy, density_kg_l=Fraction("0.78"))
    assert float(amount_of(known, Measure.GALLON).value) == pytest.approx(15.36, abs=0.01)
    assert judge(RuleSet.IFC, GROUND, known).met is True


def test_an_unknown_flash_point_counts_in_the_most_restrictive_row_and_in_the_others() -> None:
    thing = item(None, "31")
    answer = judge(RuleSet.IFC, GROUND, thing)
    assert (row(answer, "ifc-maq-ia-storage").met, answer.met) == (False, False)
    little = judge(RuleSet.IFC, GROUND, item(None, "10"), item("II", "115"))
    assert (row(little, "ifc-maq-ia-storage").met, row(little, "ifc-maq-ii-storage").met) == (None, False)


def test_an_ordinary_cupboard_is_no_cabinet() -> None:
    inside = [item("2", "100", in_cabinet=True), item("2", "60")]
    for approved, counted, met in ((True, 60, True), (None, 60, None), (False, 160, False)):
        answer = judge(RuleSet.OSHA, replace(BUILDING, approved_cabinets=approved), *inside)
        found = row(answer, "osha-outside-cat234")
        assert (found.counted, found.met) == (counted, met), approved


def test_every_cabinet_room_and_storey_is_added_up_by_itself() -> None:
    can = gallons("5")
    things = [
        item("2", "40", cabinet=one, room="mixing", in_cabinet=True, vessel=Vessel.METAL, capacity_l=can)
        for one in ("left", "right")
    ]
    answer = judge(RuleSet.OSHA, BUILDING, *things)
    cabinets = [one for one in answer.rows if one.row.key == "osha-cabinet-cat123"]
    assert [(one.group.name, one.counted, one.met) for one in cabinets] == [
        ("mixing / left", 40, True), ("mixing / right", 40, True),
    ]  # fmt: skip
    assert answer.met is True
    one_cabinet = judge(RuleSet.OSHA, BUILDING, *(replace(thing, cabinet="") for thing in things))
    assert one_cabinet.met is False
    rooms = [item("IB", "100", room=room, storey=storey) for room, storey in (("a", 1), ("b", 1), ("c", 2))]
    ifc = judge(RuleSet.IFC, BUILDING, *rooms)
    sums = [
        (one.group.name, one.counted, one.met) for one in ifc.rows if one.row.key == "ifc-maq-ib-ic-storage"
    ]
    assert sums == [
        ("a", 100, None), ("b", 100, None), ("c", 100, False),
        ("storey 1 as one control area", 200, None), ("all storeys as one control area", 300, None),
    ]  # fmt: skip
    apart = judge(RuleSet.IFC, replace(BUILDING, barriers=True), *rooms)
    sums = [
        (one.group.name, one.counted, one.met) for one in apart.rows if one.row.key == "ifc-maq-ib-ic-storage"
    ]
    assert sums == [("a", 100, True), ("b", 100, True), ("c", 100, False)]
    totals = {(one.scope, one.name): one.together for one in ifc.totals}
    assert totals[Scope.STOREY, "storey 1"] == 200
    assert totals[Scope.BUILDING, "the building"] == 300


def test_the_number_of_cabinets_is_asked_where_a_table_limits_it() -> None:
    for told, named, met in ((3, 0, True), (4, 0, False), (None, 0, None), (None, 2, None), (1, 4, False)):
        place = replace(GROUND, approved_cabinets=True, cabinets_in_area=told)
        things = [item("2", "1", cabinet=str(number), in_cabinet=True) for number in range(named)]
        things = things or [item("2", "1")]
        answer = judge(RuleSet.CONSTRUCTION, place, *things)
        assert row(answer, "build-cabinets-in-area").met is met, (told, named)
        assert ("cabinets-not-told" in codes(answer)) is (told is None)


def test_too_many_control_areas_on_a_storey() -> None:
    rooms = [item("II", "1", room=str(number), storey=3) for number in range(3)]
    answer = judge(RuleSet.IFC, BUILDING, *rooms)
    found = row(answer, "ifc-control-areas")
    assert (found.counted, found.allowed.limit, found.met, answer.met) == (3, 2, False, False)
    assert row(judge(RuleSet.IFC, BUILDING, *rooms[:2]), "ifc-control-areas").met is True


def test_a_container_of_an_unknown_kind_is_never_within() -> None:
    can = item("2", "1", capacity_l=gallons("1"))
    answer = judge(RuleSet.OSHA, BUILDING, can)
    assert (answer.met, "container-not-known" in codes(answer)) == (None, True)
    assert judge(RuleSet.OSHA, BUILDING, replace(can, vessel=Vessel.METAL)).met is True
    assert judge(RuleSet.OSHA, BUILDING, replace(can, vessel=Vessel.GLASS)).met is False
    sizeless = replace(can, vessel=Vessel.METAL, capacity_l=None)
    assert judge(RuleSet.OSHA, BUILDING, sizeless).met is None


def test_open_use_asks_for_a_table_that_is_not_held() -> None:
    metal = {"vessel": Vessel.METAL, "capacity_l": gallons("1")}
    answer = judge(RuleSet.OSHA, BUILDING, item("3", "1", use=Use.OPEN, **metal))
    assert (answer.met, "room-table-not-held" in codes(answer)) == (None, True)


def test_a_row_from_memory_warns_and_never_says_within() -> None:
    kilo = Stored(LiquidFacts("spirit", category="H226"), mass_kg=Fraction(50))
    answer = judge(RuleSet.TRGS, GROUND, kilo)
    assert (answer.met, row(answer, "trgs-h226").met) == (None, None)
    over = judge(RuleSet.TRGS, GROUND, replace(kilo, mass_kg=Fraction(101)))
    assert over.met is False
    heavy = {f.severity for f in over.verdict if f.code == "over-the-limit"}
    assert heavy == {Severity.WARN}


def test_advice_and_house_readings_warn_where_law_stops() -> None:
    hot = Stored(LiquidFacts("spirit", category="H225"), volume_l=Fraction(51))
    advice = judge(RuleSet.HSE, replace(GROUND, ambient_max_c=Fraction(30)), hot)
    assert {f.severity for f in advice.verdict if f.code == "over-the-limit"} == {Severity.WARN}
    law = judge(RuleSet.IFC, GROUND, item("II", "121"))
    assert {f.severity for f in law.verdict if f.code == "over-the-limit"} == {Severity.STOP}


def test_a_permit_level_is_said_and_is_no_limit() -> None:
    answer = judge(RuleSet.IFC, GROUND, item("IB", "6"))
    assert (answer.met, row(answer, "ifc-permit-class-i").met) == (True, False)
    assert "over-a-level" in codes(answer)


def test_a_group_of_use_has_rows_of_its_own() -> None:
    glass = item("IB", "1", vessel=Vessel.GLASS, capacity_l=gallons("1"))
    assert judge(RuleSet.IFC, GROUND, glass).met is True
    assert judge(RuleSet.IFC, replace(GROUND, use_group=UseGroup.MERCANTILE), glass).met is False
    lab = replace(GROUND, use_group=UseGroup.LABORATORY)
    unknown_floor = judge(RuleSet.IFC, lab, glass)
    assert (unknown_floor.met, row(unknown_floor, "ifc-lab-class-i-density").allowed.limit) == (None, None)
    for storey, limit in ((1, 72), (4, 54), (7, 36)):
        high = replace(lab, floor_sq_ft=Fraction(900), storey=storey)
        assert row(judge(RuleSet.IFC, high, glass), "ifc-lab-class-i-density").allowed.limit == limit


def test_the_two_laws_of_a_us_shop_do_not_always_agree() -> None:
    """35 gal of pentane: category 2 for the one, which allows 120; Class IA for the other, with 30."""
    facts = LiquidFacts(
        "pentane", flash=Temperature(Fraction(-40), "F"), boiling=Temperature(Fraction(97), "F")
    )
    things = [
        Stored(facts, volume_l=gallons("5"), capacity_l=gallons("5"), vessel=Vessel.METAL) for _ in range(7)
    ]
    assert judge(RuleSet.OSHA, BUILDING, *things).met is True
    assert judge(RuleSet.IFC, BUILDING, *things).met is False


def test_no_sentence_promises_too_much() -> None:
    answers = [
        judge(rule_set, place, item(category, gal))
        for rule_set in RuleSet
        for place in (GROUND, BUILDING, Place())
        for category, gal in (("2", "1"), ("II", "1"), ("none", "1"), (None, None), ("3", "500"))
    ]
    said = " ".join([one.sentence for one in answers] + [f.sentence for one in answers for f in one.verdict])
    assert " safe" not in said and "within this table's rows, for what was told" in said
