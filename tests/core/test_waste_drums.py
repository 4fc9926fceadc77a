"""Clocks of waste drums at their edges: 55 gallons, day 3, 90, 180, 270, leap days, what is not known."""

from __future__ import annotations

import random
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

import pytest

from service.core.findings import Severity
from service.core.materials import Unknown
from service.core.waste import Mass, Month, judge_month
from service.core.waste_drum_clocks import JudgedDrum, SiteTold, judge_drums, judge_site
from service.core.waste_drums import (
    GALLON_UL,
    QUART_UL,
    Area,
    DrumEntry,
    DrumFacts,
    DrumState,
    DrumStep,
    Held,
    excess_of,
    fold_drum,
)
from service.core.waste_rules import Category, Jurisdiction, Kind
from service.records.knowledge_waste import waste_tables

TABLES = waste_tables()
FIRST = date(2026, 2, 1)
GAL_55 = 55 * GALLON_UL
WHOLE_55 = 208_197_649
"""55 US gallons in whole microlitres, rounded up as the bench's writing is."""


def entry(step: DrumStep, on: date, number: int = 0, **more: Any) -> DrumEntry:
    return DrumEntry(number=number or on.toordinal(), step=step, on=on, **more)


def drum(*entries: DrumEntry, number: int = 1, **facts: Any) -> DrumState:
    told = {"area": Area.CENTRAL, "acute": Unknown.NO, "spot": 7} | facts
    return fold_drum(DrumFacts(number=number, name=f"Drum {number}", **told), entries)


def satellite(*entries: DrumEntry, **facts: Any) -> DrumState:
    return drum(*entries, **{"area": Area.SATELLITE} | facts)


def judged(
    one: DrumState, today: date, told: SiteTold = SiteTold(), *others: DrumState,  # noqa: B008
    law: Jurisdiction | None = Jurisdiction.US,
) -> JudgedDrum:  # fmt: skip
    drums = [one, *others]
    return judge_drums(TABLES, drums, judge_site(TABLES, drums, told), today, law)[0]


@pytest.mark.parametrize(
    ("told", "last"),
    [
        (SiteTold(Category.LQG), "2026-05-02"),  # the reference's WS-09
        (SiteTold(Category.SQG, 150), "2026-07-31"),  # WS-07
        (SiteTold(Category.SQG, 200), "2026-07-31"),
        (SiteTold(Category.SQG, 201), "2026-10-29"),
        (SiteTold(Category.SQG), "2026-07-31"),
        (SiteTold(None, 500), "2026-05-02"),
        (SiteTold(), "2026-05-02"),
    ],
)
def test_the_last_day_counts_and_the_next_is_too_long(told: SiteTold, last: str) -> None:
    one = drum(entry(DrumStep.PUT_IN, FIRST, mg=1, ul=1))
    end = date.fromisoformat(last)
    assert judged(one, end, told).deadline == end
    assert not judged(one, end, told).overdue
    late = judged(one, end + timedelta(days=1), told)
    assert late.overdue
    assert "waste-overdue" in {f.code for f in late.findings if f.severity is Severity.STOP}
    assert late.citation and late.grade == "read"
    assert judged(one, end - timedelta(days=30), told).near(end - timedelta(days=30))
    assert not judged(one, end - timedelta(days=31), told).near(end - timedelta(days=31))


def test_a_leap_day_is_a_day() -> None:
    one = drum(entry(DrumStep.PUT_IN, date(2028, 2, 29), mg=1, ul=1))
    assert judged(one, date(2028, 3, 1), SiteTold(Category.LQG)).deadline == date(2028, 5, 29)
    over_it = drum(entry(DrumStep.PUT_IN, date(2027, 12, 1), mg=1, ul=1))
    assert judged(over_it, date(2027, 12, 1), SiteTold(Category.LQG)).deadline == date(2028, 2, 29)


