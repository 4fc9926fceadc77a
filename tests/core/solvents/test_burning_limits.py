"""Lower limits of mixes and units of vapour: what must always hold, and the same by another route."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.findings import Invalid
from service.core.solvents.burning_limits import (
    atoms_of,
    estimated_limits,
    limit_at,
    limit_of_mix,
    share_of_limit,
)
from service.core.solvents.vapour import (
    litres_per_litre_as_cubic_feet_per_gallon,
    mg_per_m3,
    ppm_of,
    saturation_ppm,
    vapour_cubic_feet_per_gallon,
    vapour_hazard_ratio,
    vapour_litres_per_litre,
)

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
limits = st.floats(0.3, 15)
shares = st.floats(1e-6, 1)


@given(st.lists(shares, min_size=1, max_size=8), limits)
def test_of_liquids_that_are_alike_the_limit_is_theirs(parts: list[float], limit: float) -> None:
    assert limit_of_mix(parts, [limit] * len(parts)) == pytest.approx(limit, rel=1e-12)


@given(limits, limits)
def test_a_trace_changes_nothing(one: float, other: float) -> None:
    assert limit_of_mix([1 - 1e-12, 1e-12], [one, other]) == pytest.approx(one, rel=1e-9)
    assert limit_of_mix([1e-12, 1 - 1e-12], [one, other]) == pytest.approx(other, rel=1e-9)
    assert limit_of_mix([1, 0], [one, other]) == pytest.approx(one, rel=1e-15)


@given(st.lists(st.tuples(shares, limits), min_size=1, max_size=8))
def test_a_mix_lies_between_its_parts_and_burns_when_the_shares_reach_one(
    parts: list[tuple[float, float]],
) -> None:
    amounts, low = [part for part, _ in parts], [limit for _, limit in parts]
    mixed = limit_of_mix(amounts, low)
    assert min(low) * (1 - 1e-12) <= mixed <= max(low) * (1 + 1e-12)
    at_limit = [mixed * part / sum(amounts) for part in amounts]
    assert share_of_limit(at_limit, low) == pytest.approx(1, rel=1e-9)


@given(limits, st.floats(-60, 300), st.floats(-60, 300), st.one_of(st.none(), st.floats(100, 2000)))
def test_warmth_never_raises_a_limit(low: float, one: float, other: float, heat: float | None) -> None:
    cold, warm = sorted((one, other))
    assert 0 < limit_at(low, warm, heat) <= limit_at(low, cold, heat) <= low


def test_by_degrees() -> None:
    assert limit_at(1.0, 121.0) == pytest.approx(1 - 0.000721 * 96)
    assert limit_at(1.0, 121.1) == 0.7
    assert limit_at(1.0, 2000.0, 300.0) == 0.05, "never to nothing"


@given(st.floats(1e-3, 1e6), st.floats(10, 500), st.floats(-40, 120))
def test_ppm_to_mg_and_back(ppm: float, molar: float, celsius: float) -> None:
    assert ppm_of(mg_per_m3(ppm, molar, celsius), molar, celsius) == pytest.approx(ppm, rel=1e-12)


@pytest.mark.parametrize(
    ("ppm", "molar", "celsius"), [(100, 92.138, 25), (500, 58.079, 20), (20, 136.234, 35), (1, 144, 0)]
)
def test_by_the_gas_law_in_units(ppm: float, molar: float, celsius: float) -> None:
    """Another route: p M / (R T), with units that must come out. 24.45 l/mol is rounded by 0.06 %."""
    kelvin = UNITS.Quantity(celsius + 273.15, "kelvin")
    moles = UNITS.Quantity(1, "atm") / (UNITS.Quantity(1, "molar_gas_constant") * kelvin)
    there = (moles * UNITS.Quantity(molar, "g/mol") * ppm * 1e-6).to("mg/m^3").magnitude
    assert mg_per_m3(ppm, molar, celsius) == pytest.approx(there, rel=1e-3)


def test_vapour_of_a_gallon_in_units() -> None:
    """Another route to Table G-11: a gallon weighed, counted in moles, at 70 F."""
    grams = (UNITS.Quantity(1, "US_liquid_gallon") * UNITS.Quantity(0.8669, "g/ml")).to("g")
    moles = grams / UNITS.Quantity(92.138, "g/mol")
    kelvin = UNITS.Quantity((70 - 32) / 1.8 + 273.15, "kelvin")
    volume = moles * UNITS.Quantity(1, "molar_gas_constant") * kelvin / UNITS.Quantity(1, "atm")
    assert vapour_cubic_feet_per_gallon(0.8669, 92.138) == pytest.approx(
        volume.to("ft^3").magnitude, rel=1e-3
    )
    litres = vapour_litres_per_litre(0.8669, 92.138)
    assert litres_per_litre_as_cubic_feet_per_gallon(litres) == pytest.approx(
        vapour_cubic_feet_per_gallon(0.8669, 92.138), rel=1e-12
    )


def test_the_air_holds_no_more_than_all_of_it() -> None:
    assert saturation_ppm(101.325) == saturation_ppm(500) == 1_000_000
    assert vapour_hazard_ratio(0, 20) == 0


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: limit_of_mix([], []),
        lambda: limit_of_mix([0, 0], [1, 1]),
        lambda: limit_of_mix([-1, 2], [1, 1]),
        lambda: limit_of_mix([1], [0]),
        lambda: limit_of_mix([1], [math.nan]),
        lambda: estimated_limits(1, 0, 2),
        lambda: estimated_limits(0, 2, 0),
        lambda: atoms_of("CH2Cl2"),
        lambda: atoms_of("x" * 500),
        lambda: vapour_litres_per_litre(0, 92),
        lambda: vapour_litres_per_litre(0.8, math.nan),
        lambda: mg_per_m3(1, 92, -273.15),
        lambda: saturation_ppm(-1),
        lambda: vapour_hazard_ratio(1, 0),
    ],
)
def test_what_cannot_be_is_refused(wrong: object) -> None:
    with pytest.raises(Invalid):
        wrong()  # type: ignore[operator]
