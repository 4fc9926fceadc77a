"""Facts of one thing that contradict each other: the stricter counts beside the rest, and it is said."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from service.core.storage_categories import LiquidFacts, Reading, place_liquid
from service.core.storage_items import Stored, count_under
from service.core.storage_ladders import Scheme, Temperature
from service.core.storage_rules import RuleSet
from service.core.stored_stuff import flammable_class, groups_by_classes


def sheet(word: str) -> Reading:
    return Reading(LiquidFacts("", category=word), f"its hazard classes say {word}", word)


def flash(celsius: int) -> dict[str, Any]:
    return {"flash": Temperature(Fraction(celsius), "C"), "boiling": Temperature(Fraction(180), "C")}


@pytest.mark.parametrize(
    ("told", "word", "scheme", "counts"),
    [
        (flash(65), "H225", Scheme.OSHA, ("2", "4")),
        (flash(65), "H225", Scheme.IFC, ("IA", "IB", "IC", "IIIA")),
        (flash(65), "H226", Scheme.IFC, ("IC", "II", "IIIA")),
        (flash(100), "4", Scheme.OSHA, ("4", "none")),
        ({"no_flash_point": True}, "H225", Scheme.OSHA, ("2", "none")),
        ({"no_flash_point": True}, "H224", Scheme.CLP, ("H224", "none")),
        ({"category": "IIIB"}, "H225", Scheme.OSHA, ("2", "none")),
        ({"category": "II"}, "H225", Scheme.IFC, ("IA", "IB", "IC", "II")),
    ],
)
def test_a_milder_fact_than_the_classes_counts_as_both(
    told: dict[str, Any], word: str, scheme: Scheme, counts: tuple[str, ...]
) -> None:
    placed = place_liquid(LiquidFacts("thinner", also=(sheet(word),), **told), scheme)
    assert placed.categories == counts and not placed.sure
    assert "told-facts-differ" in {one.code for one in placed.findings}


@pytest.mark.parametrize("word", ["H224", "H225", "H226", "4"])
@pytest.mark.parametrize("scheme", list(Scheme))
def test_classes_that_agree_or_are_milder_change_nothing(word: str, scheme: Scheme) -> None:
    cold, warm = (Temperature(Fraction(degrees), "C") for degrees in (-2, 34))
    facts = LiquidFacts("spirit", flash=cold, boiling=warm)
    assert place_liquid(replace(facts, also=(sheet(word),)), scheme) == place_liquid(facts, scheme)


def test_what_is_in_use_and_may_be_heated_is_moved_up_as_each_of_both() -> None:
    facts = LiquidFacts("thinner", also=(sheet("H226"),), heat_not_known=True, **flash(80))
    placed = place_liquid(facts, Scheme.OSHA)
    assert placed.categories == ("3",) and placed.below_100f is True and not placed.sure


def test_a_class_told_hides_no_flammable_liquid() -> None:
    acid = Stored(LiquidFacts("acid", category="H226"), material_class="corrosive")
    counted = count_under(acid, RuleSet.IFC, None)
    assert counted.categories == {"corrosive", "IC", "II", "IIIA"} and counted.burns


def test_what_has_a_class_and_no_flash_point_at_all_is_no_flammable_liquid_for_pairs() -> None:
    bleach = Stored(LiquidFacts("bleach", no_flash_point=True), material_class="oxidizer-1")
    assert not count_under(bleach, RuleSet.IFC, None).burns


def test_a_group_that_settles_a_class_counts_in_its_row() -> None:
    lye = Stored(LiquidFacts("lye", no_flash_point=True), groups=frozenset({"corrosive"}))
    assert count_under(lye, RuleSet.IFC, None).categories == {"corrosive"}
    hidden = Stored(LiquidFacts("powder"), "corrosive", settled=frozenset({"flammable-solid"}))
    assert count_under(hidden, RuleSet.IFC, None).categories == {"corrosive", "flammable-solid"}


@pytest.mark.parametrize(
    ("written", "groups"),
    [
        ("Aerosol 1 H222", {"aerosol"}), ("H229", {"aerosol"}), ("Flam. Gas 1A H220", {"flammable_gas"}),
        ("Press. Gas H280", {"gas"}), ("Ox. Gas 1 H270", {"gas", "oxidizer"}),
        ("Pyr. Liq. 1 H250", {"pyrophoric"}), ("Self-heat. 2 H252", {"self_heating"}),
        ("Expl. 1.1 H201", {"energetic", "explosive"}), ("Acute Tox. 3 oral H301", {"toxic"}),
        ("Acute Tox. 2", {"highly_toxic"}), ("EUH208", set()), ("EUH066", set()),
        ("Acute Tox. 4 H302", set()),
    ],
)  # fmt: skip
def test_what_classes_say_a_thing_is(written: str, groups: set[str]) -> None:
    assert groups_by_classes([written]) == groups


@pytest.mark.parametrize("group", ["oxidizer", "aerosol", "gas", "explosive", "toxic", "fireworks"])
@pytest.mark.parametrize("rule_set", list(RuleSet))
def test_a_group_without_its_class_or_without_any_row_is_never_sure(group: str, rule_set: RuleSet) -> None:
    thing = Stored(LiquidFacts("thing", no_flash_point=True), groups=frozenset({group}))
    codes = {one.code for one in count_under(thing, rule_set, None).findings}
    assert codes & {"fire-code-class-not-known", "no-row-held"}


def test_the_worst_class_of_a_list_counts() -> None:
    assert flammable_class(["Eye Irrit. 2 H319", "Flam. Liq. 3 H226", "Flam. Liq. 1"]) == "H224"
    assert flammable_class(["Flam. Gas 1 H220", "Flam. Sol. 2 H228"]) is None
