"""Lines as made: sums, what was put back, what nobody measured; against the plan."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.as_made import (
    Differs,
    MadeLine,
    Planned,
    PutIn,
    Stuff,
    compare,
    lines_made,
    mass_of_line,
    volume_of_line,
    what_it_makes,
)
from service.core.materials import Basis

MASS, VOLUME, PIECES = Basis.MASS, Basis.VOLUME, Basis.PIECES
STUFF = {
    1: Stuff("umber", None, Decimal("4"), False),
    2: Stuff("oil", Decimal("0.9"), Decimal("0.9"), True),
    3: Stuff("tacks"),
}

one = st.builds(
    PutIn, st.sampled_from([1, 2]), st.none() | st.integers(1, 10**9), st.just(MASS),
    st.none() | st.integers(0, 10**9), st.booleans(),
)  # fmt: skip


@given(st.lists(one, max_size=12))
def test_every_measured_amount_is_in_the_lines_and_the_rest_is_said(additions: list[PutIn]) -> None:
    made = lines_made(additions, [], STUFF)
    assert sum(line.amount for line in made.lines) == sum(a.amount or 0 for a in additions)
    for line in made.lines:
        own = [a for a in additions if a.material_id == line.material_id]
        assert line.unmeasured == any(a.amount is None for a in own)
        if line.unmeasured and line.at_most is not None:
            assert line.at_most >= line.amount and all(a.amount or a.at_most is not None for a in own)
    assert [line.material_id for line in made.lines] == list(dict.fromkeys(a.material_id for a in additions))


@given(st.lists(one, max_size=8), st.integers(0, 10**10))
def test_putting_back_never_leaves_less_than_nothing(additions: list[PutIn], back: int) -> None:
    made = lines_made(additions, [PutIn(1, back, MASS)], STUFF)
    assert all(line.amount >= 0 and (line.at_most or 0) >= 0 for line in made.lines)
    total = sum(a.amount or 0 for a in additions if a.material_id == 1)
    sure = all(a.amount is not None for a in additions if a.material_id == 1)
    if sure and back > total:
        assert "more-back-than-in" in {f.code for f in made.findings}


def test_two_ways_of_counting_one_material_stay_two_lines() -> None:
    made = lines_made([PutIn(2, 5, MASS), PutIn(2, 7, VOLUME)], [], STUFF)
    assert [(line.basis, line.amount) for line in made.lines] == [(MASS, 5), (VOLUME, 7)]


def test_an_unmeasured_one_joins_the_basis_that_is_known() -> None:
    made = lines_made([PutIn(2, None, None, 10), PutIn(2, 7, VOLUME)], [], STUFF)
    assert made.lines == (MadeLine(2, VOLUME, 7, True, 17),)


@pytest.mark.parametrize(
    ("line", "mass", "volume"),
    [
        (MadeLine(1, MASS, 8000), 8000, 2000),
        (MadeLine(1, VOLUME, 8000), None, None),
        (MadeLine(2, VOLUME, 1000), 900, 1000),
        (MadeLine(2, MASS, 900), 900, 1000),
        (MadeLine(2, MASS, 900, True, 1000), None, None),
        (MadeLine(3, PIECES, 4), None, None),
        (MadeLine(2, None, 0, True), None, None),
    ],
)
def test_mass_and_volume_of_a_line(line: MadeLine, mass: int | None, volume: int | None) -> None:
    known = STUFF[line.material_id]
    assert (mass_of_line(line, known), volume_of_line(line, known)) == (mass, volume)


def test_what_it_makes() -> None:
    umber, oil = MadeLine(1, MASS, 8000), MadeLine(2, VOLUME, 1000)
    by_volume = what_it_makes([umber, oil], STUFF)
    assert by_volume is not None and (by_volume.amount, by_volume.basis) == (3000, VOLUME)
    bare = STUFF | {1: Stuff("umber")}
    by_mass = what_it_makes([umber, oil], bare)
    assert by_mass is not None and (by_mass.amount, by_mass.basis) == (8900, MASS)
    told = what_it_makes([umber], STUFF, (5, MASS, "estimated"))
    assert told is not None and told.amount == 5 and "estimated" in told.because
    assert what_it_makes([], STUFF) is None
    assert what_it_makes([umber, MadeLine(2, VOLUME, 5, True, 9)], STUFF) is None
    assert what_it_makes([MadeLine(3, PIECES, 1)], STUFF) is None
    nothing_came = what_it_makes([oil], STUFF, (0, VOLUME, "measured"))
    assert nothing_came is not None and nothing_came.amount == 1000


def planned(low: int | None, high: int | None, basis: Basis | None = MASS, to_suit: bool = False) -> Planned:
    return Planned(1, "umber", low, high, basis, to_suit)


@pytest.mark.parametrize(
    ("plan", "made", "differs", "difference"),
    [
        (planned(100, 100), MadeLine(1, MASS, 100), Differs.AS_PLANNED, 0),
        (planned(90, 110), MadeLine(1, MASS, 110), Differs.AS_PLANNED, 0),
        (planned(90, 110), MadeLine(1, MASS, 111), Differs.MORE, 1),
        (planned(90, 110), MadeLine(1, MASS, 89), Differs.LESS, -1),
        (planned(90, 110), MadeLine(1, MASS, 100, True, 105), Differs.NOT_KNOWN, None),
        (planned(90, 110), MadeLine(1, VOLUME, 100), Differs.NOT_KNOWN, None),
        (planned(None, None), MadeLine(1, MASS, 100), Differs.NOT_KNOWN, None),
        (planned(None, None, None, True), MadeLine(1, MASS, 100), Differs.TO_SUIT, None),
        (planned(None, 50, MASS, True), MadeLine(1, MASS, 60), Differs.MORE, 10),
        (planned(None, 50, MASS, True), MadeLine(1, MASS, 1), Differs.TO_SUIT, None),
        (planned(100, 100), None, Differs.LEFT_OUT, -100),
        (planned(None, None), None, Differs.LEFT_OUT, None),
        (planned(None, 50, MASS, True), None, Differs.TO_SUIT, None),
    ],
)
def test_against_the_plan(
    plan: Planned, made: MadeLine | None, differs: Differs, difference: int | None
) -> None:
    found = compare([plan], [made] if made else [], STUFF)
    assert [(f.differs, f.difference) for f in found] == [(differs, difference)]


def test_two_lines_of_one_material_are_planned_together() -> None:
    plan = [planned(10, 10), planned(20, 30)]
    found = compare(plan, [MadeLine(1, MASS, 40)], STUFF)
    assert len(found) == 1 and found[0].planned == planned(30, 40)
    mixed = compare([planned(10, 10), planned(5, 5, VOLUME)], [MadeLine(1, MASS, 10)], STUFF)
    assert mixed[0].differs is Differs.NOT_KNOWN
    two_ways = compare([planned(10, 10)], [MadeLine(1, MASS, 10), MadeLine(1, VOLUME, 5)], STUFF)
    assert [one.differs for one in two_ways] == [Differs.NOT_KNOWN]
