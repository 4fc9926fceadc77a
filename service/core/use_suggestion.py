"""How much of a material a week takes by the ledger, as a suggestion with its spread.

Doors: actions/look_at_orders.py.

Draws less what came back; discards, losses, counts and pourings are no use. A week with an amount nobody
knows is left out and said; of too little there is no suggestion.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.ledger import MovementKind, MovementLine, standing_lines
from service.core.shop_days import shop_day

FEWEST_WEEKS: Final = 6
"""Whole weeks that must be known (house measure)."""
FEWEST_USED: Final = 3
"""Of them with any use."""
MOST_UNKNOWN: Final = Fraction(1, 4)
"""Share of the weeks that may be left out as not known."""
_USE: Final = frozenset({MovementKind.DRAW, MovementKind.RETURN})


@dataclass(frozen=True)
class Use:
    """What was taken on a day, in smallest units; less than nothing came back; None = not known."""

    on: date
    amount: int | None


@dataclass(frozen=True)
class UseOfWeeks:
    """Use of a week in smallest units: a quarter of the weeks took at most ``low``, half at most ``middle``,
    nine of ten at most ``high``. ``why_not``: there is no suggestion, and all three are None.

    ``weeks`` were counted, ``used`` of them with any use, ``not_known`` were left out.
    """

    weeks: int
    used: int
    not_known: int
    low: int | None = None
    middle: int | None = None
    high: int | None = None
    why_not: str = ""


def uses_of(lines: Iterable[MovementLine], zone: str) -> list[Use]:
    """The draws and returns of one container that stand (no reversed ones), by the shop's day in ``zone``.

    Raises ``ValueError`` for one that does not say when it happened.

    >>> from datetime import UTC, datetime
    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> uses_of([MovementLine(1, MovementKind.DRAW, -40, happened_at=noon)], "Europe/Berlin")[0].amount
    40
    """
    kept = []
    for line in standing_lines(lines):
        if line.kind not in _USE:
            continue
        if line.happened_at is None:
            raise ValueError(f"line {line.id} does not say when it happened")
        kept.append(Use(shop_day(line.happened_at, zone), None if line.change is None else -line.change))
    return kept


def use_of_weeks(uses: Iterable[Use], first: date, today: date, closed: Collection[date] = ()) -> UseOfWeeks:
    """The spread of use over the whole weeks, Monday to Sunday, from ``first`` to the day before ``today``.

    ``first`` is the day since which the book is kept for it; ``closed`` names Mondays of weeks without
    school, which count only if something was taken. The low end is rounded down, the others up.

    >>> weeks = [Use(date(2026, 1, 5) + timedelta(weeks=n), 10 * n) for n in range(9)]
    >>> spread = use_of_weeks(weeks, date(2026, 1, 5), date(2026, 3, 9))
    >>> spread.weeks, spread.low, spread.middle, spread.high
    (9, 20, 40, 72)
    """
    start = first + timedelta(days=-first.weekday() % 7)
    end = today - timedelta(days=today.weekday())
    sums: dict[date, int | None] = {}
    for use in uses:
        monday = use.on - timedelta(days=use.on.weekday())
        before = sums.get(monday, 0)
        sums[monday] = None if before is None or use.amount is None else before + use.amount
    mondays = [start + timedelta(weeks=n) for n in range(max(0, (end - start).days // 7))]
    asked = [sums.get(day, 0) for day in mondays if day in sums or day not in closed]
    # More came back than was taken: it was taken in an earlier week.
    known = sorted(max(0, amount) for amount in asked if amount is not None)
    lost = len(asked) - len(known)
    used = sum(1 for amount in known if amount)
    why_not = _too_little(len(known), used, lost)
    if why_not:
        return UseOfWeeks(len(known), used, lost, why_not=why_not)
    return UseOfWeeks(
        len(known), used, lost,
        floor(quantile(known, Fraction(1, 4))), ceil(quantile(known, Fraction(1, 2))),
        ceil(quantile(known, Fraction(9, 10))),
    )  # fmt: skip


def _too_little(known: int, used: int, lost: int) -> str:
    if known < FEWEST_WEEKS:
        return f"Only {known} whole weeks are known; {FEWEST_WEEKS} are needed."
    if used < FEWEST_USED:
        return f"It was used in {used} weeks only; {FEWEST_USED} are needed."
    if Fraction(lost, known + lost) > MOST_UNKNOWN:
        return f"In {lost} of {known + lost} weeks nobody measured how much was taken."
    return ""


def quantile(values: Iterable[int], share: Fraction) -> Fraction:
    """The value below which ``share`` (0 to 1) lies, straight between the two nearest (type 7).

    Raises ``ValueError`` without a value.

    >>> quantile([1, 2, 4], Fraction(1, 2)), quantile([1, 2], Fraction(1, 4))
    (Fraction(2, 1), Fraction(5, 4))
    """
    ordered = sorted(values)
    if not ordered or not 0 <= share <= 1:
        raise ValueError("no values, or no share")
    at = share * (len(ordered) - 1)
    below = floor(at)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (at - below) * (ordered[above] - ordered[below])
