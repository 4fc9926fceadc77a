"""The lowest and highest a share of a mix can be when its amounts and figures are only known as ranges.

Doors: core/film.py.

A share is a sum over a sum (pigment over pigment and binder, solids over everything). Its ends lie where each
part is at one of its own ends, so the search is exact and stays short however many parts there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isinf
from typing import Final

Span = tuple[float, float]
"""Lowest and highest; equal where the figure is one number."""
_TURNS: Final = 60


@dataclass(frozen=True)
class Share:
    """One part of a mix: its mass in g (high may be endless: nobody wrote how much), and for each way its
    figures may lie what one gram of it brings to the upper and to the lower sum.
    """

    mass: Span
    ways: tuple[tuple[float, float], ...]


def extreme_share(parts: Sequence[Share]) -> Span | None:
    """Lowest and highest of upper sum over lower sum; ``None`` where the lower sum is nothing.

    >>> extreme_share([Share((10, 10), ((1, 1),)), Share((10, 30), ((0, 1),))])
    (0.25, 0.5)
    """
    high = _highest(parts)
    low = _highest([Share(one.mass, tuple((-n, d) for n, d in one.ways)) for one in parts])
    if high is None or low is None:
        return None
    return (min(-low + 0.0, high), high)


def _highest(parts: Sequence[Share]) -> float | None:
    ends = [_own_highest(one) for one in parts if isinf(one.mass[1])]
    bounded = [
        one if not isinf(one.mass[1]) else Share((one.mass[0], one.mass[0]), one.ways) for one in parts
    ]
    found = [end for end in (*ends, _highest_of_bounded(bounded)) if end is not None]
    return max(found, default=None)


def _own_highest(part: Share) -> float | None:
    """Of ever more of one part the share nears the part's own."""
    return max((upper / lower for upper, lower in part.ways if lower > 0), default=None)


def _highest_of_bounded(parts: Sequence[Share]) -> float | None:
    """By the rule of Dinkelbach: a share is raised by what lies above it, until nothing does."""
    upper = sum(one.mass[1] * one.ways[0][0] for one in parts)
    lower = sum(one.mass[1] * one.ways[0][1] for one in parts)
    if lower <= 0:
        return None
    best = upper / lower
    for _ in range(_TURNS):
        upper = lower = 0.0
        for one in parts:
            n, d = max(one.ways, key=lambda way: way[0] - best * way[1])
            mass = one.mass[1] if n > best * d else one.mass[0]
            upper, lower = upper + mass * n, lower + mass * d
        if lower <= 0 or upper / lower <= best * (1 + 1e-15 if best > 0 else 1 - 1e-15):
            break
        best = upper / lower
    return best
