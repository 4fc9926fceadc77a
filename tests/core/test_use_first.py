"""The line of what goes first: the second clock moves up and never down; months with a 29 February."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.access import Role
from service.core.containers import ContainerState, Standing
from service.core.lid_lifts import Lifts
from service.core.materials import Basis
from service.core.recipe import Need
from service.core.second_clock import reckon
from service.core.stock_check import Candidate, check
from service.core.use_first import NO_AIR, AirStanding, InLine, air_standing, ending_together, place_in_line
from service.core.year_ahead import year_ahead

LEAP = date(2028, 2, 29)
DAYS = st.none() | st.dates(date(2026, 1, 1), date(2032, 12, 31))
SHARES = st.floats(0, 1, allow_nan=False)
AIRS = st.builds(AirStanding, SHARES, st.booleans(), SHARES, st.integers(0, 40))
CODES = st.text("ABC", min_size=1, max_size=3)
LINES = st.builds(InLine, CODES, st.sampled_from(Standing), DAYS, st.booleans(), AIRS)


@given(LINES, SHARES)
def test_more_spent_never_moves_down(line: InLine, more: float) -> None:
    worse = replace(line, air=replace(line.air, rank=max(line.air.rank, more), much=True))
    assert place_in_line(worse) <= place_in_line(line)
    assert place_in_line(line) <= place_in_line(replace(line, air=NO_AIR)) or line.air == NO_AIR


@given(LINES, LINES)
def test_a_date_is_never_put_behind_air_within_a_band(one: InLine, other: InLine) -> None:
    one, other = (replace(each, air=replace(each.air, much=False)) for each in (one, other))
    if one.standing is other.standing and (one.until or date.max) < (other.until or date.max):
        assert place_in_line(one) < place_in_line(other)


def test_the_standing_decides_first() -> None:
    order = [Standing.LOOK_FIRST, Standing.NOT_KNOWN, Standing.IN_DATE]
    lines = [InLine(s.value, s, LEAP, True) for s in reversed(order)]
    assert [line.standing for line in sorted(lines, key=place_in_line)] == order
    spent = InLine("spent", Standing.IN_DATE, LEAP + timedelta(days=400), True, AirStanding(0.5, much=True))
    assert [line.code for line in sorted([*lines, spent], key=place_in_line)][:2] == ["look-first", "spent"]


def test_what_cannot_be_told_counts_as_the_most() -> None:
    oil = (100.0, 100.0)
    alone = Lifts((), came_open=False, poured_in=False, estimated=False)
    told = air_standing(reckon([(0.5, 0.5)], oil_now_g=oil), alone, None)
    dark = air_standing(reckon([None], oil_now_g=oil), alone, None)
    came = air_standing(reckon([(0.5, 0.5)], oil_now_g=oil), replace(alone, came_open=True), None)
    assert told.rank < 1 and dark.rank == came.rank == 1
    more = air_standing(reckon([(0.5, 0.5)] * 3, oil_now_g=oil), replace(alone, came_open=True), None)
    assert more.order < came.order, "among those not known the one with more openings goes first"


def tin(code: str, openings: int, **facts: object) -> Candidate:
    air = AirStanding(0.01 * openings, openings=openings, full=(0.5, 0.5))
    told = Candidate(
        ord(code[0]), code, 1, 500, standing=Standing.IN_DATE, state=ContainerState.OPEN,
        in_date_until=LEAP, air=air,
    )  # fmt: skip
    return replace(told, **facts)  # type: ignore[arg-type]


def taken(*candidates: Candidate) -> list[tuple[str, str]]:
    need = Need(1, "boiled oil", Basis.VOLUME, 400, 400)
    done = check([need], candidates, actor_role=Role.KEEPER, today=date(2028, 1, 1))
    return [(one.code, one.why) for one in done.allocations]


def test_the_stock_check_takes_what_had_more_air_of_equal_dates() -> None:
    words = "use first: open already, in date until 29 February 2028, half empty, opened 10 times"
    assert taken(tin("A", 1), tin("B", 10)) == [("B", words)]
    later = tin("B", 10, in_date_until=date(2028, 3, 1))
    assert taken(tin("A", 1), later)[0][0] == "A", "the date comes first"
    assert taken(tin("A", 1), tin("B", 10, standing=Standing.NOT_KNOWN))[0][0] == "A"
    assert taken(tin("A", 1), tin("B", 10, standing=Standing.PAST))[0][0] == "A", "past is past"
    sealed = tin("A", 0, state=ContainerState.SEALED, air=NO_AIR)
    assert taken(sealed) == [("A", "in date until 29 February 2028")]


def test_why_is_no_part_of_what_was_decided() -> None:
    need = Need(1, "boiled oil", Basis.VOLUME, 400, 400)
    once, often = (
        check([need], [tin("A", n)], actor_role=Role.KEEPER, today=date(2028, 1, 1)) for n in (1, 9)
    )
    assert once.fingerprint == often.fingerprint and once.allocations != often.allocations


@pytest.mark.parametrize("day", [date(2028, 2, 1), LEAP])
def test_what_ends_in_february_of_a_leap_year(day: date) -> None:
    both = [(1, "oil", "A", day), (1, "oil", "B", None)]
    found = ending_together(both, date(2028, 1, 31), date(2028, 7, 31))
    assert [(one.year, one.month, one.codes) for one in found] == [(2028, 2, ("A",))]


@given(
    st.lists(st.tuples(st.sampled_from(Standing), DAYS, st.integers(1, 50)), max_size=40),
    st.dates(date(2026, 1, 1), date(2029, 12, 31)),
)
def test_each_container_is_counted_once_in_the_year(
    ends: list[tuple[Standing, date | None, int]], today: date
) -> None:
    year = year_ahead(ends, today)
    assert len(year.months) == 13 and (year.months[0].year, year.months[0].month) == (today.year, today.month)
    beside = year.past + year.not_known + year.later + year.no_end
    fine, end = {Standing.IN_DATE, Standing.LOOK_FIRST}, today + timedelta(days=365)
    within = [many for standing, until, many in ends if standing in fine and until and until <= end]
    assert sum(month.count for month in year.months) >= sum(within), "a year from today is in the picture"
    assert sum(month.count for month in year.months) + beside == sum(many for _, _, many in ends)
    assert year.not_known == sum(n for s, _, n in ends if s is Standing.NOT_KNOWN), "never drawn as in date"


def test_a_year_from_a_leap_day() -> None:
    fine = Standing.IN_DATE
    ends = [(Standing.LOOK_FIRST, LEAP, 1), (fine, date(2029, 2, 28), 2), (fine, date(2029, 3, 1), 4)]
    year = year_ahead(ends, LEAP)
    last = year.months[-1]
    assert (year.months[0].look_first, last.name, last.in_date, year.later) == (1, "February 2029", 2, 4)
