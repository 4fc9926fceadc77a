"""Whether a mix may separate into two liquids, as a warning to check, never as a proof that it does not.

Doors: web/api/calc_flash_point.py, actions/judge_air.py.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from service.core.solvents.activity import Variant, coefficients, missing_for
from service.core.solvents.properties import Component

ROOM_K: Final = 298.15
_NEARLY_PURE: Final = 0.98
_NOISE: Final = 1e-9


def may_separate(components: Sequence[Component], fractions: Sequence[float]) -> tuple[Variant, ...]:
    """The variants by which a second liquid would form at 25 °C from these mole fractions.

    Two looks each: whether the mix is unstable where it stands (a negative curvature of its free energy), and
    whether a drop of nearly pure component would be more stable than the mix (the tangent plane). A variant
    without groups or interactions says nothing. Neither variant is a reliable test of mixing: what it finds
    is to be tried in a glass.
    """
    present = [(one, x) for one, x in zip(components, fractions, strict=True) if x > 0]
    parts, xs = [one for one, _ in present], [x for _, x in present]
    if len(parts) < 2:
        return ()
    return tuple(v for v in Variant if not missing_for(parts, v) and _unstable(parts, xs, v))


def _unstable(parts: Sequence[Component], xs: Sequence[float], variant: Variant) -> bool:
    here = _ln_activities(parts, xs, variant)
    if any(_distance(parts, trial, here, variant) < -_NOISE for trial in _trials(xs)):
        return True
    return not _is_positive(_curvature(parts, xs, variant))


def _ln_activities(parts: Sequence[Component], xs: Sequence[float], variant: Variant) -> list[float]:
    gammas = coefficients(parts, xs, variant)(ROOM_K)
    return [math.log(max(x * gamma, 1e-300)) for x, gamma in zip(xs, gammas, strict=True)]


def _trials(xs: Sequence[float]) -> list[list[float]]:
    """For each component a drop of 98 % of it, the rest in the proportions of the mix."""
    drops = []
    for n, x in enumerate(xs):
        rest = 1 - x
        if x >= _NEARLY_PURE or rest <= 0:
            continue
        left = 1 - _NEARLY_PURE
        drops.append([_NEARLY_PURE if m == n else other / rest * left for m, other in enumerate(xs)])
    return drops


def _distance(
    parts: Sequence[Component], trial: Sequence[float], here: Sequence[float], variant: Variant
) -> float:
    """Below zero: the drop lies under the tangent plane of the mix (Michelsen 1982)."""
    there = _ln_activities(parts, trial, variant)
    return sum(w * (a - b) for w, a, b in zip(trial, there, here, strict=True))


def _curvature(parts: Sequence[Component], xs: Sequence[float], variant: Variant) -> list[list[float]]:
    """Second differences of the free energy of mixing over RT in all components but the last."""
    count = len(xs) - 1
    base = _slopes(parts, xs, variant)
    rows = []
    for n in range(count):
        step = 1e-5 * min(xs[n], xs[-1])
        moved = [x + step if m == n else x for m, x in enumerate(xs)]
        moved[-1] -= step
        shifted = _slopes(parts, moved, variant)
        rows.append([(b - a) / step for a, b in zip(base, shifted, strict=True)])
    return rows


def _slopes(parts: Sequence[Component], xs: Sequence[float], variant: Variant) -> list[float]:
    logs = _ln_activities(parts, xs, variant)
    return [one - logs[-1] for one in logs[:-1]]


def _is_positive(matrix: list[list[float]]) -> bool:
    """Whether a symmetric matrix is positive definite, by elimination scaled to its diagonal."""
    size = len(matrix)
    if any(matrix[n][n] <= 0 for n in range(size)):
        return False
    scale = [math.sqrt(matrix[n][n]) for n in range(size)]
    work = [[matrix[n][m] / scale[n] / scale[m] for m in range(size)] for n in range(size)]
    for n in range(size):
        if work[n][n] <= 1e-7:
            return False
        for m in range(n + 1, size):
            factor = work[m][n] / work[n][n]
            work[m] = [a - factor * b for a, b in zip(work[m], work[n], strict=True)]
    return True
