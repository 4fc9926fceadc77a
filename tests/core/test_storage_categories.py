"""Categories at their cuts, in the unit of each law; what is not known stays open."""

from __future__ import annotations

from fractions import Fraction

import pytest

from service.core.material_facts import FlashMethod
from service.core.storage_categories import LiquidFacts, Reading, place_liquid
from service.core.storage_ladders import ACROSS, NONE, Scheme, Temperature, ladder

OSHA, IFC, CLP, BUILD, HSE = Scheme.OSHA, Scheme.IFC, Scheme.CLP, Scheme.CONSTRUCTION, Scheme.HSE


def degrees(text: str) -> Temperature:
    """ "73.4F" as a temperature."""
    return Temperature(Fraction(text[:-1]), text[-1])


def liquid(flash: str | None, boiling: str | None = "400F", **more: object) -> LiquidFacts:
    told = LiquidFacts(
        "spirit", flash=degrees(flash) if flash else None, boiling=degrees(boiling) if boiling else None
    )
    return LiquidFacts(**(vars(told) | more))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("flash", "boiling", "osha", "ifc"),
    [
        ("72.9F", "94.9F", "1", "IA"), ("73F", "94.9F", "1", "IC"), ("73.3F", "95F", "1", "IC"),
        ("73.4F", "95F", "3", "IC"), ("72.9F", "95F", "1", "IA"), ("72.9F", "95.1F", "2", "IA"),
        ("72.9F", "99.9F", "2", "IA"), ("72.9F", "100F", "2", "IB"), ("73F", "100F", "2", "IC"),
        ("73.39F", "200F", "2", "IC"), ("73.4F", "200F", "3", "IC"), ("73.41F", "200F", "3", "IC"),
        ("99.9F", "200F", "3", "IC"), ("100F", "200F", "3", "II"), ("100.1F", "200F", "3", "II"),
        ("139.9F", "400F", "3", "II"), ("140F", "400F", "3", "IIIA"), ("140.1F", "400F", "4", "IIIA"),
        ("199.3F", "400F", "4", "IIIA"), ("199.4F", "400F", "4", "IIIA"), ("199.5F", "400F", NONE, "IIIA"),
        ("199.9F", "400F", NONE, "IIIA"), ("200F", "400F", NONE, "IIIB"), ("200.1F", "400F", NONE, "IIIB"),
        ("22.7C", "95C", "2", "IB"), ("22.8C", "95C", "2", "IC"), ("22.9C", "35C", "1", "IC"),
        ("23C", "35C", "3", "IC"), ("22C", "35C", "1", "IA"), ("22C", "35.1C", "2", "IA"),
        ("22C", "37.7C", "2", "IA"), ("22C", "37.8C", "2", "IB"), ("37.7C", "95C", "3", "IC"),
        ("37.8C", "95C", "3", "II"), ("59.9C", "200C", "3", "II"), ("60C", "200C", "3", "IIIA"),
        ("60.1C", "200C", "4", "IIIA"), ("93C", "200C", "4", "IIIA"), ("93.1C", "200C", NONE, "IIIA"),
        ("93.3C", "200C", NONE, "IIIA"), ("93.4C", "200C", NONE, "IIIB"),
    ],
)  # fmt: skip
def test_every_cut_in_its_own_unit(flash: str, boiling: str, osha: str, ifc: str) -> None:
    told = liquid(flash, boiling)
    assert [place_liquid(told, one).categories for one in (OSHA, IFC)] == [(osha,), (ifc,)]
    assert all(place_liquid(told, one).sure and not place_liquid(told, one).findings for one in (OSHA, IFC))


@pytest.mark.parametrize(
    ("flash", "boiling", "clp", "construction"),
    [
        ("22.9C", "35C", "H224", "below-140F"), ("22.9C", "35.1C", "H225", "below-140F"),
        ("23C", "35C", "H226", "below-140F"), ("60C", "200C", "H226", "140F-up"),
        ("60.1C", "200C", NONE, "140F-up"), ("139.99F", "400F", "H226", "below-140F"),
        ("73.39F", "95F", "H224", "below-140F"), ("199.4F", "400F", NONE, "140F-up"),
        ("199.5F", "400F", NONE, NONE),
    ],
)  # fmt: skip
def test_the_metric_and_the_construction_cuts(flash: str, boiling: str, clp: str, construction: str) -> None:
    told = liquid(flash, boiling)
    assert [place_liquid(told, one).categories for one in (CLP, BUILD)] == [(clp,), (construction,)]


