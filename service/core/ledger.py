"""The append-only ledger: movement kinds, their other side, and folding movements to an amount.

Doors: records/stock.py, actions/post_movement.py, actions/correct_entry.py, web/pages/containers.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

from service.core.containers import AmountKnown
from service.core.findings import Findings, Verdict, note, stop, unknown, warn


class MovementKind(StrEnum):
    """A line that changes an amount. Draws, losses, discards and decant-outs are negative."""

    RECEIVE = "receive"
    DRAW = "draw"
    RETURN = "return"
    COUNT_DIFFERENCE = "count-difference"
    LOSS = "loss"
    DISCARD = "discard"
    DECANT_OUT = "decant-out"
    DECANT_IN = "decant-in"
    MADE = "made"
    REVERSAL = "reversal"


class OtherSide(StrEnum):
    """What stands on the other side of a movement, so that mass balances."""

    SUPPLIER = "supplier"
    STOCK_TAKE = "stock-take"
    BATCH = "batch"
    JOB = "job"
    WASTE = "waste"
    LOSS = "loss"
    COUNT = "count"
    CONTAINER = "container"
    MOVEMENT = "movement"


class Destination(StrEnum):
    """Where a discard went. Drains and evaporation are not on the list."""

    WASTE_DRUM = "waste-drum"
    HAULER = "hauler"
    COLLECTION_POINT = "collection-point"
    RETURNED_TO_SUPPLIER = "returned-to-supplier"
    RAG_CAN = "rag-can"
    DRY_REFUSE = "dry-refuse"


NOBODY_NAMED: Final = "nobody named"
DESTINATIONS: Final[dict[Destination, str]] = {
    Destination.WASTE_DRUM: "into the waste drum",
    Destination.HAULER: "handed to the hauler",
    Destination.COLLECTION_POINT: "to the public collection point",
    Destination.RETURNED_TO_SUPPLIER: "back to the supplier",
    Destination.RAG_CAN: "into the rag can",
    Destination.DRY_REFUSE: "dry and hardened, with the refuse",
}
"""Where a discard may have gone, in words."""

MOVEMENT_WORDS: Final[dict[MovementKind, str]] = {
    MovementKind.RECEIVE: "received",
    MovementKind.DRAW: "drawn",
    MovementKind.RETURN: "returned",
    MovementKind.COUNT_DIFFERENCE: "counted",
    MovementKind.LOSS: "lost",
    MovementKind.DISCARD: "discarded",
    MovementKind.DECANT_OUT: "decanted out",
    MovementKind.DECANT_IN: "decanted in",
    MovementKind.MADE: "made",
    MovementKind.REVERSAL: "reversed",
}

OTHER_SIDES: Final[dict[MovementKind, frozenset[OtherSide]]] = {
    MovementKind.RECEIVE: frozenset({OtherSide.SUPPLIER, OtherSide.STOCK_TAKE}),
    MovementKind.DRAW: frozenset({OtherSide.JOB, OtherSide.BATCH}),
    MovementKind.RETURN: frozenset({OtherSide.JOB, OtherSide.BATCH}),
    MovementKind.COUNT_DIFFERENCE: frozenset({OtherSide.COUNT}),
    MovementKind.LOSS: frozenset({OtherSide.LOSS}),
    MovementKind.DISCARD: frozenset({OtherSide.WASTE}),
    MovementKind.DECANT_OUT: frozenset({OtherSide.CONTAINER}),
    MovementKind.DECANT_IN: frozenset({OtherSide.CONTAINER}),
    MovementKind.MADE: frozenset({OtherSide.BATCH}),
    MovementKind.REVERSAL: frozenset({OtherSide.MOVEMENT}),
}
"""What may stand on the other side of each kind, so that mass balances."""

INFLOWS: Final = frozenset(
    {MovementKind.RECEIVE, MovementKind.RETURN, MovementKind.DECANT_IN, MovementKind.MADE}
)
OUTFLOWS: Final = frozenset(
    {MovementKind.DRAW, MovementKind.LOSS, MovementKind.DISCARD, MovementKind.DECANT_OUT}
)


@dataclass(frozen=True)
class MovementLine:
    """One line of one container's ledger, in its order (``id`` rises).

    ``change`` is signed, in whole smallest units (mg, microlitres or pieces); None: it happened, how much is
    not known. ``counted`` is the absolute amount a count found (only on a count difference): from there on
    the amount is that, whatever was known before. A count on an unknown amount has ``change`` None.
    ``happened_at`` is only looked at to see whether a line belongs before the newest count.
    """

    id: int
    kind: MovementKind
    change: int | None
    known: AmountKnown = AmountKnown.MEASURED
    counted: int | None = None
    reverses: int | None = None
    happened_at: datetime | None = None

    @property
    def estimated(self) -> bool:
        return self.known is AmountKnown.ESTIMATED


@dataclass(frozen=True)
class Balance:
    """What a container holds by its ledger: ``amount`` None when not known, never zero instead.

    ``since`` is the id of the line since which the amount rests on a count or on the entry into the book.
    """

    amount: int | None
    known: AmountKnown
    since: int | None = None


NOTHING_BOOKED: Final = Balance(0, AmountKnown.MEASURED)


def fold(lines: Iterable[MovementLine]) -> Balance:
    """The balance of one container from all of its lines, in order of ``id``.

    A line of unknown size makes the amount not known until the next count; an estimated one makes it
    estimated until the next measured count. A reversed line and its reversal both drop out, also with what
    they said about how well the amount is known.

    >>> took_in = MovementLine(1, MovementKind.RECEIVE, None, AmountKnown.NOT_KNOWN)
    >>> count = MovementLine(2, MovementKind.COUNT_DIFFERENCE, None, counted=400)
    >>> fold([took_in]).amount, fold([took_in, count]).amount
    (None, 400)
    >>> fold([took_in, count, MovementLine(3, MovementKind.DRAW, -150)])
    Balance(amount=250, known=<AmountKnown.MEASURED: 'measured'>, since=2)
    """
    balance = NOTHING_BOOKED
    for line in standing_lines(lines):
        balance = add_line(balance, line)
    return balance


def standing_lines(lines: Iterable[MovementLine]) -> list[MovementLine]:
    """The lines that count, in order: without reversed lines and without reversals.

    >>> draw = MovementLine(2, MovementKind.DRAW, -5)
    >>> undo = MovementLine(3, MovementKind.REVERSAL, 5, reverses=2)
    >>> [line.id for line in standing_lines([undo, MovementLine(1, MovementKind.RECEIVE, 9), draw])]
    [1]
    """
    ordered = sorted(lines, key=lambda line: line.id)
    reversed_ids = {line.reverses for line in ordered if line.kind is MovementKind.REVERSAL}
    return [
        line for line in ordered if line.kind is not MovementKind.REVERSAL and line.id not in reversed_ids
    ]


def add_line(balance: Balance, line: MovementLine) -> Balance:
    """The balance after one more line that is not a reversal (a reversal needs `fold` over all of them).

    >>> add_line(Balance(10, AmountKnown.MEASURED, 1), MovementLine(2, MovementKind.DRAW, -4)).amount
    6
    """
    if line.counted is not None:
        known = AmountKnown.ESTIMATED if line.estimated else AmountKnown.MEASURED
        return Balance(line.counted, known, line.id)
    since = line.id if balance.since is None else balance.since
    if balance.amount is None or line.change is None or line.known is AmountKnown.NOT_KNOWN:
        return Balance(None, AmountKnown.NOT_KNOWN, since)
    known = AmountKnown.ESTIMATED if line.estimated else balance.known
    return Balance(balance.amount + line.change, known, since)


def check_sign(line: MovementLine) -> Verdict:
    """Whether a line's sign and fields fit its kind; stops with code ``sign`` or ``counted``.

    >>> check_sign(MovementLine(1, MovementKind.DRAW, 5)).codes
    frozenset({'sign'})
    """
    found = Findings()
    name, change = line.kind.value, line.change
    if line.counted is not None and (line.kind is not MovementKind.COUNT_DIFFERENCE or line.counted < 0):
        found.add(stop("counted", f"Line {line.id} ({name}): only a count states an amount."))
    if line.kind is MovementKind.COUNT_DIFFERENCE and line.counted is None:
        found.add(stop("counted", f"Line {line.id} ({name}) does not say what was counted."))
    if (line.reverses is None) == (line.kind is MovementKind.REVERSAL):
        found.add(stop("reverses", f"Line {line.id} ({name}): only a reversal names a line."))
    if change is None or line.kind in (MovementKind.COUNT_DIFFERENCE, MovementKind.REVERSAL):
        return found.verdict()
    # A discard of nothing is the throwing away of an empty container.
    wrong = change <= 0 if line.kind in INFLOWS else change > 0
    if wrong or (change == 0 and line.kind is not MovementKind.DISCARD):
        way = "adds" if line.kind in INFLOWS else "takes"
        found.add(stop("sign", f"Line {line.id} ({name}) {way} something: {change} does not fit."))
    return found.verdict()


def may_take(balance: Balance, amount: int, *, promised: int = 0, say: Callable[[int], str] = str) -> Verdict:
    """Whether ``amount`` (smallest units, above zero) may be taken out.

    More than the book says is a stop ``not-enough``: nothing is ever overdrawn. An amount that is not known
    is the finding ``amount-not-known``, never enough. ``promised`` to others is a warning when it would be
    touched. ``say`` writes an amount for people.

    >>> may_take(Balance(100, AmountKnown.MEASURED), 101).codes
    frozenset({'not-enough'})
    >>> may_take(Balance(None, AmountKnown.NOT_KNOWN), 1).complete
    False
    """
    if amount <= 0:
        return Verdict.of([stop("nothing-taken", "Enter how much you take: more than nothing.")])
    if balance.amount is None:
        return Verdict.of([unknown("amount-not-known", "Nobody knows how much is in it. Count or weigh it.")])
    found = Findings()
    if amount > balance.amount:
        found.add(
            stop(
                "not-enough",
                f"The book says {say(balance.amount)} is in it, not {say(amount)}. If there was more, "
                "count it: the count and the draw are booked together.",
            )
        )
    elif amount > balance.amount - promised:
        found.add(warn("promised", f"{say(promised)} of it is set aside for another batch."))
    if balance.known is AmountKnown.ESTIMATED:
        found.add(note("amount-estimated", "The amount in it is an estimate. Weigh it when you can."))
    return found.verdict()


def may_call_empty(balance: Balance) -> Verdict:
    """Whether a container may be booked as emptied: only when the book says nothing is left.

    >>> may_call_empty(Balance(3, AmountKnown.MEASURED)).blocking
    True
    """
    if balance.amount == 0:
        return Verdict()
    sentence = "The book says something is in it. Book where the rest went, or count it as nothing."
    return Verdict.of([stop("not-empty", sentence)])


def counted_since(lines: Iterable[MovementLine], happened_at: datetime) -> MovementLine | None:
    """The newest standing count that was made after ``happened_at``, or None.

    A late entry from before a count is in that count already: post it together with a count difference that
    states the amount the balance had, or the book would take it off twice.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> count = MovementLine(2, MovementKind.COUNT_DIFFERENCE, -3, counted=400, happened_at=noon)
    >>> counted_since([count], noon.replace(hour=9)) is count, counted_since([count], noon.replace(hour=13))
    (True, None)
    """
    later = [
        line
        for line in standing_lines(lines)
        if line.counted is not None and line.happened_at is not None and line.happened_at > happened_at
    ]
    return later[-1] if later else None
