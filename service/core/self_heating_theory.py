"""Arithmetic of self-heating as books print it, for teaching and to check us by.

No rule of this program reads it, and nothing here is a size or a time within which a heap is harmless.

Doors: web/api/calc_self_heating.py.

Frank-Kamenetskii: delta = (E / R T²) (r² rho Q A / k) exp(-E / R T), run away above a critical delta of the
shape. Fed with figures of bulk goods it says metres where rags have burned at the size of a hand. Critical
deltas of slab, cylinder and sphere were read; that of the cube is from memory.
"""

from __future__ import annotations

import math
from enum import StrEnum
from typing import Final

from service.core.headspace import GAS_J_MOL_K, oxygen_g

ZERO_C: Final = 273.15
KJ_PER_G_OXYGEN: Final = 13.1
"""Of full combustion (from memory): more than drying gives, so the heat is the most it can be."""
OIL_J_G_K, COTTON_J_G_K = 2.0, 1.3
_COLDEST_K, _HOTTEST_K = 150.0, 1500.0


class Shape(StrEnum):
    """A heap: slab by half its thickness, cylinder and sphere by radius, cube by half its side."""

    SLAB = "slab"
    CYLINDER = "cylinder"
    SPHERE = "sphere"
    CUBE = "cube"


CRITICAL: Final = {Shape.SLAB: 0.878, Shape.CYLINDER: 2.0, Shape.SPHERE: 3.32, Shape.CUBE: 2.52}


def activation_kj_mol(r1_m: float, t1_c: float, r2_m: float, t2_c: float) -> float:
    """The activation energy behind two critical sizes of one shape, of one stuff, in kJ/mol.

    >>> round(activation_kj_mol(0.05, 140, 1.5, 50), 2)
    89.96
    """
    one, two = t1_c + ZERO_C, t2_c + ZERO_C
    return 2 * GAS_J_MOL_K * math.log((r2_m / r1_m) * (one / two)) / (1 / two - 1 / one) / 1000


def critical_at_c(e_kj_mol: float, r1_m: float, t1_c: float, r2_m: float) -> float | None:
    """At how many °C a heap of ``r2_m`` is critical if one of ``r1_m`` is at ``t1_c``; None: none there.

    >>> round(critical_at_c(89.9614, 0.38315, 50, 0.05), 1)
    98.3
    """
    half = e_kj_mol * 1000 / (2 * GAS_J_MOL_K)
    if half <= _COLDEST_K:
        return None
    one = t1_c + ZERO_C

    def size(kelvin: float) -> float:
        return math.log(r1_m * kelvin / one) + half * (1 / kelvin - 1 / one)

    wanted = math.log(r2_m)
    low, high = _COLDEST_K, min(_HOTTEST_K, half)
    if not size(high) <= wanted <= size(low):
        return None
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if size(middle) > wanted else (low, middle)
    return (low + high) / 2 - ZERO_C


def same_danger(shape: Shape, size_m: float) -> dict[Shape, float]:
    """The sizes of the other shapes that are critical at the same temperature, in m.

    >>> round(same_danger(Shape.CUBE, 0.05)[Shape.SLAB], 5)
    0.02951
    """
    return {other: size_m * math.sqrt(CRITICAL[other] / CRITICAL[shape]) for other in Shape}


def runs_away(shape: Shape, delta: float) -> bool:
    """Whether a delta is above the critical one of its shape; not above it is no sign that it will not."""
    return delta > CRITICAL[shape]


def activation_of_waits(hours1: float, t1_c: float, hours2: float, t2_c: float) -> tuple[float, float]:
    """Activation energy (kJ/mol), and times as fast for each 10 °C between, behind two times till it begins.

    >>> e, q10 = activation_of_waits(9.7, 90, 229 * 24, 25)
    >>> round(e, 1), round(q10, 2)
    (87.8, 2.65)
    """
    ratio = math.log(hours2 / hours1)
    energy = GAS_J_MOL_K * ratio / (1 / (t2_c + ZERO_C) - 1 / (t1_c + ZERO_C)) / 1000
    return energy, math.exp(ratio * 10 / (t1_c - t2_c))


def faster_by_10_c(e_kj_mol: float, celsius: float) -> float:
    """How many times as fast 10 °C warmer, by Arrhenius.

    >>> round(faster_by_10_c(51.216, 20), 3)
    2.0
    """
    kelvin = celsius + ZERO_C
    return math.exp(e_kj_mol * 1000 / GAS_J_MOL_K * (1 / kelvin - 1 / (kelvin + 10)))


def heat_of_air(head_space_l: float, oil_g: float, cotton_g: float) -> tuple[float, float]:
    """The most heat the oxygen of shut-in air at 20 °C can give (kJ), and by how much it warms the rest (°C).

    >>> [round(one, 2) for one in heat_of_air(3, 200, 200)]
    [10.95, 16.59]
    """
    heat = oxygen_g(head_space_l) * KJ_PER_G_OXYGEN
    return heat, heat * 1000 / (oil_g * OIL_J_G_K + cotton_g * COTTON_J_G_K)


def basket_class(
    small_140: bool | None, large_140: bool | None, large_120: bool | None, large_100: bool | None,
    pack_l: float | None,
) -> int | None:  # fmt: skip
    """The category of the UN N.4 basket test (CLP 2.11): 1, 2, 0 not classified; None where one is missing.

    Args:
        small_140: the 25 mm cube at 140 °C; large_*: the 100 mm cube.
        pack_l: litres of a pack; None counts as more than 3 m³.

    >>> basket_class(False, True, None, True, 1), basket_class(True, None, None, None, None)
    (2, 1)
    """
    if small_140:
        return 1
    if small_140 is None:
        return None
    if large_140 is False:
        return 0
    if large_140 is None:
        return None
    if pack_l is None or pack_l > 3000 or large_100:
        return 2
    asked = large_120 if pack_l > 450 else large_100
    if large_120 and pack_l > 450:
        return 2
    return None if asked is None else 0


def drying_class(iodine_value: float, drying_above: float, not_below: float) -> str:
    """Drying, semi-drying or not drying, by one book's cuts; the books differ, so nothing here goes by it.

    >>> drying_class(185, 150, 125), drying_class(140, 150, 125)
    ('drying', 'semi-drying')
    """
    if iodine_value > drying_above:
        return "drying"
    return "semi-drying" if iodine_value >= not_below else "non-drying"