def test_a_small_shop_has_no_clock_until_its_cap_and_none_where_something_is_not_known() -> None:
    told = SiteTold(Category.VSQG)
    light = drum(entry(DrumStep.PUT_IN, FIRST, mg=1_000_000_000, ul=1))
    assert judged(light, FIRST, told).deadline is None, "exactly 1000 kg is within"
    heavy = drum(entry(DrumStep.PUT_IN, FIRST, mg=1_000_000_001, ul=1))
    assert judged(heavy, FIRST, told).deadline == date(2026, 7, 31)
    unsure = drum(entry(DrumStep.PUT_IN, FIRST, ul=1))
    assert judged(unsure, FIRST, told).deadline == date(2026, 7, 31)
    acute = drum(entry(DrumStep.PUT_IN, FIRST, mg=1, ul=1), acute=Unknown.NOT_KNOWN)
    assert judged(acute, FIRST, told).deadline == date(2026, 7, 31)
    gone = drum(
        entry(DrumStep.PUT_IN, FIRST, 1), entry(DrumStep.HANDED_OVER, FIRST, 2), number=2
    )
    later = drum(entry(DrumStep.PUT_IN, FIRST + timedelta(days=1), mg=1_000_000_000, ul=1))
    assert judged(later, FIRST, told, gone).deadline is None, "what left stands here no more"
    assert judged(light, FIRST, told, gone).deadline == date(2026, 7, 31), "nobody knows what stood beside it"
    loose = judge_site(TABLES, [light], told, elsewhere=True)
    assert loose.cap.exceeded is None and "waste-on-site-at-least" in {f.code for f in loose.findings}


def test_a_cap_that_was_passed_goes_on_for_what_stood_there_then() -> None:
    told, day = SiteTold(Category.VSQG), FIRST + timedelta(days=5)
    stays = drum(entry(DrumStep.WEIGHED, FIRST, mg=600_000_000))
    left = drum(
        entry(DrumStep.WEIGHED, FIRST, 1, mg=400_000_001), entry(DrumStep.HANDED_OVER, day, 2), number=2
    )
    found = judged(stays, day, told, left)
    assert found.deadline == date(2026, 7, 31)
    assert "waste-cap-passed" in {f.code for f in found.findings if f.severity is Severity.WARN}
    after = drum(entry(DrumStep.PUT_IN, day + timedelta(days=1), mg=600_000_000), number=3)
    assert judged(after, day, told, left).deadline is None, "it came when the other had left"
    puts = entry(DrumStep.PUT_IN, FIRST, 1), entry(DrumStep.HANDED_OVER, day, 2, mg=400_000_000)
    assert judged(stays, day, told, drum(*puts, number=2)).deadline is None, "bounded by what left"
    heavy = entry(DrumStep.HANDED_OVER, day, 2, mg=400_000_001)
    assert judged(stays, day, told, drum(puts[0], heavy, number=2)).deadline == date(2026, 7, 31)
    inside = satellite(entry(DrumStep.PUT_IN, FIRST, mg=600_000_000, ul=2 * WHOLE_55))
    assert judged(inside, day, told, left).deadline == FIRST + timedelta(days=3)
    acute = drum(
        entry(DrumStep.PUT_IN, FIRST, 1, mg=1_000_001), entry(DrumStep.HANDED_OVER, day, 2), number=2,
        acute=Unknown.YES,
    )  # fmt: skip
    assert judged(stays, day, told, acute).deadline == date(2026, 5, 2)


def test_a_heavier_month_of_the_book_counts_before_the_category_told() -> None:
    month = judge_month(TABLES, Month("2026-02", {Kind.WASTE: Mass(Fraction(1000))}))
    site = judge_site(TABLES, [], SiteTold(Category.VSQG), [month])
    assert site.category is Category.LQG
    assert "waste-category-heavier" in {f.code for f in site.findings}
    light = judge_month(TABLES, Month("2026-02", {Kind.WASTE: Mass(Fraction(1))}))
    assert judge_site(TABLES, [], SiteTold(Category.SQG), [light]).category is Category.SQG
    assert judge_site(TABLES, [], SiteTold(), [light]).category is None


@pytest.mark.parametrize("told", [SiteTold(Category.VSQG), SiteTold(Category.SQG, 300), SiteTold()])
def test_more_than_a_kilogram_of_acute_waste_has_the_time_of_an_lqg(told: SiteTold) -> None:
    end = date(2026, 5, 2)
    plain = drum(entry(DrumStep.PUT_IN, FIRST, mg=1, ul=1), number=2)
    over = drum(entry(DrumStep.PUT_IN, FIRST, mg=1_000_001, ul=1), acute=Unknown.YES)
    site = judge_site(TABLES, [over, plain], told)
    assert site.category is Category.LQG
    both = judge_drums(TABLES, [over, plain], site, FIRST, Jurisdiction.US)
    assert [one.deadline for one in both] == [end, end]
    within = drum(entry(DrumStep.PUT_IN, FIRST, mg=1_000_000, ul=1), acute=Unknown.YES)
    assert judge_site(TABLES, [within], told).category is told.category
    for unsure in (
        drum(entry(DrumStep.PUT_IN, FIRST, ul=1), acute=Unknown.YES),
        drum(entry(DrumStep.PUT_IN, FIRST, mg=1_000_001, ul=1), acute=Unknown.NOT_KNOWN),
    ):
        site = judge_site(TABLES, [unsure], told)
        assert "waste-acute-not-known" in {f.code for f in site.findings}
        assert judged(unsure, FIRST, told).deadline == end