@pytest.mark.parametrize(
    ("flash", "below"),
    [("99.99F", True), ("100F", False), ("37.77C", True), ("37.78C", False), ("38C", False)],
)
def test_the_branch_at_100_f(flash: str, below: bool) -> None:
    assert place_liquid(liquid(flash), OSHA).below_100f is below


@pytest.mark.parametrize(
    ("flash", "ambient", "category"),
    [("22.9C", 10, "high"), ("23C", 10, "other"), ("28C", 30, "high"), ("30C", 30, "other"),
     ("60C", 30, "other"),
     ("60.1C", 30, NONE), ("29C", None, "high")],
)  # fmt: skip
def test_the_room_s_temperature_moves_one_cut(flash: str, ambient: int | None, category: str) -> None:
    hottest = None if ambient is None else Fraction(ambient)
    assert place_liquid(liquid(flash), HSE, hottest).categories == (category,)


@pytest.mark.parametrize("scheme", list(Scheme))
def test_an_unknown_flash_point_counts_everywhere_and_shows_the_worst(scheme: Scheme) -> None:
    placed = place_liquid(liquid(None), scheme)
    assert placed.categories == ladder(scheme).names
    assert (placed.sure, placed.below_100f) == (False, None)
    assert [finding.code for finding in placed.findings] == ["flash-not-known"]


def test_an_unknown_boiling_point_matters_below_73_only() -> None:
    low = place_liquid(liquid("50F", None), OSHA)
    assert (low.categories, low.sure) == (("1", "2"), False)
    assert [finding.code for finding in low.findings] == ["boiling-not-known"]
    assert place_liquid(liquid("80F", None), OSHA).sure
    # Between the two cuts the one law asks for it and the other does not.
    assert place_liquid(liquid("73.2F", None), OSHA).categories == ("1", "2")
    assert place_liquid(liquid("73.2F", None), IFC).categories == ("IC",)


CALCULATED = {"method": FlashMethod.CALCULATED, "calculation_allowed": True}


@pytest.mark.parametrize(
    ("flash", "categories"),
    [("145.1F", ("3", "4")), ("148.9F", ("3", "4")), ("149F", ("3", "4")), ("149.1F", ("4",)),
     ("140F", ("3",)),
     ("65C", ("3", "4")), ("65.1C", ("4",)), ("27.9C", ("2", "3")), ("28C", ("3",)), ("208.5F", (NONE,)),
     ("208.4F", ("4", NONE))],
)  # fmt: skip
def test_a_calculated_flash_point_counts_on_the_worse_side_within_5_c(
    flash: str, categories: tuple[str, ...]
) -> None:
    placed = place_liquid(liquid(flash, **CALCULATED), OSHA)
    assert placed.categories == categories
    assert placed.sure is (len(categories) == 1)
    expected = [] if placed.sure else ["flash-point-needs-test"]
    assert [finding.code for finding in placed.findings] == expected


def test_the_margin_guards_the_branch_at_100_f_too() -> None:
    assert place_liquid(liquid("108.9F", **CALCULATED), OSHA).below_100f is True
    assert place_liquid(liquid("109F", **CALCULATED), OSHA).below_100f is False


def test_a_calculation_that_may_not_stand_never_makes_it_milder_than_its_worst_part() -> None:
    part = {"method": FlashMethod.CALCULATED, "part_flash": degrees("20F"), "part_boiling": degrees("133F")}
    placed = place_liquid(liquid("120F", **part), OSHA)
    assert (placed.categories, placed.sure, placed.below_100f) == (("2", "3"), False, True)
    assert place_liquid(liquid("120F", **(part | CALCULATED)), OSHA).categories == ("3",)
    milder_part = part | {"part_flash": degrees("150F")}
    assert place_liquid(liquid("120F", **milder_part), OSHA).categories == ("3",)
    untold = place_liquid(liquid("120F", method=FlashMethod.CALCULATED), OSHA)
    assert (untold.category, untold.below_100f, untold.sure) == ("1", None, False)
    assert "calculation-not-validated" in {finding.code for finding in untold.findings}


