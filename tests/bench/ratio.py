"""Two things measured in turn in one run, A B A B …, and what their ratio says."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Spread:
    """The least, the median and the most of some measurements."""

    least: float
    median: float
    most: float

    @classmethod
    def of(cls, values: Sequence[float]) -> Spread:
        return cls(min(values), statistics.median(values), max(values))

    def __str__(self) -> str:
        return " / ".join(f"{value:.4g}" for value in (self.least, self.median, self.most))


@dataclass(frozen=True)
class Figure:
    """One line of the table: A against B, and whether their ratio keeps the bound.

    Args:
        goal: the number of the goal, such as "P3".
        what: what is measured, in words.
        unit: what A and B are counted in ("ms", "a second").
        ratio: of the medians, A / B; its least and most are those of the single turns.
        bound: None for what is only reported.
        at_most: whether the ratio must not be above the bound, or not below it.
        why: why a goal is missed, or a remark.
    """

    goal: str
    what: str
    size: int
    unit: str
    a: Spread
    b: Spread
    ratio: Spread
    bound: float | None = None
    at_most: bool = True
    why: str = ""
    tries: int = field(default=1, compare=False)

    @property
    def met(self) -> bool | None:
        if self.bound is None:
            return None
        return self.ratio.median <= self.bound if self.at_most else self.ratio.median >= self.bound

    @property
    def verdict(self) -> str:
        return {None: "reported", True: "met", False: "missed"}[self.met]

    def numbers(self) -> list[float]:
        """Every number of the line, for the test that each is one."""
        return [n for s in (self.a, self.b, self.ratio) for n in (s.least, s.median, s.most)]

    def as_dict(self) -> dict[str, Any]:
        """The line as plain data, rounded to four digits."""
        return {
            "goal": self.goal,
            "what": self.what,
            "containers": self.size,
            "unit": self.unit,
            "a": _rounded(self.a),
            "b": _rounded(self.b),
            "ratio": _rounded(self.ratio),
            "bound": self.bound,
            "at_most": self.at_most,
            "verdict": self.verdict,
            "tries": self.tries,
            "why": self.why,
        }


def _rounded(spread: Spread) -> list[float]:
    return [float(f"{value:.4g}") for value in (spread.least, spread.median, spread.most)]


@dataclass(frozen=True)
class Pair:
    """The measurements of A and B, in the turns in which they were made."""

    a: list[float]
    b: list[float]

    @property
    def sides(self) -> tuple[Spread, Spread]:
        return Spread.of(self.a), Spread.of(self.b)

    @property
    def ratio(self) -> Spread:
        turns = [a / b for a, b in zip(self.a, self.b, strict=True)]
        return Spread(min(turns), statistics.median(self.a) / statistics.median(self.b), max(turns))


def interleaved(
    a: Callable[[], float], b: Callable[[], float], turns: int, *, warm: bool = True
) -> Pair:
    """A and B in turn, ``turns`` times each, after one that does not count (a single turn has none)."""
    found = Pair([], [])
    for turn in range(-1 if warm and turns > 1 else 0, turns):
        first, second = a(), b()
        if turn >= 0:
            found.a.append(first)
            found.b.append(second)
    return found


def ms(work: Callable[[], object], times: int = 1) -> Callable[[], float]:
    """A measurement: milliseconds of one call of ``work``, the mean over ``times`` calls."""

    def measure() -> float:
        started = time.perf_counter()
        for _ in range(times):
            work()
        return (time.perf_counter() - started) * 1000 / times

    return measure
