"""The criterion of the flash point: its ends, an independent route, what must hold for any mix.

The second route is the original UNIFAC written out here from its published equations (Fredenslund, Jones,
Prausnitz 1975; parameters of CH3, CH2 and OH from memory, Poling 5th ed. tables 8-23 and 8-24), with a plain
bisection: it shares no code and no table with the library.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.solvents.activity import Variant, coefficients, missing_for
from service.core.solvents.flash_point import flash_of_mix, solve_flash
from service.core.solvents.properties import Component, Known
from service.records.solvent_facts import all_solvents, component_of

R = {"CH3": 0.9011, "CH2": 0.6744, "OH": 1.0}
Q = {"CH3": 0.848, "CH2": 0.540, "OH": 1.2}
A = {("CH", "OH"): 986.5, ("OH", "CH"): 156.4}
OCTANE, ETHANOL = {"CH3": 2, "CH2": 6}, {"CH3": 1, "CH2": 1, "OH": 1}


def held(key: str) -> Component:
    found = component_of(key)
    assert found is not None, key
    return found


def with_flash(key: str, celsius: float) -> Component:
    return replace(held(key), flash_point=Known(celsius, "C"))


def by_hand(liquids: list[dict[str, int]], xs: list[float], kelvin: float) -> list[float]:
    """Activity coefficients of the original UNIFAC, straight from the equations."""
    r = [sum(n * R[g] for g, n in one.items()) for one in liquids]
    q = [sum(n * Q[g] for g, n in one.items()) for one in liquids]
    sum_r, sum_q = (sum(x * v for x, v in zip(xs, side, strict=True)) for side in (r, q))
    names = sorted({g for one in liquids for g in one})

    def psi(one: str, other: str) -> float:
        main = tuple("OH" if name == "OH" else "CH" for name in (one, other))
        return math.exp(-A.get((main[0], main[1]), 0.0) / kelvin)

    def ln_groups(mixed: list[float]) -> dict[str, float]:
        counts = {g: sum(x * one.get(g, 0) for x, one in zip(mixed, liquids, strict=True)) for g in names}
        area = sum(counts[g] * Q[g] for g in names)
        theta = {g: counts[g] * Q[g] / area for g in names}
        found = {}
        for k in names:
            first = sum(theta[m] * psi(m, k) for m in names)
            second = sum(theta[m] * psi(k, m) / sum(theta[n] * psi(n, m) for n in names) for m in names)
            found[k] = Q[k] * (1 - math.log(first) - second)
        return found

    whole = ln_groups(xs)
    gammas = []
    for i, one in enumerate(liquids):
        phi, theta_i = r[i] / sum_r, q[i] / sum_q
        ln_c = math.log(phi) + 1 - phi - 5 * q[i] * (math.log(phi / theta_i) + 1 - phi / theta_i)
        pure = ln_groups([1.0 if n == i else 0.0 for n in range(len(liquids))])
        gammas.append(math.exp(ln_c + sum(n * (whole[g] - pure[g]) for g, n in one.items())))
    return gammas


@pytest.mark.parametrize("x", [0.02, 0.2, 0.5, 0.9, 0.99])
def test_an_independent_route_gives_the_same_flash_point(x: float) -> None:
    octane, ethanol = with_flash("octane_n", 14.5), with_flash("ethanol", 13.0)
    low, high = 230.0, 330.0

    def total(kelvin: float) -> float:
        g = by_hand([OCTANE, ETHANOL], [x, 1 - x], kelvin)
        terms = ((x * g[0], octane), ((1 - x) * g[1], ethanol))
        return sum(
            part * one.curve.kpa(kelvin - 273.15) / one.curve.kpa(one.flash_point.value)
            for part, one in terms
            if one.curve and one.flash_point
        )

    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if total(middle) < 1 else (low, middle)
    found = flash_of_mix([octane, ethanol], [x, 1 - x])
    assert found.variants[0].celsius == pytest.approx(low - 273.15, abs=0.02)


@pytest.mark.parametrize("liquid", [one for one in all_solvents() if one.flash_point and one.curve])
def test_a_pure_liquid_has_its_own_flash_point(liquid: Component) -> None:
    found = flash_of_mix([liquid], [3.0])
    done = [one.celsius for one in found.variants if one.celsius is not None]
    assert done == pytest.approx([liquid.flash_point.value] * len(done), abs=1e-4)  # type: ignore[union-attr]
    assert len(done) == 2 - sum(bool(one.why_not) for one in found.variants)


@pytest.mark.parametrize("variant", list(Variant))
def test_from_nothing_to_everything_it_reaches_the_pure_values(variant: Variant) -> None:
    one, other = held("acetone"), held("decane_n")
    place = list(Variant).index(variant)
    for x, pure in ((1 - 1e-9, one), (1e-9, other)):
        found = flash_of_mix([one, other], [x, 1 - x]).variants[place].celsius
        assert found == pytest.approx(pure.flash_point.value, abs=0.01)  # type: ignore[union-attr]


FITTING = [one for one in all_solvents() if one.flash_point and one.curve and one.groups_original]
MIXES = st.lists(st.sampled_from(FITTING), min_size=2, max_size=5, unique_by=lambda one: one.key)
PARTS = st.lists(st.floats(0.001, 1.0), min_size=5, max_size=5)


@given(MIXES, PARTS, st.randoms())
@settings(max_examples=60, deadline=None)
def test_order_and_unit_of_amount_do_not_matter(
    mix: list[Component], parts: list[float], chance: object
) -> None:
    moles = parts[: len(mix)]
    first = flash_of_mix(mix, moles).decisive
    turned = flash_of_mix(mix[::-1], [50 * n for n in moles[::-1]]).decisive
    assert (first is None) == (turned is None)
    if first and turned:
        assert first.celsius == pytest.approx(turned.celsius, abs=1e-4)


@given(MIXES, PARTS)
@settings(max_examples=60, deadline=None)
def test_splitting_a_liquid_in_two_changes_nothing(mix: list[Component], parts: list[float]) -> None:
    moles = parts[: len(mix)]
    whole = flash_of_mix(mix, moles).decisive
    split = flash_of_mix([*mix, mix[0]], [moles[0] / 3, *moles[1:], moles[0] * 2 / 3]).decisive
    assert (whole is None) == (split is None)
    if whole and split:
        assert whole.celsius == pytest.approx(split.celsius, abs=1e-4)


@given(st.floats(200, 600), st.floats(-2e4, -2e3))
@settings(max_examples=50, deadline=None)
def test_any_first_guess_ends_at_the_same_root(start: float, slope: float) -> None:
    root = 310.0
    found = solve_flash([(1.0, lambda k: slope / k, slope / root)], lambda _k: [1.0], start)
    assert found == pytest.approx(root, abs=1e-5)


def test_no_root_is_none() -> None:
    assert solve_flash([(1e-30, lambda k: -1 / k, -1 / 300)], lambda _k: [1.0], 300.0) is None
    assert solve_flash([None], lambda _k: [1.0], 300.0) is None


def test_a_pair_nobody_fitted_is_refused() -> None:
    """The library alone takes such a pair as not interacting."""
    chlorinated, carbonate = held("chlorobenzotrifluoride_p"), held("dimethyl_carbonate")
    why = missing_for([chlorinated, carbonate], Variant.DORTMUND)
    assert "no interaction" in why or "no groups" in why
    assert missing_for([held("dimethyl_carbonate"), held("octane_n")], Variant.ORIGINAL).startswith(
        "no groups"
    )
    with pytest.raises(ValueError, match="without groups"):
        coefficients([carbonate], [1.0], Variant.ORIGINAL)
