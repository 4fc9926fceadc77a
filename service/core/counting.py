"""A count is an assertion: what was found is compared with the book, and either confirms it or puts it right.

Doors: actions/count_stock.py, web/pages/container_counts.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from service.core.containers import AmountKnown
from service.core.findings import Refused, Verdict, stop
from service.core.ledger import Balance, MovementLine, counted_since, standing_lines

MEASURED_PERCENT: Final = 2
"""A weighed or counted amount within this share of the book confirms it (house policy, no source)."""
ESTIMATED_PERCENT: Final = 20
"""An amount judged by eye within this share of the book confirms it (house policy, no source)."""
SMALLEST_SPAN: Final = 500
"""Half a gram or half a millilitre either way is what a shop scale and a meniscus leave open."""


@dataclass(frozen=True)
class CountResult:
    """What to book: ``counted`` is the amount from now on, ``change`` the difference (None: nobody knew).

    ``confirms``: the book stands as it was. ``fall``: how much less was found than the book said, else 0.
    """

    counted: int
    change: int | None
    known: AmountKnown
    confirms: bool
    fall: int


def judge_count(book: Balance, found: int, known: AmountKnown, *, pieces: bool = False) -> CountResult:
    """Compare a found amount (smallest units, not below zero) with the book.

    Pieces have no tolerance, and neither has "nothing left". A measured count within tolerance of an estimate
    replaces it; within tolerance of a measured amount it confirms that, so that small unbooked takings add up
    until they show.

    >>> sure = AmountKnown.MEASURED
    >>> judge_count(Balance(100_000, sure), 99_000, sure).confirms
    True
    >>> less = judge_count(Balance(100_000, sure), 90_000, sure)
    >>> less.confirms, less.change, less.fall
    (False, -10000, 10000)
    >>> judge_count(Balance(None, AmountKnown.NOT_KNOWN), 400, sure).change is None
    True
    """
    if found < 0:
        raise ValueError("nobody finds less than nothing")
    if book.amount is None:
        return CountResult(found, None, known, False, 0)
    if abs(found - book.amount) <= tolerance(book.amount, known, found=found, pieces=pieces):
        if book.known is AmountKnown.ESTIMATED and known is AmountKnown.MEASURED:
            return CountResult(found, found - book.amount, known, True, 0)
        return CountResult(book.amount, 0, book.known, True, 0)
    return CountResult(found, found - book.amount, known, False, max(0, book.amount - found))


def tolerance(book: int, known: AmountKnown, *, found: int, pieces: bool = False) -> int:
    """How far from the book a count may lie and still confirm it, in smallest units.

    >>> tolerance(1_000_000, AmountKnown.MEASURED, found=990_000)
    20000
    >>> tolerance(3, AmountKnown.MEASURED, found=2, pieces=True)
    0
    """
    if pieces or found == 0 or book == 0:
        return 0
    share = ESTIMATED_PERCENT if known is AmountKnown.ESTIMATED else MEASURED_PERCENT
    return max(book * share // 100, min(SMALLEST_SPAN, book // 10))


def found_now(lines: Iterable[MovementLine], found: int, counted_at: datetime) -> int:
    """What a count made at an instant comes to now, with everything that happened after it and is booked.

    Raises:
        Refused: it was counted again since, something of unknown size happened since, or less than nothing
            would be left.

    >>> from datetime import UTC
    >>> from service.core.ledger import MovementKind
    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> later = MovementLine(2, MovementKind.DRAW, -50, happened_at=noon.replace(hour=14))
    >>> found_now([MovementLine(1, MovementKind.RECEIVE, 500), later], 400, noon)
    350
    """
    known = list(lines)
    if counted_since(known, counted_at) is not None:
        raise Refused(_one("counted-since", "It was counted again since, and that count stands."))
    for line in standing_lines(known):
        if line.happened_at is None or line.happened_at <= counted_at:
            continue
        if line.change is None:
            raise Refused(_one("unknown-since", "Something of unknown size happened since. Count it now."))
        found += line.change
    if found < 0:
        sentence = "More was taken since than this count found. Check the amount and the time."
        raise Refused(_one("count-too-small", sentence))
    return found


def _one(code: str, sentence: str) -> Verdict:
    return Verdict.of([stop(code, sentence)])
