"""Closed-cup flash point of a liquid mixture, from the flash points of its parts and how they mix.

Doors: web/api/calc_flash_point.py, actions/judge_air.py.

Criterion (Liaw's form of Le Chatelier with modified Raoult), solved for T:
    sum over what burns of  x_i gamma_i(x, T) P_i(T) / P_i(flash point of i)  =  1
Ideal mixing errs to the unsafe side by up to 30 C for alcohols in thinner, so it never decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from service.core.solvents.activity import Gammas, Variant, coefficients, ideal, missing_for
from service.core.solvents.properties import Component
from service.core.solvents.vapour_pressure import ZERO_C_K, Curve

LOWEST_K: Final = 180.0
HIGHEST_K: Final = 700.0
CLOSE_K: Final = 1e-7
_MOST_STEPS: Final = 60


@dataclass(frozen=True)
class VariantFlash:
    """The flash point by one variant; ``celsius`` None with the reason ``why_not``."""

    variant: str
    celsius: float | None
    gammas: tuple[float, ...] = ()
    why_not: str = ""


@dataclass(frozen=True)
class FlashOfMix:
    """All variants of one reading of a mix, the decisive one, and ideal mixing beside them."""

    components: tuple[Component, ...]
    fractions: tuple[float, ...]
    variants: tuple[VariantFlash, ...]
    ideal: VariantFlash

    @property
    def decisive(self) -> VariantFlash | None:
        """The variant with the lowest flash point; ``None`` when none could be worked out."""
        done = [one for one in self.variants if one.celsius is not None]
        return min(done, key=lambda one: one.celsius if one.celsius is not None else 0.0, default=None)


def flash_of_mix(components: Sequence[Component], moles: Sequence[float]) -> FlashOfMix:
    """The flash point in C of a homogeneous liquid by both variants.

    Args:
        components: volatile ones, and water. Each that burns has a flash point and a curve, and so does at
            least one; what stays in the film is left out beforehand.
        moles: of each, in any unit; those of which there is none are left out.

    >>> from service.core.solvents.flash_point import flash_of_mix
    >>> # octane and ethanol half and half were measured at 4.7 C; their own flash points are 14.5 and 13.0.
    """
    present = [(one, n) for one, n in zip(components, moles, strict=True) if n > 0]
    whole = sum(n for _, n in present)
    parts = tuple(one for one, _ in present)
    fractions = tuple(n / whole for _, n in present)
    found: list[VariantFlash] = []
    for variant in Variant:
        why = missing_for(parts, variant)
        if why:
            found.append(VariantFlash(variant.value, None, why_not=why))
        else:
            found.append(_by(variant.value, parts, fractions, coefficients(parts, fractions, variant)))
    return FlashOfMix(parts, fractions, tuple(found), _by("ideal", parts, fractions, ideal(parts)))


def solve_flash(
    anchors: Sequence[tuple[float, Callable[[float], float], float] | None], gammas: Gammas, start_k: float
) -> float | None:
    """The temperature in K, from 180 to 700, at which the sum of the criterion is 1; ``None`` where none is.

    Args:
        anchors: per component mole fraction, ln(pressure) as a function of K, and ln(pressure) at its own
            flash point; ``None`` for what does not burn (water).
        start_k: a first guess.

    The logarithm of the sum is nearly a straight line over 1/T, so a secant on it ends in a few steps; a
    bracket takes over where it leaves the range.
    """

    def height(kelvin: float) -> float:
        factors = gammas(kelvin)
        total = 0.0
        for one, gamma in zip(anchors, factors, strict=True):
            if one is not None:
                total += one[0] * gamma * math.exp(min(one[1](kelvin) - one[2], 300.0))
        return math.log(total) if total > 0 else -1000.0

    old, here = start_k, min(max(start_k - 12.0, LOWEST_K), HIGHEST_K - 1)
    if old == here:
        here += 1.0
    old_height, height_here = height(old), height(here)
    for _ in range(_MOST_STEPS):
        slope = (height_here - old_height) / (1 / here - 1 / old)
        inverse = 1 / here - height_here / slope if slope else 0.0
        if not 1 / HIGHEST_K <= inverse <= 1 / LOWEST_K:
            return _by_bracket(height)
        new = 1 / inverse
        if abs(new - here) < CLOSE_K:
            return new
        old, old_height, here = here, height_here, new
        height_here = height(here)
    return _by_bracket(height)


def _by_bracket(height: Callable[[float], float]) -> float | None:
    low, high = LOWEST_K, HIGHEST_K
    if height(low) > 0 or height(high) < 0:
        return None
    while high - low > CLOSE_K:
        middle = (low + high) / 2
        if height(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def anchor(component: Component, fraction: float) -> tuple[float, Callable[[float], float], float] | None:
    """A component's term of the criterion; ``None`` for water and whatever has no flash point.

    Raises ValueError for one that burns and has no curve.
    """
    if component.flash_point is None:
        return None
    if component.curve is None:
        raise ValueError(f"{component.name} has no vapour-pressure curve.")
    curve: Curve = component.curve
    return fraction, curve.ln_pa, curve.ln_pa(component.flash_point.value + ZERO_C_K)


def _by(name: str, parts: Sequence[Component], fractions: Sequence[float], gammas: Gammas) -> VariantFlash:
    anchors = [anchor(one, x) for one, x in zip(parts, fractions, strict=True)]
    burning = [one.flash_point.value for one in parts if one.flash_point is not None]
    kelvin = solve_flash(anchors, gammas, min(burning) + ZERO_C_K) if burning else None
    if kelvin is None:
        return VariantFlash(name, None, why_not="no temperature below 427 °C meets the criterion")
    return VariantFlash(name, kelvin - ZERO_C_K, tuple(gammas(kelvin)))
