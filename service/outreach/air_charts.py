"""The two charts of the page Air, as SVG without script: flash point against added solvent, vapour over time.

Drawn by a plotting library that is loaded when a chart is first wanted. Shapes and words tell what a colour
tells, and the page has the same figures as a table beneath.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any, Final

INK: Final = "#2b2118"
LINE: Final = "#8a3b12"
GRID: Final = "#d8cfc2"
_BANDS: Final = ("#f3c9b5", "#f8dfc4", "#fbf0d9", "#ffffff")
_FLASH_EDGES: Final = (-60.0, 23.0, 60.0, 93.0, 140.0)
_FLASH_WORDS: Final = (
    "category 1 or 2, below 23 °C",
    "category 3, to 60 °C",
    "category 4, to 93 °C",
    "above",
)
_ONE_AT_A_TIME: Final = Lock()
"""The library's settings are one for the whole process."""


@dataclass(frozen=True)
class Level:
    """A line across the chart that a level must stay below."""

    ppm: float
    words: str
    dashes: str = "--"


def flash_chart(
    added: str, points: Sequence[tuple[float, float]], ideal: Sequence[tuple[float, float]]
) -> str:
    """Flash point in °C over per cent by mass of an added solvent, with the bands of the categories.

    Args:
        added: the solvent's name.
        points: (per cent, °C) in order; at least two.
        ideal: the same by ideal mixing, shown thin beside it.
    """

    def draw(axes: Any) -> None:
        values = [celsius for _, celsius in (*points, *ideal)]
        low, high = min(values) - 6, max([*values, 30.0]) + 6
        for n, words in enumerate(_FLASH_WORDS):
            bottom, top = max(_FLASH_EDGES[n], low), min(_FLASH_EDGES[n + 1], high)
            if bottom < top:
                axes.axhspan(bottom, top, color=_BANDS[n], zorder=0)
                axes.text(0.985, bottom, words, transform=axes.get_yaxis_transform(), ha="right", va="bottom")
        if len(ideal) > 1:
            words = "ideal mixing, never used"
            axes.plot(*zip(*ideal, strict=True), color=INK, linewidth=1, linestyle=":", label=words)
        axes.plot(*zip(*points, strict=True), color=LINE, linewidth=2.5, marker="o", label="flash point")
        axes.set_ylim(low, high)
        axes.set_xlim(0, max(percent for percent, _ in points))
        axes.set_xlabel(f"{added}, % by mass of the whole")
        axes.set_ylabel("flash point, °C")

    return _svg(draw)


def vapour_chart(series: Sequence[tuple[float, float]], levels: Sequence[Level], ends_min: float) -> str:
    """Vapour in the room in ppm over minutes, on a scale of tens, with the lines to stay below.

    Args:
        series: (minutes, ppm), at least two; levels of zero are left out of the line.
        ends_min: when the last of it has evaporated; 0: at once.
    """

    def draw(axes: Any) -> None:
        shown = [(minute, ppm) for minute, ppm in series if ppm > 0]
        axes.set_yscale("log")
        axes.yaxis.set_major_formatter("{x:,g}")
        axes.plot(*zip(*shown, strict=True), color=LINE, linewidth=2.5, label="vapour in the room")
        for level in levels:
            axes.axhline(level.ppm, color=INK, linewidth=1.5, linestyle=level.dashes, label=level.words)
        if 0 < ends_min < series[-1][0]:
            axes.axvline(ends_min, color=INK, linewidth=1, linestyle=":")
            axes.text(ends_min, 0.02, " all of it is dry", transform=axes.get_xaxis_transform(), va="bottom")
        every = [ppm for _, ppm in shown] + [level.ppm for level in levels]
        axes.set_ylim(max(min(every) / 3, max(every) * 1e-6), max(every) * 3)
        axes.set_xlim(series[0][0], series[-1][0])
        axes.set_xlabel("minutes")
        axes.set_ylabel("vapour in the room, ppm")

    return _svg(draw)


def _svg(draw: Any) -> str:
    import matplotlib

    matplotlib.use("svg")
    from matplotlib.figure import Figure

    settings: Any = {
        "svg.fonttype": "none",
        "svg.hashsalt": "umberkeep",
        "font.size": 12,
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "text.color": INK,
        "axes.edgecolor": INK,
        "axes.labelcolor": INK,
        "xtick.color": INK,
        "ytick.color": INK,
    }
    with _ONE_AT_A_TIME, matplotlib.rc_context(settings):
        figure = Figure(figsize=(5.4, 4.8), layout="constrained", facecolor="white")
        axes = figure.add_subplot()
        axes.grid(color=GRID, linewidth=0.6)
        axes.set_axisbelow(True)
        draw(axes)
        # Below the picture: a label on it would cover the curve just where it crosses a line.
        figure.legend(loc="outside lower left", frameon=False, ncols=1, fontsize=11)
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    return out.getvalue()