def test_exactly_55_gallons_are_within_and_three_calendar_days_run_above() -> None:
    friday = date(2026, 3, 6)
    within = satellite(entry(DrumStep.PUT_IN, friday, ul=WHOLE_55, mg=1))
    assert excess_of([within], GAL_55) is None
    assert judged(within, friday + timedelta(days=90)).deadline is None
    over = satellite(entry(DrumStep.PUT_IN, friday, ul=WHOLE_55 + 1, mg=1))
    found = judged(over, friday + timedelta(days=3))
    assert (found.excess_on, found.deadline, found.overdue) == (friday, date(2026, 3, 9), False)
    assert {f.code for f in found.findings} == {"waste-satellite-excess"}
    assert judged(over, friday + timedelta(days=4)).overdue, "a weekend is not left out"


def test_drums_of_one_spot_share_its_amount_and_acute_has_a_quart() -> None:
    half = satellite(entry(DrumStep.PUT_IN, FIRST, ul=WHOLE_55 // 2, mg=1))
    day = FIRST + timedelta(days=5)
    other = satellite(entry(DrumStep.PUT_IN, day, ul=WHOLE_55 // 2 + 2, mg=1), number=2)
    assert judged(half, day, SiteTold(), other).excess_on == day
    elsewhere = satellite(entry(DrumStep.PUT_IN, day, ul=WHOLE_55, mg=1), number=2, spot=8)
    assert judged(half, day, SiteTold(), elsewhere).excess_on is None
    quart = -(-QUART_UL.numerator // QUART_UL.denominator)
    for acute in (Unknown.YES, Unknown.NOT_KNOWN):
        assert judged(satellite(entry(DrumStep.PUT_IN, FIRST, ul=quart), acute=acute), FIRST).deadline is None
        more = satellite(entry(DrumStep.PUT_IN, FIRST, ul=quart + 1), acute=acute)
        assert judged(more, FIRST).deadline == FIRST + timedelta(days=3)


def test_a_drum_whose_place_is_not_told_may_stand_at_any_other() -> None:
    told, part = SiteTold(Category.SQG), 150_000_000
    here = satellite(entry(DrumStep.PUT_IN, FIRST, ul=part, mg=1))
    lost = satellite(entry(DrumStep.PUT_IN, FIRST, ul=part, mg=1), number=2, spot=None)
    for one, other in ((here, lost), (lost, here)):
        found = judged(one, FIRST, told, other)
        assert (found.excess_on, found.deadline) == (FIRST, FIRST + timedelta(days=3))
        assert [f.code for f in found.findings] == ["waste-satellite-not-known", "waste-place-not-told"]
    small = satellite(entry(DrumStep.PUT_IN, FIRST, ul=1, mg=1), number=2, spot=None)
    assert judged(here, FIRST, told, small).deadline is None
    apart = satellite(entry(DrumStep.PUT_IN, FIRST, ul=part, mg=1), number=2, spot=8)
    assert judged(here, FIRST, told, apart).deadline is None
    assert judged(small, FIRST, told, here, apart).deadline is None
    moved = satellite(
        entry(DrumStep.PUT_IN, FIRST, ul=part, mg=1), entry(DrumStep.MOVED, FIRST + timedelta(days=9))
    )  # fmt: skip
    assert judged(moved, FIRST, told, lost).started == FIRST + timedelta(days=3)


def test_more_than_its_size_is_said() -> None:
    for area in Area:
        within = drum(entry(DrumStep.PUT_IN, FIRST, ul=20, mg=1), area=area, capacity_ul=20)
        over = drum(entry(DrumStep.PUT_IN, FIRST, ul=21, mg=1), area=area, capacity_ul=20)
        assert "waste-drum-over-size" not in {f.code for f in judged(within, FIRST).findings}
        assert "waste-drum-over-size" in {f.code for f in judged(over, FIRST).findings}


def test_an_unknown_amount_is_bounded_by_the_size_of_the_drum_and_by_nothing_else() -> None:
    day = FIRST + timedelta(days=10)
    unsure = entry(DrumStep.PUT_IN, FIRST)
    assert judged(satellite(unsure, capacity_ul=WHOLE_55), day).deadline is None
    found = judged(satellite(unsure), day)
    assert found.excess_on == FIRST and found.overdue
    assert found.findings[0].severity is Severity.UNKNOWN and "Measure" in found.findings[0].sentence
    measured = satellite(unsure, entry(DrumStep.WEIGHED, day, ul=1000))
    assert judged(measured, day).deadline is None
    two = satellite(unsure, capacity_ul=WHOLE_55)
    other = satellite(entry(DrumStep.PUT_IN, day), capacity_ul=WHOLE_55, number=2)
    assert judged(two, day, SiteTold(), other).excess_on == day
    # An unknown day that comes earlier gives no more time than it would alone.
    first = satellite(unsure, entry(DrumStep.WEIGHED, day, mg=5), entry(DrumStep.OVER, day, 99))
    assert judged(first, day).excess_on == FIRST


def test_a_move_starts_the_clock_and_never_gives_back_what_an_excess_took() -> None:
    moved_on = date(2026, 3, 1)
    plain = satellite(entry(DrumStep.PUT_IN, FIRST, ul=1, mg=1), entry(DrumStep.MOVED, moved_on))
    assert judged(plain, moved_on).started == moved_on
    assert judged(plain, moved_on).deadline == date(2026, 5, 30)
    late = satellite(entry(DrumStep.PUT_IN, FIRST, ul=WHOLE_55 * 2, mg=1), entry(DrumStep.MOVED, moved_on))
    assert judged(late, moved_on).started == FIRST + timedelta(days=3)
    told = satellite(
        entry(DrumStep.PUT_IN, FIRST, ul=1, mg=1), entry(DrumStep.OVER, FIRST, 5),
        entry(DrumStep.MOVED, moved_on),
    )  # fmt: skip
    assert judged(told, moved_on).started == FIRST + timedelta(days=3)
    soon = satellite(entry(DrumStep.OVER, moved_on - timedelta(days=2)), entry(DrumStep.MOVED, moved_on))
    assert judged(soon, moved_on).started == moved_on
    rest = satellite(entry(DrumStep.PUT_IN, FIRST, ul=WHOLE_55, mg=1), number=2)
    assert judged(rest, moved_on, SiteTold(), late).excess_on is None, "what was moved counts no more"


def test_what_was_taken_back_or_undone_counts_for_nothing() -> None:
    put = entry(DrumStep.PUT_IN, FIRST, 1, mg=5, ul=5)
    back = entry(DrumStep.TAKEN_BACK, FIRST, 2, reverses=1)
    assert drum(put, back).first_on is None
    assert drum(entry(DrumStep.PUT_IN, FIRST, 1, mg=5, undone=True)).mg == Held()
    sent = entry(DrumStep.HANDED_OVER, FIRST, 3)
    assert not drum(put, sent).standing
    assert drum(put, sent, entry(DrumStep.TAKEN_BACK, FIRST, 4, reverses=3)).standing
    weighed = drum(put, entry(DrumStep.PUT_IN, FIRST, 5), entry(DrumStep.WEIGHED, FIRST, 6, mg=9))
    assert (weighed.mg, weighed.ul) == (Held(9), Held(5, True))


@pytest.mark.parametrize(
    ("entries", "mg", "ul"),
    [
        ([{"ul": 2000}], Held(0, True), Held(2000)),
        ([{"mg": 400}], Held(400), Held(0, True)),
        ([{"put": True, "mg": 1}, {"ul": 1500}], Held(1, True), Held(1500)),
        ([{"put": True, "ul": 10}, {"mg": 300}], Held(300), Held(10, True)),
        ([{"put": True, "mg": 5, "ul": 5}, {"mg": 6}], Held(6), Held(5, True)),
        ([{"put": True, "mg": 5, "ul": 5}, {"mg": 5}], Held(5), Held(5)),
        ([{"mg": 400}, {"ul": 300}], Held(400), Held(300)),
        ([{"mg": 1}, {"ul": 1500}], Held(1, True), Held(1500)),
        ([{"mg": 400}, {"ul": 300}, {"ul": 900}], Held(400, True), Held(900)),
    ],
)
def test_what_is_measured_in_one_unit_is_not_known_in_the_other(
    entries: list[dict[str, Any]], mg: Held, ul: Held
) -> None:
    steps = {True: DrumStep.PUT_IN, False: DrumStep.WEIGHED}
    told = [{name: said[name] for name in ("mg", "ul") if name in said} for said in entries]
    state = drum(*(
        entry(steps["put" in said], FIRST, at + 1, **told[at]) for at, said in enumerate(entries)
    ))
    assert (state.mg, state.ul) == (mg, ul)


def test_a_weighing_first_counts_from_the_earliest_day_something_can_have_gone_in() -> None:
    weighing = entry(DrumStep.WEIGHED, FIRST + timedelta(days=200), 9, mg=60)
    assert drum(weighing, begun_on=FIRST).first_on == FIRST
    undone = entry(DrumStep.PUT_IN, FIRST, 1, mg=50)
    back = entry(DrumStep.TAKEN_BACK, FIRST + timedelta(days=201), 10, reverses=1)
    state = drum(undone, weighing, back, begun_on=FIRST + timedelta(days=3))
    assert judged(state, FIRST, SiteTold(Category.LQG)).deadline == date(2026, 5, 2)
    measured = entry(DrumStep.WEIGHED, FIRST + timedelta(days=20), ul=2 * WHOLE_55)
    assert judged(satellite(measured, begun_on=FIRST), FIRST).excess_on == FIRST
    put = entry(DrumStep.PUT_IN, FIRST + timedelta(days=5), mg=5)
    assert drum(put, weighing, begun_on=FIRST).first_on == put.on


def test_a_drum_measured_in_litres_may_be_over_the_cap_and_one_in_kilograms_over_55_gallons() -> None:
    told = SiteTold(Category.VSQG)
    litres = drum(entry(DrumStep.WEIGHED, FIRST, ul=2_000_000_000))
    site = judge_site(TABLES, [litres], told)
    assert (site.more, site.cap.exceeded) == (True, None)
    assert judged(litres, FIRST, told).deadline == date(2026, 7, 31)
    heavy = satellite(entry(DrumStep.WEIGHED, FIRST, mg=400_000_000))
    found = judged(heavy, FIRST, SiteTold(Category.SQG))
    assert found.excess_on == FIRST and found.findings[0].severity is Severity.UNKNOWN


def test_of_another_law_no_clock_is_told_and_nothing_is_called_in_time() -> None:
    one = drum(entry(DrumStep.PUT_IN, FIRST, mg=1, ul=1))
    for law in (Jurisdiction.UK, Jurisdiction.EU, None):
        found = judged(one, date(2027, 2, 1), law=law)
        assert (found.deadline, found.citation, found.overdue) == (None, "no rule read", None)
        assert [f.code for f in found.findings] == ["waste-rules-not-held"]
        assert found.findings[0].severity is Severity.UNKNOWN


def test_knowing_less_never_gives_more_time() -> None:
    dice = random.Random(19)
    sizes = [None, 1, WHOLE_55 // 2, WHOLE_55, WHOLE_55 + 1]
    for _ in range(2000):
        area = dice.choice(list(Area))
        puts = [
            entry(DrumStep.PUT_IN, FIRST + timedelta(days=dice.randrange(20)), n, mg=dice.choice(sizes),
                  ul=dice.choice(sizes))
            for n in range(1, dice.randrange(2, 5))
        ]  # fmt: skip
        if area is Area.SATELLITE and dice.random() < 0.4:
            puts.append(entry(DrumStep.MOVED, FIRST + timedelta(days=dice.randrange(20)), 50))
        category = dice.choice(list(Category))
        told, size = SiteTold(category, dice.choice([None, 100, 300])), dice.choice([None, WHOLE_55])
        today = FIRST + timedelta(days=30)
        known = drum(*puts, area=area, capacity_ul=size)
        before = judged(known, today, told).deadline or date.max
        forgotten = dice.randrange(len(puts))
        vague = [
            DrumEntry(number=p.number, step=p.step, on=p.on) if at == forgotten else p
            for at, p in enumerate(puts)
        ]
        for less, site in (
            (drum(*vague, area=area), told),
            (drum(*puts, area=area, capacity_ul=size, acute=Unknown.NOT_KNOWN), told),
            (known, SiteTold(None, told.haul_miles)), (known, SiteTold(category)),
        ):  # fmt: skip
            assert (judged(less, today, site).deadline or date.max) <= before
