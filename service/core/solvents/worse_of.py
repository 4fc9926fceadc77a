"""Of several readings of a mix the worse figure of each kind. What one of them cannot tell stays not known.

Doors: core/solvents/room_judgement.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import reduce
from typing import Final

from service.core.solvents.room_question import Figures, Row

_LOWER_IS_WORSE: Final = frozenset({"lower_limit"})
_NUMBERS: Final = (
    "vapour_l_per_l", "lower_limit", "vapour_m3_h", "known_percent_lel", "mean_mg_m3", "mean_over_min",
    "ppm_if_no_air", "steady_ppm", "air_for_quarter_lel", "air_for_limits", "air_needed", "air_per_litre",
    "purge_min",
)  # fmt: skip


def worse_of(figures: Sequence[Figures]) -> Figures:
    """The worse of one or more sets of figures, number by number; the first one's basis stands."""
    return reduce(_worse, figures)


def _worse(one: Figures, other: Figures) -> Figures:
    numbers = {
        name: _pick(getattr(one, name), getattr(other, name), min if name in _LOWER_IS_WORSE else max)
        for name in _NUMBERS
    }
    return Figures(
        basis=one.basis,
        series=tuple(_worse_row(a, b) for a, b in zip(one.series, other.series, strict=True))
        if one.series and other.series
        else (),
        peak=_worse_row(one.peak, other.peak) if one.peak and other.peak else None,
        rises_for_good=one.rises_for_good or other.rises_for_good,
        **numbers,
    )


def _worse_row(one: Row, other: Row) -> Row:
    ahead = one if (one.ppm or 0.0) >= (other.ppm or 0.0) else other
    # A share of known limits is a lower bound: the higher of two holds even where one reading knows none.
    told = [row.exposure_index for row in (one, other) if row.exposure_index is not None]
    return Row(
        ahead.min,
        _pick(one.ppm, other.ppm, max),
        _pick(one.mg_m3, other.mg_m3, max),
        _pick(one.percent_lel, other.percent_lel, max),
        max(told, default=None),
        one.index_is_at_least or other.index_is_at_least or len(told) == 1,
    )


def _pick(one: float | None, other: float | None, worse: Callable[[Iterable[float]], float]) -> float | None:
    return None if one is None or other is None else worse((one, other))
