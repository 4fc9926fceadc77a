"""One addition to a batch: the ways in which it is known how much it was, and taking one back.

Doors: actions/add_to_batch.py, actions/addition_amounts.py, actions/undo_addition.py, web/pages/bench.py.

What nobody measured is anything from nothing to the most it can have been; it never counts as nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, stop
from service.core.ledger import MovementLine, fold, standing_lines


class HowAdded(StrEnum):
    """How it is known how much went in. `TAKEN_BACK` is no addition but takes one without movement back."""

    AMOUNT = "amount"
    CONTAINER = "container"
    POT = "pot"
    NOT_MEASURED = "not-measured"
    TAKEN_BACK = "taken-back"


HOW_WORDS: Final[dict[HowAdded, str]] = {
    HowAdded.AMOUNT: "as written",
    HowAdded.CONTAINER: "all that was left in it",
    HowAdded.POT: "by the pot on the scale",
    HowAdded.NOT_MEASURED: "not measured",
    HowAdded.TAKEN_BACK: "taken back",
}
"""How it is known, in words."""

WAYS: Final = (HowAdded.AMOUNT, HowAdded.CONTAINER, HowAdded.POT, HowAdded.NOT_MEASURED)
"""The ways in which somebody may add."""


class WasIn(StrEnum):
    """Whether what is taken back was ever in the pot."""

    NEVER = "never"
    WENT_IN = "went-in"


WAS_IN_WORDS: Final[dict[WasIn, tuple[str, str]]] = {
    WasIn.NEVER: (
        "It never went in like that",
        "Typed wrong, the wrong can, or written twice; write the right one after",
    ),
    WasIn.WENT_IN: ("It went in", "Also if it was taken out again as far as it would go"),
}
"""What each answer says, and when it is the right one."""


def stays_in_the_mix(name: str) -> Finding:
    """Why an addition that went in is not taken back.

    >>> stays_in_the_mix("drier").code
    'went-in'
    """
    words = (
        f"{name} was in the pot, so it counts on: for what is in the mix, its hazards, and what it must "
        "never meet. It is not taken back. What of it never got into the pot is put back into its container; "
        "what was fished out is a loss at the end; if the mix is spoilt, give the batch up."
    )
    return stop("went-in", words, about=name)


@dataclass(frozen=True)
class Span:
    """An amount in whole smallest units, from ``low`` to ``high``; ``high`` None: nobody knows the most.

    ``by_count``: it was worked out from a count made afterwards.

    >>> Span(0, None).known, Span(5, 5).known
    (False, True)
    """

    low: int
    high: int | None
    by_count: bool = False

    @property
    def known(self) -> bool:
        """Whether it is one figure."""
        return self.low == self.high

    def plus(self, other: Span) -> Span:
        """Both together.

        >>> Span(5, 5).plus(Span(0, 7)), Span(5, 5).plus(Span(0, None))
        (Span(low=5, high=12, by_count=False), Span(low=5, high=None, by_count=False))
        """
        most = None if self.high is None or other.high is None else self.high + other.high
        return Span(self.low + other.low, most)

    def less(self, change: int | None) -> Span:
        """What is left when ``change`` (None: nobody knows how much) came out again; never below nothing.

        >>> Span(5, 12).less(6), Span(5, 12).less(None)
        (Span(low=0, high=6, by_count=False), Span(low=0, high=12, by_count=False))
        """
        if change is None:
            return Span(0, self.high)
        high = None if self.high is None else max(self.high - change, 0)
        return Span(max(self.low - change, 0), high)


def not_measured(line_id: int, lines: Iterable[MovementLine], at_most: int | None) -> Span:
    """How much one draw of unknown size can have been, by the ledger of its container as it stands now.

    Args:
        line_id: the draw of unknown size; it stands (is not reversed).
        lines: the container's whole ledger.
        at_most: what the book said was in it when it was drawn; None = not known.

    A count made since settles it, as long as everything between is known: what the book said before, less
    what went out besides, less what was found. More found than the book said before shows that the book was
    wrong, and then nobody knows the most. What was written late, from before that count, leaves it open. An
    entry from before the draw that was reversed since, so that more had been in it, raises the most; nothing
    lowers it but a count.

    >>> from service.core.ledger import MovementKind as K
    >>> took_in, draw = MovementLine(1, K.RECEIVE, 900), MovementLine(2, K.DRAW, None)
    >>> not_measured(2, [took_in, draw], 900)
    Span(low=0, high=900, by_count=False)
    >>> not_measured(2, [took_in, draw, MovementLine(3, K.COUNT_DIFFERENCE, None, counted=650)], 900)
    Span(low=250, high=250, by_count=True)
    >>> not_measured(2, [took_in, draw, MovementLine(3, K.COUNT_DIFFERENCE, None, counted=950)], 900)
    Span(low=0, high=None, by_count=False)
    """
    standing = standing_lines(lines)
    before = fold(line for line in standing if line.id < line_id).amount
    if before is None or at_most is None:
        return Span(0, None)
    left = before
    for line in standing:
        if line.id <= line_id:
            continue
        if line.counted is not None:
            found = _by_count(left - line.counted, max(before, at_most))
            late = any(_written_late(one, line) for one in standing)
            return Span(0, max(before, at_most)) if late and found.high is not None else found
        if line.change is None:
            break
        left += line.change
    return Span(0, max(before, at_most))


def _written_late(line: MovementLine, count: MovementLine) -> bool:
    """Whether a line that was written after a count tells of something from before it."""
    if line.id <= count.id or line.happened_at is None or count.happened_at is None:
        return False
    return line.happened_at < count.happened_at


def _by_count(amount: int, most: int) -> Span:
    if amount < 0:
        return Span(0, None)
    # Nothing at all went in by the count, and yet somebody put some in: less than what can be weighed.
    return Span(amount, amount, by_count=True) if amount else Span(0, most)


_TAKEN_BACK: Final = re.compile(r"addition ([1-9][0-9]{0,15}) taken back: ", re.ASCII)


def taken_back_words(addition_id: int, reason: str) -> str:
    """What stands in the row that takes an addition without a movement back; at most 200 signs.

    >>> taken_back_words(17, "wrong jug")
    'addition 17 taken back: wrong jug'
    """
    return f"addition {addition_id} taken back: {reason}"[:200]


def taken_back_id(words: str) -> int | None:
    """Which addition such a row takes back; None for any other text.

    >>> taken_back_id("addition 17 taken back: wrong jug"), taken_back_id("2 tsp")
    (17, None)
    """
    match = _TAKEN_BACK.match(words)
    return int(match[1]) if match else None


def pot_drift(last_after_mg: int | None, before_mg: int) -> int:
    """By how much (mg, heavier is above nothing) the pot changed between its last reading and this one.

    What nobody wrote down went in or out between them. 0 where there is no last reading.

    >>> pot_drift(400_000, 420_000), pot_drift(None, 420_000)
    (20000, 0)
    """
    return 0 if last_after_mg is None else before_mg - last_after_mg
