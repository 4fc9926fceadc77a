"""A container's life as one bar: packed, received, opened, checked, until, now; laid out for an inline SVG.

Widths are in the units of a picture 360 wide, which a phone shows as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from service.core.ageing import Ageing
from service.core.containers import STANDING_WORDS, Standing
from service.core.life_facts import CheckOutcome, LifeFacts
from service.core.months import add_days, days_between, earliest
from service.web.render import day

WIDTH: Final = 360
LEFT: Final = 8
RIGHT: Final = 352
BAR_TOP: Final = 26
BAR_HEIGHT: Final = 24
ROW: Final = 20
_LETTER: Final = 7.4
"""Rough width of a letter at the size used; a label that would leave the picture is put to the left."""
CHECK_WORDS: Final = {
    CheckOutcome.PASSED: "checked, passed",
    CheckOutcome.FAILED: "checked, failed",
    CheckOutcome.SKIN_CUT: "skin cut",
    CheckOutcome.NOTED: "looked at",
    CheckOutcome.DOUBTED: "looked at, doubted",
}
_MOST_CHECKS: Final = 6


@dataclass(frozen=True)
class Mark:
    """One day on the bar. ``kind`` is part of a class name; ``to_left``: its words stand left of its line."""

    kind: str
    words: str
    on: date
    x: float
    y: float
    to_left: bool


@dataclass(frozen=True)
class Stretch:
    """A part of the bar in one standing."""

    standing: str
    x: float
    width: float


@dataclass(frozen=True)
class AgeingBar:
    """The picture: what it says in words, its parts, and the rows of its table."""

    title: str
    said: str
    height: float
    stretches: tuple[Stretch, ...]
    marks: tuple[Mark, ...]
    rows: list[dict[str, str | None]]


def ageing_bar(facts: LifeFacts, ageing: Ageing, today: date, name: str) -> AgeingBar | None:
    """The bar of one container; None where not a single day of its life is known."""
    days = _days(facts, ageing, today)
    if len(days) < 2:
        return None
    first, last = min(on for _, _, on in days), max(on for _, _, on in days)
    margin = max(1, days_between(first, last) // 20)
    scale = _Scale(first, add_days(last, margin))
    marks = _marks(days, scale)
    rows: list[dict[str, str | None]] = [
        {"what": words[:1].upper() + words[1:], "on": day(on)} for _, words, on in sorted(days, key=_by_day)
    ]
    if ageing.in_date_until is None:
        rows.append({"what": "In date until", "on": None})
    if ageing.hard_stop is not None:  # not in the picture: years ahead, it would press the rest together
        rows.append({"what": "No check goes past", "on": day(ageing.hard_stop)})
    said = "; ".join(f"{words} {day(on)}" for _, words, on in sorted(days, key=_by_day))
    end = ageing.in_date_until
    return AgeingBar(
        title=f"The life of {name}: {STANDING_WORDS[ageing.standing]}",
        said=f"{said}." if end else f"{said}. When its date ends is not known.",
        height=BAR_TOP + BAR_HEIGHT + 8 + ROW * (len(marks) + 1),
        stretches=_stretches(ageing, scale, first, today),
        marks=marks,
        rows=rows,
    )


@dataclass(frozen=True)
class _Scale:
    first: date
    last: date

    def x(self, on: date) -> float:
        whole = max(1, days_between(self.first, self.last))
        share = min(1, max(0, days_between(self.first, on) / whole))
        return round(LEFT + share * (RIGHT - LEFT), 1)


def _days(facts: LifeFacts, ageing: Ageing, today: date) -> list[tuple[str, str, date]]:
    checks = sorted(facts.checks, key=lambda check: check.on)[-_MOST_CHECKS:]
    found: list[tuple[str, str, date | None]] = [
        ("packed", "packed", facts.packed_on),
        ("received", "came in", facts.received_on),
        ("opened", "first opened", facts.opened_on),
        *(("checked", CHECK_WORDS[check.outcome], check.on) for check in checks),
        ("warn", "look first from", _look_first_from(ageing)),
        ("until", "in date until", ageing.in_date_until),
        ("now", "today", today),
    ]
    if ageing.in_date_until is None:
        found.append(("until", "past at the latest after", ageing.at_latest))
    return [(kind, words, on) for kind, words, on in found if on is not None]


def _look_first_from(ageing: Ageing) -> date | None:
    """By the share of its life that is gone, or from the check that left it doubted, if that is earlier."""
    return earliest(ageing.warn_from, *(one.on for one in ageing.doubts))


def _by_day(one: tuple[str, str, date]) -> tuple[date, str]:
    return one[2], one[0]


def _marks(days: list[tuple[str, str, date]], scale: _Scale) -> tuple[Mark, ...]:
    """Each with a row of its own, so placed that no line runs through the words of its own group."""
    right: list[Mark] = []
    left: list[Mark] = []
    for kind, words, on in sorted(days, key=_by_day):
        x = scale.x(on)
        to_left = x + 6 + _LETTER * (len(words) + 12) > WIDTH
        (left if to_left else right).append(Mark(kind, f"{words} {day(on)}", on, x, 0, to_left))
    rows = [*left, *reversed(right)]
    return tuple(replace(mark, y=BAR_TOP + BAR_HEIGHT + 8 + ROW * (n + 1)) for n, mark in enumerate(rows))


def _stretches(ageing: Ageing, scale: _Scale, first: date, today: date) -> tuple[Stretch, ...]:
    """In date, look first and past as they follow each other; all of it not known where the end is not."""
    until, look = ageing.in_date_until, _look_first_from(ageing)
    if ageing.standing is Standing.NOT_KNOWN:
        return _joined([(Standing.NOT_KNOWN, first)], scale)
    turns = [(Standing.IN_DATE, first)]
    if look is not None and (until is None or look <= until):
        turns.append((Standing.LOOK_FIRST, look))
    if until is not None:
        turns.append((Standing.PAST, add_days(until, 1)))
    return _joined(turns, scale)


def _joined(turns: Sequence[tuple[Standing, date]], scale: _Scale) -> tuple[Stretch, ...]:
    found = []
    for n, (standing, begin) in enumerate(turns):
        end = turns[n + 1][1] if n + 1 < len(turns) else scale.last
        x, stop = scale.x(begin), scale.x(end)
        if stop > x:
            found.append(Stretch(standing.value, x, round(stop - x, 1)))
    return tuple(found)
