"""Just below, at and just above every limit of every law, made from the table of the laws itself.

The limits are checked against the standards by hand in ``SPOT_CHECKS`` (source beside each) and by the
worked examples
in tests/published; here the arithmetic around each is checked: a limit of L includes L.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from service.core.hazards.acute import CONVERTED, UPPER_ENDS, category_of
from service.core.hazards.classes import AQUATIC, CATEGORIES, Family, Hazard, Route
from service.core.hazards.regimes import CUT_OFF_PERCENT, RULES, Regime, SingleLimit, SumLimit
from tests.core.hazards.mixes import classed, find, part

A_BIT = Decimal("0.0001")
SINGLE = [(regime, row) for regime, rules in RULES.items() for row in rules.single]
SUMS = [(regime, row) for regime, rules in RULES.items() for row in rules.sums]
# Converted values that are the upper end of the category before: the test after looks at what becomes of
# them.
AT_THE_UPPER_END = {(Route.DUST_MIST, 3), *((route, 2) for route in UPPER_ENDS)}
# Law, family, category of the ingredient, category of the mix, per cent; where the figure stands.
SPOT_CHECKS = [
    ("eu-clp", "Repr.", "1B", "1B", "0.3", "ECHA seminar for the Baltic states, 5 March 2012"),
    ("eu-clp", "Repr.", "2", "2", "3.0", "ECHA seminar for the Baltic states, 5 March 2012"),
    ("eu-clp", "STOT RE", "1", "1", "10", "UBA brochure, table 6.13"),
    ("eu-clp", "STOT RE", "1", "2", "1.0", "UBA brochure, table 6.13"),
    ("eu-clp", "STOT RE", "2", "2", "10", "UBA brochure, table 6.13"),
    ("us-hcs", "STOT SE", "1", "1", "1.0", "OSHA letter of 4 March 2014"),
    ("us-hcs", "Skin Sens.", "1", "1", "0.1", "HCS table A.4.3, from memory"),
    ("eu-clp", "Skin Sens.", "1", "1", "1.0", "CLP Annex I table 3.4.5, from memory"),
    ("us-hcs", "Carc.", "2", "2", "0.1", "HCS A.6.3, from memory"),
    ("eu-clp", "Carc.", "2", "2", "1.0", "CLP Annex I table 3.6.2, from memory"),
    ("un-ghs", "Carc.", "1A", "1A", "0.1", "UN GHS table 3.6.1, from memory"),
]


def hazard_text(family: Family, category: str, effect: str = "") -> str:
    text = Hazard(family, category).abbreviation
    return f"{text} {effect}" if effect else text


@pytest.mark.parametrize(("law", "family", "of", "mix", "percent", "source"), SPOT_CHECKS)
def test_the_table_says_what_the_standard_says(
    law: str, family: str, of: str, mix: str, percent: str, source: str
) -> None:
    rows = [
        row
        for row in RULES[Regime(law)].single
        if row.family.value == family and of in row.ingredient and row.mix == mix
    ]
    assert [row.at_least for row in rows] == [Decimal(percent)], source


@pytest.mark.parametrize(
    ("regime", "row"), SINGLE, ids=[f"{r}-{s.family.value}-{s.ingredient[0]}-{s.mix}" for r, s in SINGLE]
)
def test_one_ingredient_alone_around_its_limit(regime: Regime, row: SingleLimit) -> None:
    for category in row.ingredient:
        text = hazard_text(row.family, category)
        for share in (row.at_least - A_BIT, row.at_least, row.at_least + A_BIT):
            got = find(classed(regime, part("it", share, text)), row.family.value)
            ranks = [CATEGORIES[row.family, row.mix].rank >= hazard.rank for hazard in got]
            assert any(ranks) is (share >= row.at_least), (text, share)


@pytest.mark.parametrize(
    ("regime", "row"), SUMS, ids=[f"{r}-{s.family.value}-{s.mix}{s.effect}-{len(s.terms)}" for r, s in SUMS]
)
def test_a_sum_around_its_limit(regime: Regime, row: SumLimit) -> None:
    """Each term alone, then the largest share split over two ingredients: the sum is what counts."""
    for family, categories, weight in row.terms:
        for category in categories:
            text = hazard_text(family, category, row.effect)
            limit = min(row.at_least / weight, *_as_severe(regime, row, family, category))
            if (family, category) in RULES[regime].categories_left_out or limit < _cut_off(family, category):
                continue
            for share in (limit - A_BIT, limit, limit + A_BIT):
                one = classed(regime, part("it", share, text), viscosity_mm2_s=Decimal(5))
                assert _reaches(one.hazards, row) is (share >= limit), (text, share)
                if share / 2 >= CUT_OFF_PERCENT:
                    two = [part(name, share / 2, text) for name in ("one", "other")]
                    split = classed(regime, *two, viscosity_mm2_s=Decimal(5))
                    assert _reaches(split.hazards, row) is (share >= limit), (text, share, "split")


def _cut_off(family: Family, category: str) -> Decimal:
    return Decimal("0.1") if family in AQUATIC and category == "1" else CUT_OFF_PERCENT


def _as_severe(regime: Regime, row: SumLimit, family: Family, category: str) -> list[Decimal]:
    """The limits of the same ingredient in the rows of this family that give as much or more."""
    place = RULES[regime].sums.index(row)
    return [
        other.at_least / weight
        for number, other in enumerate(RULES[regime].sums)
        for kind, names, weight in other.terms
        if other.family is row.family and other.effect == row.effect and kind is family and category in names
        and (number <= place or other.mix == row.mix)
    ]  # fmt: skip


def _reaches(hazards: tuple[Hazard, ...], row: SumLimit) -> bool:
    """Whether the mix is in the category of the row, with whatever letter, or in a more severe one."""
    return any(
        hazard.family is row.family and hazard.category[0] <= row.mix and hazard.effect == row.effect
        for hazard in hazards
    )


@pytest.mark.parametrize("regime", list(Regime))
@pytest.mark.parametrize("route", list(UPPER_ENDS))
def test_acute_categories_include_their_upper_end(regime: Regime, route: Route) -> None:
    rules = RULES[regime]
    ends = UPPER_ENDS[route][: rules.acute_categories]
    for number, end in enumerate(ends, start=1):
        after = str(number + 1) if number < len(ends) else ""
        assert category_of(end, route, rules) == str(number)
        assert category_of(end + A_BIT, route, rules) == after
        assert category_of(end - A_BIT, route, rules) == str(number)
        # Each converted value lies inside its own category (table 3.1.2 against table 3.1.1).
        if (route, number) not in AT_THE_UPPER_END:
            assert category_of(CONVERTED[route][number - 1], route, rules) == str(number)


@pytest.mark.parametrize("regime", list(Regime))
@pytest.mark.parametrize("route", list(UPPER_ENDS))
@pytest.mark.parametrize("category", ["1", "2", "3", "4"])
def test_a_substance_alone_keeps_its_acute_category(regime: Regime, route: Route, category: str) -> None:
    got = classed(regime, part("it", 100, f"Acute Tox. {category} {route.value}"))
    assert [(h.category, h.route) for h in find(got, "Acute Tox.")] == [(category, route)]


@pytest.mark.parametrize("regime", list(Regime))
@pytest.mark.parametrize("ate", ["3", "7", "11", "1500"])
def test_quotients_that_do_not_end_count_at_the_limit(regime: Regime, ate: str) -> None:
    """100 / (C/ATE) is exactly 2000 for C = ATE/20, although the quotient has no last digit."""
    share = Decimal(ate) / 20
    if share < CUT_OFF_PERCENT and Decimal(ate) > 300:
        return
    got = classed(regime, part("it", share, ate={Route.ORAL: (Decimal(ate), Decimal(ate))}))
    assert [h.category for h in find(got, "Acute Tox.")] == ["4"]


@pytest.mark.parametrize("regime", list(Regime))
def test_thirds_of_own_limits_add_up_to_the_limit(regime: Regime) -> None:
    from service.core.hazards.mix import OwnLimit
    from service.core.hazards.read_class import read_class

    limit = OwnLimit(read_class("Skin Corr. 1B").hazards[0], Decimal(3))
    parts = [part(f"lye {n}", "1", "Skin Corr. 1B", limits=(limit,)) for n in range(3)]
    assert [h.category for h in find(classed(regime, *parts), "Skin")] == ["1B"]
