"""Taking containers into the book: the dates must fit each other, and what is missing is said, never guessed.

Doors: actions/receive_stock.py, actions/arrivals.py, web/pages/receive.py, web/pages/stock_take.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from service.core.containers import Condition
from service.core.findings import Finding, Invalid, Verdict, note, unknown, warn
from service.core.materials import Unknown
from service.core.months import say_date

MOST_AT_ONCE: Final = 200
OLDEST_YEAR: Final = 1900
OVERFULL: Final = Fraction(11, 10)
"""What a container may hold at most, as a share of its nominal capacity: the brim lies some way above it."""


@dataclass(frozen=True)
class ArrivalDates:
    """The dates of what is taken in; None = not known (``printed``: none printed, ``opened``: sealed or not
    known when). ``on`` is the shop day of taking in.
    """

    on: date
    packed: date | None = None
    received: date | None = None
    printed: date | None = None
    opened: date | None = None


def judge_dates(dates: ArrivalDates) -> None:
    """Refuse dates that cannot all be true. A printed date may lie ahead or behind.

    Raises Invalid; ``errors`` names the fields.

    >>> judge_dates(ArrivalDates(date(2026, 3, 12), packed=date(2025, 10, 1), received=date(2026, 3, 12)))
    """
    errors: dict[str, str] = {}
    for name, day in (
        ("packed_on", dates.packed),
        ("received_on", dates.received),
        ("opened_on", dates.opened),
    ):
        if day is not None and day > dates.on:
            errors[name] = f"{say_date(day)} is after the day it was taken in. Check the year."
        elif day is not None and day.year < OLDEST_YEAR:
            errors[name] = f"Enter a year from {OLDEST_YEAR} on, in four digits."
    if not errors and dates.packed is not None:
        later = {"received_on": dates.received, "opened_on": dates.opened}
        for name, day in later.items():
            if day is not None and day < dates.packed:
                errors[name] = (
                    f"It was packed on {say_date(dates.packed)}; this is before that. Check both days."
                )
    if errors:
        raise Invalid(next(iter(errors.values())), errors)


def is_overfull(amount: int, capacity: int) -> bool:
    """True when an amount is more than a container of this nominal capacity takes, both in one unit.

    >>> is_overfull(1_100, 1_000), is_overfull(1_101, 1_000)
    (False, True)
    """
    return amount > capacity * OVERFULL


@dataclass(frozen=True)
class Arrival:
    """What is known of a delivery, for saying what is missing."""

    name: str
    packed_known: bool
    received_known: bool
    amount_known: bool
    place_known: bool
    sheet_came: Unknown
    has_sheet: bool
    opened: bool
    opened_known: bool
    condition: Condition


def what_is_missing(arrival: Arrival) -> Verdict:
    """One finding for each thing missing or wrong with a delivery. It is taken in all the same.

    >>> sound = Arrival("Oil", True, True, True, True, Unknown.YES, True, False, False, Condition.SOUND)
    >>> what_is_missing(sound).findings
    ()
    """
    return Verdict.of([*_unknowns(arrival), *_condition(arrival)])


def _unknowns(a: Arrival) -> list[Finding]:
    found = []
    if not a.packed_known and a.received_known:
        words = "No packed date is known. Its life counts from the day it was received."
        found.append(note("packed-not-known", words, about=a.name))
    if not a.packed_known and not a.received_known:
        words = "Neither a packed nor a received date is known. Look at it each time before use."
        found.append(unknown("start-not-known", words, about=a.name))
    if a.opened and not a.opened_known:
        words = "It is open and nobody knows since when. Look at it each time before use."
        found.append(unknown("opened-not-known", words, about=a.name))
    if not a.amount_known:
        words = "How much is in it is not known. It never counts as enough; weigh or count it when you can."
        found.append(unknown("amount-not-known", words, about=a.name))
    if not a.place_known:
        found.append(
            unknown("place-not-known", "Where it stands is not known. Move it to a place.", about=a.name)
        )
    if a.sheet_came is not Unknown.YES and not a.has_sheet:
        words = f"No safety data sheet for {a.name} is in the book. Ask the supplier for it."
        found.append(unknown("sheet-not-come", words, about=a.name))
    return found


def _condition(a: Arrival) -> list[Finding]:
    if a.condition is Condition.LEAKING:
        words = "It leaks. Stand it in a tray, decant it into a sound container, and book what was lost."
        return [warn("leaking", words, about=a.name)]
    if a.condition is Condition.DAMAGED:
        return [warn("damaged", "It came damaged. Look at it before it goes on the shelf.", about=a.name)]
    if a.condition is Condition.NOT_KNOWN:
        words = "Nobody said in what state it came. Look at it before it goes on the shelf."
        return [unknown("condition-not-known", words, about=a.name)]
    return []
