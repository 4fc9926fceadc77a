"""What a batch that is set aside or running still needs of the shelf on its day, beyond what it really holds.

Doors: actions/waiting_batches.py, actions/taken_by_others.py.

A batch holds what is promised to it; but a tin may die before the day, leak or be thrown away, a draw may be
taken back, and of "to suit" nobody knows how much it takes until the batch is finished.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.core.ageing import WARN_SHARE
from service.core.containers import AmountKnown, Condition, ContainerState
from service.core.months import say_date
from service.core.plan_outlook import ShelfContainer, once_opened, outlook

Amounts = Mapping[int, int | None]
"""Smallest units by the number of the material; None = not known."""


@dataclass(frozen=True)
class HeldPart:
    """So much of a container that a batch holds and has not drawn."""

    container_id: int
    code: str
    material_id: int
    amount: int


@dataclass(frozen=True)
class WaitingBatch:
    """A batch that may still take something. ``on``: the day it is for, never before the plan was made.

    ``wanted`` in all; ``put_in`` is in the pot already.
    """

    number: int
    on: date
    running: bool
    wanted: Amounts
    put_in: Mapping[int, int]
    held: tuple[HeldPart, ...]


@dataclass(frozen=True)
class LostPart:
    """So much of what is held that is not there on the day, and why in words about its container."""

    part: HeldPart
    amount: int
    why: str


@dataclass(frozen=True)
class StillNeeded:
    """What a batch lacks: ``amounts`` without what it needs nothing more of; ``lost`` of what it holds;
    ``unsure``: held and there, and nobody knows whether it is in date on the day; ``doubts``: held and
    there, and what is to be looked at before, in words about its container."""

    number: int
    amounts: Amounts
    lost: tuple[LostPart, ...]
    unsure: tuple[HeldPart, ...] = ()
    doubts: tuple[tuple[HeldPart, str], ...] = ()


def still_needed(
    batches: Iterable[WaitingBatch],
    shelf: Sequence[ShelfContainer],
    today: date,
    warn_share: Decimal = WARN_SHARE,
) -> list[StillNeeded]:
    """What each batch lacks, by its number; a container that is not on ``shelf`` holds nothing.

    Running batches come first, then by their day: of one tin the first has its part, and it opens it. What
    a later one holds in it is lost where it is past by then once opened.

    >>> part = HeldPart(5, "R4F34T", 1, 300)
    >>> one = WaitingBatch(7, date(2026, 3, 9), False, {1: 300, 2: None}, {}, (part,))
    >>> still_needed([one], [], date(2026, 3, 2))[0].amounts
    {1: 300, 2: None}
    """
    boxes = {box.container_id: box for box in shelf}
    # `outlook` says of what holds an amount nobody knows that it is never planned with.
    left = {number: box.amount or 0 for number, box in boxes.items()}
    found: list[StillNeeded] = []
    opens = opening_days(batches := list(batches), shelf)
    for batch in sorted(batches, key=lambda one: (not one.running, one.on, one.number)):
        good: dict[int, int] = {}
        lost: list[LostPart] = []
        unsure: list[HeldPart] = []
        doubts: list[tuple[HeldPart, str]] = []
        for part in batch.held:
            box = boxes.get(part.container_id)
            why = _why_lost(box, batch.on, today, opens.get(part.container_id), warn_share)
            if box is not None and _only_not_known(box, today, warn_share):
                # It was set aside by somebody who looked at it: another tin is not lacking for that.
                why, unsure = "", [*unsure, part]
            amount = 0 if why else min(part.amount, left[part.container_id])
            if amount < part.amount:
                lost.append(LostPart(part, part.amount - amount, why or "does not hold that much any more"))
            if amount and box is not None:
                doubts += [(part, words) for words in _doubts(box, batch.on, today, warn_share)]
                left[part.container_id] -= amount
                good[part.material_id] = good.get(part.material_id, 0) + amount
        rest = lacks(batch.wanted, batch.put_in, good)
        found.append(StillNeeded(batch.number, rest, tuple(lost), tuple(unsure), tuple(doubts)))
    return sorted(found, key=lambda one: one.number)


def opening_days(batches: Iterable[WaitingBatch], shelf: Iterable[ShelfContainer]) -> dict[int, date]:
    """The first day on which a batch opens a sealed container in which it holds something, by its number."""
    sealed = {box.container_id for box in shelf if box.state is ContainerState.SEALED}
    days: dict[int, date] = {}
    for batch in batches:
        for part in batch.held:
            if part.container_id in sealed:
                days[part.container_id] = min(batch.on, days.get(part.container_id, batch.on))
    return days


def lacks(wanted: Amounts, put_in: Mapping[int, int], held: Mapping[int, int]) -> dict[int, int | None]:
    """What is wanted beyond what went in and what is held; what needs nothing more stays away.

    >>> lacks({1: 300, 2: None, 3: 50}, {1: 100}, {1: 50, 3: 50})
    {1: 150, 2: None}
    """
    rest = {
        number: None if amount is None else amount - put_in.get(number, 0) - held.get(number, 0)
        for number, amount in wanted.items()
    }
    return {number: amount for number, amount in rest.items() if amount is None or amount > 0}


def _only_not_known(box: ShelfContainer, today: date, warn_share: Decimal) -> bool:
    ahead = outlook(box, today, warn_share)
    return ahead.look and not ahead.doubted


def _doubts(box: ShelfContainer, on: date, today: date, warn_share: Decimal) -> list[str]:
    """What is said of a container that is planned with, once more of one that is held."""
    found: list[str] = []
    ahead = outlook(box, today, warn_share)
    if not ahead.look and ahead.look_from is not None and ahead.look_from <= on:
        found.append("is to be looked at first by then")
    if box.condition is Condition.DAMAGED:
        found.append("came damaged")
    if box.amount_known is AmountKnown.ESTIMATED:
        found.append("holds an amount that is an estimate")
    return found


def _why_lost(
    box: ShelfContainer | None, on: date, today: date, opens: date | None, warn_share: Decimal
) -> str:
    if box is None:
        return "is not in the shop any more"
    ahead = outlook(box, today, warn_share)
    if ahead.why_not:
        return ahead.why_not
    if ahead.usable_on(on):
        if opens is None or once_opened(box, today, opens, warn_share).usable_on(on):
            return ""
        return f"another batch opens on {say_date(opens)}, and which is past by then"
    return f"is past by then (its last day is {say_date(ahead.until)})" if ahead.until else "is past by then"
