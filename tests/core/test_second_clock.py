"""The second clock: published figures, never milder for more openings, more air, warmth or less knowledge."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.containers import EventKind
from service.core.headspace import faster_when_warm, oxygen_g
from service.core.ledger import MovementKind, MovementLine
from service.core.lid_lifts import LidAct, lid_lifts
from service.core.material_facts import MaterialFacts
from service.core.materials import MaterialKind, SelfHeating, Unknown
from service.core.second_clock import (
    NotTold,
    Oxidises,
    head_space_ul,
    judge_clock,
    oxidises,
    reckon,
    smaller_jar,
)

AT = datetime(2024, 2, 29, 9, 0, tzinfo=UTC)
LITRES = st.floats(0, 1000, allow_nan=False)
SPANS = st.tuples(LITRES, LITRES).map(lambda pair: (min(pair), max(pair)))
Head = tuple[float, float] | None
HEADS = st.lists(st.none() | SPANS, min_size=1, max_size=12)
OIL = (500.0, 520.0)


def test_the_published_figures() -> None:
    """0.2787 g of oxygen in a litre; 1.74 g of oil at 16 %, 2.32 g at 12 %; at most 273 um over 91.6 cm2."""
    assert oxygen_g(1.0) == pytest.approx(0.2787, abs=5e-5)
    one = reckon([(1.0, 1.0)], surface_cm2=91.6)
    assert one.oil_g == pytest.approx((1.742, 2.322), abs=1e-3)
    assert one.skin_um is not None and one.skin_um[1] == pytest.approx(273, abs=1)
    # A can of a litre: a tenth of air and seven tenths.
    full, low = reckon([(0.1, 0.1)]), reckon([(0.7, 0.7)])
    assert full.oil_g is not None and full.oil_g[1] == pytest.approx(0.232, abs=1e-3)
    assert low.oil_g is not None and low.oil_g[1] == pytest.approx(1.62, abs=0.01)
    # Half an empty US quart.
    half = reckon([(0.473, 0.473)])
    assert half.oil_g is not None and half.oil_g[0] == pytest.approx(0.82, abs=0.01)


@given(HEADS, SPANS)
def test_one_more_opening_never_spends_less(heads: list[Head], more: tuple[float, float]) -> None:
    before, after = reckon(heads, oil_now_g=OIL), reckon([*heads, more], oil_now_g=OIL)
    assert after.known_oil_g[1] >= before.known_oil_g[1] and after.known_oil_g[0] >= before.known_oil_g[0]
    assert after.much or not before.much
    if before.share is not None and before.oil_g is not None:
        assert after.share is not None and after.share >= before.share
        assert after.share_left is not None and before.share_left is not None
        assert after.share_left <= before.share_left


@given(HEADS, st.integers(0, 11), st.floats(0, 50))
def test_more_head_space_never_spends_less(heads: list[Head], at: int, more: float) -> None:
    at %= len(heads)
    head = heads[at]
    if head is None:
        return
    wider = [*heads[:at], (head[0], head[1] + more), *heads[at + 1 :]]
    before, after = reckon(heads, oil_now_g=OIL), reckon(wider, oil_now_g=OIL)
    assert after.known_oil_g[1] >= before.known_oil_g[1]
    assert (before.share is None) == (after.share is None)
    if before.share is not None and after.share is not None:
        assert after.share[1] >= before.share[1]


@given(HEADS, st.integers(0, 11))
def test_what_is_not_known_is_never_nothing(heads: list[Head], at: int) -> None:
    less = [*heads]
    less[at % len(heads)] = None
    clock = reckon(less, oil_now_g=OIL)
    assert clock.oxygen_g is None and clock.oil_g is None and clock.share is None and clock.share_left is None
    assert not judge_clock(clock, NotTold(), Unknown.NO).complete


@given(st.floats(-40, 60), st.floats(0, 40))
def test_warmer_is_never_slower(celsius: float, more: float) -> None:
    cool, warm = faster_when_warm(celsius), faster_when_warm(celsius + more)
    assert warm[0] >= cool[0] >= 1 and warm[1] >= cool[1] >= 1


@given(st.integers(1, 10**9), st.integers(0, 10**9), st.integers(0, 10**9))
def test_head_space_is_what_it_holds_less_what_is_in_it(holds: int, low: int, high: int) -> None:
    left = (min(low, high), max(low, high))
    head = head_space_ul((holds, holds), left)
    assert head_space_ul(None, left) is None and head_space_ul((holds, holds), None) is None
    if left[0] > holds:
        assert head is None, "more in it than it holds: the book is wrong, so nothing is known"
        return
    assert head is not None and 0 <= head[0] <= head[1] <= holds
    emptier = head_space_ul((holds, holds), (max(0, left[0] - 5), left[1]))
    assert emptier is not None and emptier[1] >= head[1]


def said(lines: list[tuple[int, MovementKind | EventKind, int | None]]) -> list[LidAct]:
    acts = []
    for number, (posting, act, change) in enumerate(lines, 1):
        line = MovementLine(number, act, change) if isinstance(act, MovementKind) else None
        acts.append(LidAct(posting, act, AT, line))
    return acts


def test_one_act_with_the_lid_off_is_one_opening() -> None:
    book = said(
        [
            (1, MovementKind.RECEIVE, 1000), (2, EventKind.CHECKED, None), (3, EventKind.OPENED, None),
            (3, EventKind.CHECKED, None), (3, MovementKind.DRAW, -200), (4, MovementKind.DRAW, -100),
            (5, MovementKind.LOSS, -10), (6, EventKind.CHECKED, None), (7, MovementKind.RETURN, 50),
            (8, EventKind.MOVED, None),
        ]
    )  # fmt: skip
    told = lid_lifts(book)
    assert [(lift.act, lift.left) for lift in told.each] == [
        (MovementKind.DRAW, 800), (MovementKind.DRAW, 700), (EventKind.CHECKED, 690),
        (MovementKind.RETURN, 740),
    ]  # fmt: skip
    assert not told.came_open and not told.poured_in and not told.estimated


def test_what_was_taken_back_did_not_happen() -> None:
    took = said([(1, MovementKind.RECEIVE, 1000), (2, MovementKind.DRAW, -900), (4, MovementKind.DRAW, -100)])
    undo = LidAct(3, MovementKind.REVERSAL, AT, MovementLine(9, MovementKind.REVERSAL, 900, reverses=2))
    assert [lift.left for lift in lid_lifts([*took, undo]).each] == [900]


def test_what_came_open_or_was_poured_in_has_a_past() -> None:
    open_tin = lid_lifts(said([(1, MovementKind.RECEIVE, 500), (1, EventKind.OPENED, None)]))
    assert open_tin.came_open and [lift.left for lift in open_tin.each] == [500]
    jar = lid_lifts(said([(1, MovementKind.DECANT_IN, 300)]))
    assert jar.poured_in and len(jar.each) == 1
    dark = lid_lifts(said([(1, MovementKind.RECEIVE, None), (2, MovementKind.DRAW, -5)]))
    assert [lift.left for lift in dark.each] == [None]


@pytest.mark.parametrize(
    ("facts", "inherited", "answer"),
    [
        (MaterialFacts("oil", MaterialKind.BINDER, binder="linseed oil"), None, Oxidises.YES),
        (MaterialFacts("tube", MaterialKind.COLOUR_IN_OIL), None, Oxidises.YES),
        (MaterialFacts("umber", MaterialKind.DRY_PIGMENT), None, Oxidises.NO),
        (MaterialFacts("spirit", MaterialKind.SOLVENT), SelfHeating.NOT_KNOWN, Oxidises.NOT_KNOWN),
        (MaterialFacts("glue", MaterialKind.GLUE_OR_SIZE), None, Oxidises.NOT_KNOWN),
        (MaterialFacts("glue", MaterialKind.GLUE_OR_SIZE, self_heating=SelfHeating.NO), None,
         Oxidises.NOT_KNOWN),
        (MaterialFacts("glue", MaterialKind.GLUE_OR_SIZE, self_heating=SelfHeating.NO,
                       not_self_heating_because="no oil in it"), None, Oxidises.NO),
        (MaterialFacts("glue", MaterialKind.GLUE_OR_SIZE, self_heating=SelfHeating.NO,
                       not_self_heating_because="no oil in it"), SelfHeating.YES, Oxidises.YES),
        (MaterialFacts("wax oil", MaterialKind.READY_MADE_FINISH, oil_share_percent=Decimal(30),
                       self_heating=SelfHeating.NO, not_self_heating_because="the maker says so"), None,
         Oxidises.YES),
    ],
)  # fmt: skip
def test_which_take_up_oxygen(facts: MaterialFacts, inherited: SelfHeating | None, answer: Oxidises) -> None:
    assert oxidises(facts, inherited) is answer


def test_each_gap_is_said() -> None:
    clock = reckon([None, (0.1, 0.2)], oil_now_g=None)
    lacks = NotTold(Oxidises.NOT_KNOWN, capacity=True, oil_share=True, came_open=True, poured_in=True)
    verdict = judge_clock(clock, lacks, Unknown.NOT_KNOWN)
    assert verdict.codes == {
        "oil-not-known", "capacity-not-known", "oil-share-not-known", "came-open", "poured-in",
        "drier-not-known", "air-estimate",
    }  # fmt: skip
    assert "openings-not-known" in judge_clock(reckon([]), NotTold(), Unknown.NO).codes
    assert "air-much" in judge_clock(reckon([(30.0, 30.0)], oil_now_g=OIL), NotTold(), Unknown.NO).codes


def test_a_smaller_jar_is_told_where_it_saves_a_fifth() -> None:
    jar = smaller_jar(1_000_000, (180_000, 210_000))
    assert jar is not None and (jar.ml, jar.air_l) == (250, 0.75)
    assert jar.oxygen_g == pytest.approx(0.209, abs=1e-3) and jar.oil_g == pytest.approx(1.74, abs=1e-2)
    brim = smaller_jar(1_000_000, (240_000, 250_000))
    assert brim is not None and brim.ml == 375, "a jar is not filled to the brim"
    assert smaller_jar(1_000_000, (900_000, 900_000)) is None
    assert smaller_jar(None, (1, 1)) is None and smaller_jar(1_000_000, None) is None
    assert smaller_jar(1_000_000, (0, 0)) is None
