"""Waste by month at random: more is never lighter, and what is not known never lowers anything."""

from __future__ import annotations

import random
from datetime import date
from fractions import Fraction

from service.core.waste import Mass, Month, judge_month, say_category
from service.core.waste_clocks import Site, judge_cap, judge_clock
from service.core.waste_rules import WEIGHT, Category, Kind
from service.records.knowledge_waste import waste_tables

TABLES = waste_tables()
EDGES = [Fraction(one) for one in ("0", "1", "99.999", "100", "100.001", "999.999", "1000", "6000")]


def month_of(dice: random.Random) -> Month:
    sizes = {Kind.WASTE: EDGES, Kind.ACUTE: EDGES[:3], Kind.RESIDUE: EDGES[:5]}
    masses = {kind: Mass(dice.choice(many), dice.random() < 0.2) for kind, many in sizes.items()}
    return Month("a month", masses)


def test_more_mass_is_never_a_lighter_category() -> None:
    dice = random.Random(10)
    for _ in range(2000):
        month, kind = month_of(dice), dice.choice(list(Kind))
        more = Mass(month.of(kind).kg + dice.choice(EDGES), month.of(kind).more)
        before = judge_month(TABLES, month)
        after = judge_month(TABLES, Month("a month", {**month.masses, kind: more}))
        assert WEIGHT[after.at_least] >= WEIGHT[before.at_least]
        if before.category is not None:
            assert after.category is not None
            assert WEIGHT[after.category] >= WEIGHT[before.category]


def test_a_mass_that_is_not_known_never_lowers_and_never_settles() -> None:
    dice = random.Random(11)
    for _ in range(2000):
        month, kind = month_of(dice), dice.choice(list(Kind))
        unsure = Month("a month", {**month.masses, kind: Mass(month.of(kind).kg, True)})
        before, after = judge_month(TABLES, month), judge_month(TABLES, unsure)
        assert after.at_least is before.at_least
        assert after.category in (None, Category.LQG)
        assert ("at least" in say_category(after)) is (after.category is None)
        left_out = Month("a month", {k: v for k, v in month.masses.items() if k is not kind})
        assert judge_month(TABLES, left_out).category in (None, Category.LQG)


def test_a_heavier_or_unknown_category_never_has_more_time_or_a_higher_cap_unsaid() -> None:
    start, today = date(2026, 2, 1), date(2026, 3, 1)
    for kg in (*EDGES, None):
        times = []
        for category in (*Category, None):
            cap = judge_cap(TABLES, category, Site(kg))
            clock = judge_clock(TABLES, category, start, today, None, cap)
            times.append(clock.deadline or date.max)
            if kg is None and category is not Category.LQG:
                assert cap.exceeded is None
        assert times[0] >= times[1] >= times[2] == times[3], kg


def test_a_way_that_is_not_known_takes_the_shorter_time() -> None:
    cap = judge_cap(TABLES, Category.SQG, Site(Fraction(1)))
    days = [
        judge_clock(TABLES, Category.SQG, date(2026, 2, 1), None, miles, cap).deadline
        for miles in (None, Fraction(200), Fraction(201))
    ]
    assert days == [date(2026, 7, 31), date(2026, 7, 31), date(2026, 10, 29)]
