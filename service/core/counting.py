"""A count is an assertion: what was found is compared with the book, and either confirms it or puts it right.

Doors: actions/count_stock.py, records/waste_queries.py, web/pages/container_counts.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from service.core.containers import AmountKnown
from service.core.findings import Refused, Verdict, stop
from service.core.ledger import Balance, MovementKind, MovementLine, counted_since, standing_lines

MEASURED_PERCENT: Final = 2
"""A weighed or counted amount within this share of the book confirms it (house policy, no source)."""
ESTIMATED_PERCENT: Final = 20
"""An amount judged by eye within this share of the book confirms it (house policy, no source)."""
SMALLEST_SPAN: Final = 500
"""Half a gram or half a millilitre either way is what a shop scale and a meniscus leave open."""
CONFIRMS: Final = "Confirmed by a count."
"""How the reason begins that a count which confirms the book has."""
MORE: Final = "There was more in it than the book said."
"""How the reason begins that a count has which found more than the book could account for."""
LATE_AGAIN: Final = "Written late: the count made since had it in already."
"""The reason that a counted amount has which is stated again after something was written late."""
TAKES_OUT: Final = frozenset(
    {MovementKind.DRAW, MovementKind.LOSS, MovementKind.DISCARD, MovementKind.DECANT_OUT}
)


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


def most_there(lines: Iterable[MovementLine]) -> int | None:
    """The most that can be in a container of which something of unknown size was taken; None = nobody knows.

    >>> from service.core.ledger import MovementKind as K
    >>> most_there([MovementLine(1, K.RECEIVE, 900), MovementLine(2, K.DRAW, None)])
    900
    >>> most_there([MovementLine(1, K.RECEIVE, None), MovementLine(2, K.DRAW, -5)]) is None
    True
    """
    most: int | None = 0
    for line in standing_lines(lines):
        if line.counted is not None:
            most = line.counted
        elif line.change is None:
            # Of what came in nobody knows the most any more; what went out leaves it.
            most = most if line.kind in TAKES_OUT else None
        elif most is not None:
            most = max(0, most + line.change)
    return most


def not_more_than_there(
    lines: Iterable[MovementLine], found: int, known: AmountKnown, *, pieces: bool, say: Callable[[int], str]
) -> None:
    """A first count after something of unknown size was taken may not show more than was there before.

    Raises:
        Refused: code ``more-than-there``; the sentence says how much can be there, and what to do.
    """
    most = most_there(lines)
    if most is None or found <= most + tolerance(most, known, found=found, pieces=pieces):
        return
    sentence = (
        f"At most {say(most)} can be in it by the book, not {say(found)}: something was taken since, and "
        "nobody measured how much. Look at the amount again. If there was more in it before than the book "
        "said, say so with the count."
    )
    raise Refused(_one("more-than-there", sentence))


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
