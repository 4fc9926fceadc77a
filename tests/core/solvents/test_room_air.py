"""The room model against numbers stepped through (Runge and Kutta), and what must always hold of it."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.solvents import room_air
from service.core.solvents.room_air import Release, Room

volumes = st.floats(1, 5000)
flows = st.one_of(st.just(0.0), st.floats(0.001, 50_000))
factors = st.floats(1, 10)
levels = st.floats(0, 1e5)
rates = st.floats(0, 1e6)
hours = st.floats(0.01, 24)
rooms = st.builds(Room, volumes, flows, factors)
releases = st.one_of(
    st.builds(Release, rates, hours, st.just(0.0)),
    st.builds(Release, rates, st.none(), st.just(0.0)),
    st.builds(Release, st.just(0.0), st.just(0.0), rates),
)


def stepped(room: Room, start: float, release: Release, end: float, steps: int = 4000) -> tuple[float, float]:
    """Level and average at the end, by Runge and Kutta of fourth order over V dC/dt = G(t) - Q C / K."""
    worth = room.airflow_m3_h / room.mixing_factor
    level, area = start + release.at_once / room.volume_m3, 0.0

    def slope(rate: float) -> Callable[[float], float]:
        return lambda c: (rate - worth * c) / room.volume_m3

    # The release may end inside: each stretch is stepped by itself, so that no step straddles the end.
    cut = end if release.hours is None else min(release.hours, end)
    for length, rate in ((cut, release.per_hour), (end - cut, 0.0)):
        step, rises = length / steps, slope(rate)
        for _ in range(steps if length > 0 else 0):
            k1 = rises(level)
            k2 = rises(level + step / 2 * k1)
            k3 = rises(level + step / 2 * k2)
            k4 = rises(level + step * k3)
            after = level + step / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
            middle = level + step / 2 * k2
            area += step / 6 * (level + 4 * middle + after)
            level = after
    return level, area / end


@pytest.mark.parametrize(
    ("room", "start", "release", "end"),
    [
        (Room(30, 90, 3), 0.0, Release(97_500, 2.0), 2.0),
        (Room(30, 90, 3), 0.0, Release(97_500, 2.0), 5.0),
        (Room(40, 80, 1), 250.0, Release(12_000, None), 1.5),
        (Room(40, 0, 10), 250.0, Release(12_000, 0.5), 1.5),
        (Room(2831.7, 10_194, 3), 100.0, Release(), 1.0),
        (Room(60, 600, 5), 0.0, Release(at_once=50_000, hours=0.0), 0.7),
        (Room(500, 0.001, 10), 0.0, Release(1000, 3.0), 4.0),
    ],
)
def test_the_formulas_follow_the_balance_of_the_room(
    room: Room, start: float, release: Release, end: float
) -> None:
    level, mean = stepped(room, start, release, end)
    assert room_air.level_at(room, start, release, end) == pytest.approx(level, rel=1e-9)
    assert room_air.mean_over(room, start, release, end) == pytest.approx(mean, rel=1e-6)


@given(volumes, flows, flows, factors, levels, releases, hours)
def test_more_air_never_raises_a_level(
    volume: float, one: float, other: float, factor: float, start: float, release: Release, end: float
) -> None:
    less, more = Room(volume, min(one, other), factor), Room(volume, max(one, other), factor)
    low = room_air.level_at(more, start, release, end)
    assert low <= room_air.level_at(less, start, release, end) * (1 + 1e-9) + 1e-9
    tops = room_air.peak(less, start, release), room_air.peak(more, start, release)
    if tops[0] is not None:
        assert tops[1] is not None and tops[1].level <= tops[0].level * (1 + 1e-9) + 1e-9


@given(volumes, volumes, flows, factors, releases, hours)
def test_a_bigger_room_never_raises_the_peak(
    one: float, other: float, flow: float, factor: float, release: Release, end: float
) -> None:
    small, big = Room(min(one, other), flow, factor), Room(max(one, other), flow, factor)
    tops = room_air.peak(small, 0.0, release), room_air.peak(big, 0.0, release)
    assert (tops[0] is None) == (tops[1] is None)
    if tops[0] and tops[1]:
        assert tops[1].level <= tops[0].level * (1 + 1e-9) + 1e-9


@given(rooms, levels, releases, hours)
def test_no_level_is_below_zero_or_above_the_peak(
    room: Room, start: float, release: Release, end: float
) -> None:
    level = room_air.level_at(room, start, release, end)
    assert level >= 0
    top = room_air.peak(room, start, release)
    assert top is None or level <= top.level * (1 + 1e-9) + 1e-9
    mean = room_air.mean_over(room, start, release, end)
    assert mean >= 0 and (top is None or mean <= top.level * (1 + 1e-9) + 1e-9)


@given(rooms, levels, hours)
def test_without_release_it_only_falls(room: Room, start: float, end: float) -> None:
    assert 0 <= room_air.level(room, start, 0.0, end) <= start


@given(st.builds(Room, volumes, st.floats(1, 50_000), factors), levels, rates)
def test_the_steady_level_is_where_the_series_ends(room: Room, start: float, rate: float) -> None:
    steady = room_air.steady_level(room, rate)
    assert steady is not None
    long = 60 / room.turnovers
    assert room_air.level(room, start, rate, long) == pytest.approx(steady, rel=1e-9, abs=1e-9)


@given(st.builds(Room, volumes, st.floats(1, 50_000), factors), st.floats(1, 1e5), st.floats(0.01, 0.99))
def test_purging_ends_at_its_target(room: Room, start: float, part: float) -> None:
    needed = room_air.purge_hours(room, start, start * part)
    assert needed is not None
    assert room_air.level(room, start, 0.0, needed) == pytest.approx(start * part, rel=1e-9)


@given(rooms, st.floats(1, 1e6), st.floats(0.01, 0.98))
def test_rising_takes_as_long_as_it_says(room: Room, rate: float, part: float) -> None:
    steady = room_air.steady_level(room, rate)
    target = 100.0 if steady is None else steady * part
    assume(target > 0)
    needed = room_air.rise_hours(room, 0.0, rate, target)
    assert needed is not None
    assert room_air.level(room, 0.0, rate, needed) == pytest.approx(target, rel=1e-6)


def test_what_never_comes_is_not_a_number() -> None:
    still = Room(50, 0)
    assert room_air.steady_level(still, 1.0) is None
    assert room_air.purge_hours(still, 100, 25) is None
    assert room_air.peak(still, 0.0, Release(1.0, None)) is None
    assert room_air.rise_hours(Room(50, 100, 1), 0.0, 1.0, 0.01) is None
    assert room_air.rise_hours(still, 0.0, 0.0, 5.0) is None
    assert room_air.purge_hours(still, 10, 25) == 0.0
    assert room_air.steady_level(Room(1, 1e-312, 1), 1.0) is None


@pytest.mark.parametrize("factor", [0.999, 0.2, 0.0, -3.0, math.inf, math.nan])
def test_a_factor_below_one_is_the_other_convention(factor: float) -> None:
    with pytest.raises(Invalid, match="give 1 over that"):
        Room(50, 100, factor)


@pytest.mark.parametrize(
    ("volume", "flow"), [(0, 1), (-1, 1), (math.nan, 1), (math.inf, 1), (5, -1), (5, math.nan)]
)
def test_no_such_room(volume: float, flow: float) -> None:
    with pytest.raises(Invalid, match="volume above zero"):
        Room(volume, flow)


def test_the_target_is_above_zero() -> None:
    with pytest.raises(Invalid, match="above zero"):
        room_air.purge_hours(Room(50, 100), 100, 0)


@given(rooms, levels, rates, hours)
def test_the_average_is_of_the_levels(room: Room, start: float, rate: float, end: float) -> None:
    """By 500 trapezoids where nothing changes too fast for them."""
    assume(room.turnovers * end < 10)
    points = [room_air.level(room, start, rate, end * n / 500) for n in range(501)]
    mean = (sum(points) - (points[0] + points[-1]) / 2) / 500
    assert room_air.mean_level(room, start, rate, end) == pytest.approx(mean, rel=1e-4, abs=1e-6)