def test_an_open_cup_counts_from_the_worst_down() -> None:
    placed = place_liquid(liquid("120F", method=FlashMethod.OPEN_CUP), OSHA)
    assert (placed.categories, placed.below_100f, placed.sure) == (("1", "2", "3"), None, False)


def test_what_has_no_flash_point_is_in_no_category() -> None:
    for scheme in Scheme:
        placed = place_liquid(LiquidFacts("water", no_flash_point=True), scheme)
        assert (placed.categories, placed.sure) == ((NONE,), True)


@pytest.mark.parametrize(
    ("flash", "heated", "category", "below"),
    [("118F", "87.9F", "3", False), ("118F", "88F", "3", True), ("118F", "95F", "3", True),
     ("118F", "200F", "3", True),
     ("150F", "119.9F", "4", False), ("150F", "120F", "3", False), ("210F", "179F", NONE, False),
     ("210F", "180F", "4", False), ("48C", "31.3C", "3", False), ("48C", "31.4C", "3", True)],
)  # fmt: skip
def test_heated_for_use(flash: str, heated: str, category: str, below: bool) -> None:
    placed = place_liquid(liquid(flash, heated_to=degrees(heated)), OSHA)
    assert (placed.categories, placed.below_100f) == ((category,), below)


def test_heated_without_a_flash_point_or_under_a_law_without_the_rule() -> None:
    told = LiquidFacts("spirit", category="3", heated_to=degrees("95F"))
    placed = place_liquid(told, OSHA)
    assert (placed.categories, placed.below_100f, placed.sure) == (("3",), True, False)
    ifc = place_liquid(liquid("118F", heated_to=degrees("95F")), IFC)
    assert (ifc.categories, ifc.sure) == (("II",), False)
    assert [finding.code for finding in ifc.findings] == ["heated-rule-not-held"]


def test_a_told_category_and_a_flash_point_that_differ_count_both() -> None:
    placed = place_liquid(liquid("50F", category="3"), OSHA)
    assert (placed.categories, placed.sure) == (("2", "3"), False)
    assert [finding.code for finding in placed.findings] == ["category-and-flash-differ"]
    assert place_liquid(liquid("50F", None, category="2"), OSHA).categories == ("2",)


def test_the_crosswalk_holds_just_what_the_definitions_leave_open() -> None:
    """Every flash point to a tenth of a degree around every cut, with boiling points around theirs."""
    seen: dict[tuple[Scheme, str, Scheme], set[str]] = {}
    cuts = [-40, 73, Fraction("73.4"), 86, 100, 140, Fraction("199.4"), 200, 300]
    for flash in [Fraction(cut) + Fraction(step, 10) for cut in cuts for step in range(-5, 6)]:
        for boiling in (90, 95, 96, 100, 200):
            facts = LiquidFacts(
                "spirit", flash=Temperature(flash, "F"), boiling=Temperature(Fraction(boiling), "F")
            )
            for hottest in (Fraction(10), Fraction(60)):
                names = {scheme: place_liquid(facts, scheme, hottest).category for scheme in Scheme}
                for home, words in ACROSS.items():
                    for other in words.get(names[home], {}):
                        seen.setdefault((home, names[home], other), set()).add(names[other])
    held = {
        (home, told, other): set(open_to.split())
        for home, words in ACROSS.items()
        for told, across in words.items()
        for other, open_to in across.items()
    }
    assert seen == held


@pytest.mark.parametrize(
    ("category", "boils", "ifc"),
    [
        ("H225", "100F", ("IB", "IC")),
        ("H225", "99F", ("IA", "IB", "IC")),
        ("H225", None, ("IA", "IB", "IC")),
        ("H224", "90F", ("IA", "IC")),
        ("H224", "96F", ("IA", "IC")),
        ("H224", "150F", ("IA", "IC")),
    ],
)
def test_a_boiling_point_that_nothing_contradicts_counts_beside_a_hazard_class(
    category: str, boils: str | None, ifc: tuple[str, ...]
) -> None:
    boiling = degrees(boils) if boils else None
    sheet = Reading(LiquidFacts("", category=category, boiling=boiling), "its sheet says so", category)
    told = liquid("150F", boils, also=(sheet,))
    found = place_liquid(told, Scheme.IFC)
    assert tuple(one for one in found.categories if one in ("IA", "IB", "IC")) == ifc and not found.sure
