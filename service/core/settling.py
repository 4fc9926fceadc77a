"""How fast a pigment falls in its carrier, and when to stir again: an estimate by Stokes.

Doors: actions/judge_film.py, web/api/calc_settling.py.

Stokes holds for single smooth balls falling slowly in plenty of liquid. Real grains are flat, clump and
hinder each other, so the true figure may lie well off in both directions. The formula is from memory
(textbook).
"""

from __future__ import annotations

from typing import Final

from service.core.film_ranges import Span

GRAVITY_M_S2: Final = 9.80665
SLOW_ENOUGH: Final = 1.0
"""The highest Reynolds number at which a figure by Stokes is given as known."""
FALL_MM: Final = 10.0
"""A house choice: stir again before the upper ten millimetres are clear."""
ESTIMATE: Final = (
    "An estimate by Stokes for round grains in a still liquid. Real grains clump and hinder each other: "
    "look at the can, and stir before each dip."
)


def fall_mm_per_h(grain_um: Span, grain_kg_m3: Span, liquid_kg_m3: Span, viscosity_mpa_s: Span) -> Span:
    """Millimetres an hour, slowest and fastest; below nothing where the grain is lighter and rises.

    >>> [round(end, 1) for end in fall_mm_per_h((3, 3), (3200, 3200), (780, 780), (1.0, 1.0))]
    [42.7, 42.7]
    """
    heavier = (grain_kg_m3[0] - liquid_kg_m3[1], grain_kg_m3[1] - liquid_kg_m3[0])
    ends = [
        GRAVITY_M_S2 * (grain * 1e-6) ** 2 * more / (18 * thick * 1e-3) * 3.6e6
        for grain in grain_um
        for more in heavier
        for thick in viscosity_mpa_s
    ]
    return min(ends), max(ends)


def reynolds(grain_um: Span, liquid_kg_m3: Span, viscosity_mpa_s: Span, mm_per_h: Span) -> float:
    """The Reynolds number of the fastest grain, no unit; Stokes holds well below 1 (textbook, from memory).

    >>> round(reynolds((3, 3), (780, 780), (1.0, 1.0), (42.7, 42.7)), 6)
    2.8e-05
    """
    fastest = max(abs(mm_per_h[0]), abs(mm_per_h[1])) / 3.6e6
    return liquid_kg_m3[1] * fastest * grain_um[1] * 1e-6 / (viscosity_mpa_s[0] * 1e-3)


def stir_again_min(mm_per_h: Span, fall_mm: float = FALL_MM) -> Span | None:
    """Minutes until the upper ``fall_mm`` are clear, soonest and latest; ``None`` where nothing sinks.

    The latest end is endless where the slowest grain does not sink. The soonest counts.

    >>> stir_again_min((10, 60), 10)
    (10.0, 60.0)
    """
    if mm_per_h[1] <= 0:
        return None
    return fall_mm / mm_per_h[1] * 60, fall_mm / mm_per_h[0] * 60 if mm_per_h[0] > 0 else float("inf")
