"""Drums of waste: what was put in, where they stand, and what stands in them, folded from their entries.

Doors: core/waste_drum_clocks.py, core/waste_excess.py, records/waste_drum_queries.py, actions/begin_drum.py,
actions/fill_drum.py, outreach/waste_label.py.

Entries are only added. One that was taken back, and a put-in whose movement was taken back, does not count.
An amount nobody knows is never nothing: the sum is then "at least", and only a weighing makes it known again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from fractions import Fraction
from typing import Final

from service.core.materials import Unknown
from service.core.months import add_days

GALLON_UL: Final = Fraction("3785411.784")
"""Microlitres of a US gallon."""
QUART_UL: Final = GALLON_UL / 4


class Area(StrEnum):
    """Where a drum is filled: at the point where its waste arises, or where the shop gathers all of it."""

    SATELLITE = "satellite"
    CENTRAL = "central"


AREA_WORDS: Final = {
    Area.SATELLITE: "satellite area, where the waste arises",
    Area.CENTRAL: "central accumulation area",
}


class DrumStep(StrEnum):
    """What an entry of a drum says."""

    PUT_IN = "put-in"
    OVER = "over"
    WEIGHED = "weighed"
    MOVED = "moved"
    CLOSED = "closed"
    HANDED_OVER = "handed-over"
    TAKEN_BACK = "taken-back"


STEP_WORDS: Final = {
    DrumStep.PUT_IN: "put in",
    DrumStep.OVER: "over the amount of a satellite area",
    DrumStep.WEIGHED: "weighed or measured",
    DrumStep.MOVED: "moved to the central area",
    DrumStep.CLOSED: "full and closed",
    DrumStep.HANDED_OVER: "handed over",
    DrumStep.TAKEN_BACK: "taken back",
}


@dataclass(frozen=True, kw_only=True)
class DrumEntry:
    """One entry, in the order of the book by ``number``; ``on`` is the shop's day on which it happened.

    Args:
        mg, ul: mass and volume in whole mg and microlitres; None = not known. Of a weighing: all that is in.
        undone: the movement of the store behind it was taken back.
    """

    number: int
    step: DrumStep
    on: date
    order: tuple[object, ...] = ()
    mg: int | None = None
    ul: int | None = None
    reverses: int | None = None
    undone: bool = False


@dataclass(frozen=True, kw_only=True)
class DrumFacts:
    """A drum as it was begun. ``acute`` not known counts as acute; ``capacity_ul`` None: not known.

    ``spot``: the point of generation it stands at; satellite drums of one spot share its amount.
    ``begun_on``: the day the book began with it; None: not told.
    """

    number: int
    name: str
    area: Area
    acute: Unknown
    capacity_ul: int | None = None
    spot: int | None = None
    begun_on: date | None = None


@dataclass(frozen=True)
class Held:
    """An amount so far: what is known of it, and whether something unknown comes on top."""

    known: int = 0
    more: bool = False

    def plus(self, amount: int | None) -> Held:
        return Held(self.known, True) if amount is None else Held(self.known + amount, self.more)


@dataclass(frozen=True)
class Filling:
    """How full a drum was from a day on, in microlitres and milligrams."""

    on: date
    ul: Held
    mg: Held


@dataclass(frozen=True)
class DrumState:
    """A drum as its entries leave it. ``first_on``: the day of the first waste; None: it is empty."""

    facts: DrumFacts
    first_on: date | None = None
    moved_on: date | None = None
    over_told_on: date | None = None
    closed_on: date | None = None
    gone_on: date | None = None
    mg: Held = field(default_factory=Held)
    ul: Held = field(default_factory=Held)
    fillings: tuple[Filling, ...] = ()
    unwritten: bool = False
    """Something is in it of which nobody wrote that it was put in."""

    @property
    def in_satellite(self) -> bool:
        return self.facts.area is Area.SATELLITE and self.moved_on is None and self.gone_on is None

    @property
    def standing(self) -> bool:
        return self.gone_on is None

    @property
    def central_since(self) -> date | None:
        """The accumulation start date: the first waste in the central area, or the day it was moved there."""
        return self.first_on if self.facts.area is Area.CENTRAL else self.moved_on

    @property
    def most_ul(self) -> int | None:
        """The most that can be in it: no drum holds more than its size. None: not known."""
        return most_in(self.facts, self.ul)


def most_in(facts: DrumFacts, held: Held) -> int | None:
    """The most of what stands in a drum with these facts; None where neither amount nor size is known."""
    if not held.more:
        return held.known
    return None if facts.capacity_ul is None else max(facts.capacity_ul, held.known)


def counting(entries: Iterable[DrumEntry]) -> list[DrumEntry]:
    """The entries that count, in the order in which they happened: without those taken back."""
    found = list(entries)
    gone = {one.reverses for one in found if one.reverses is not None}
    kept = [
        one for one in found
        if one.step is not DrumStep.TAKEN_BACK and one.number not in gone and not one.undone
    ]  # fmt: skip
    return sorted(kept, key=lambda one: (one.on, one.order, one.number))


_TELLS: Final = (DrumStep.OVER, DrumStep.MOVED, DrumStep.CLOSED, DrumStep.HANDED_OVER)
"""What happens to no empty drum: something is in it, though nobody wrote down what."""


def counting_whole(facts: DrumFacts, entries: Iterable[DrumEntry]) -> list[DrumEntry]:
    """The entries that count, and what they show to have been put in unwritten: number 0, amount not known.

    A drum that is full, over, moved or handed over holds something, since the earliest day it can have; in
    which month up to then it arose is not known.
    """
    told = list(entries)
    kept = counting(told)
    first = next((one for one in kept if one.step in (DrumStep.PUT_IN, DrumStep.WEIGHED, *_TELLS)), None)
    if first is None or first.step not in _TELLS:
        return kept
    since = _earliest(facts, told, first.on)
    days = {(day.year, day.month): day for day in (first.on, since)}
    return [*(DrumEntry(number=0, step=DrumStep.PUT_IN, on=day) for day in sorted(days.values())), *kept]


def fold_drum(facts: DrumFacts, entries: Iterable[DrumEntry]) -> DrumState:
    """What a drum is after its entries.

    >>> facts = DrumFacts(number=1, name="A", area=Area.CENTRAL, acute=Unknown.NO)
    >>> put = DrumEntry(number=1, step=DrumStep.PUT_IN, on=date(2026, 2, 1), mg=2_000_000)
    >>> fold_drum(facts, [put]).central_since.isoformat(), fold_drum(facts, [put]).ul
    ('2026-02-01', Held(known=0, more=True))
    """
    days: dict[DrumStep, date] = {}
    first: date | None = None
    mg, ul, fillings = Held(), Held(), []
    settled: set[tuple[str, date]] = set()
    told = list(entries)
    whole = counting_whole(facts, told)
    for one in whole:
        if one.step in (DrumStep.PUT_IN, DrumStep.WEIGHED):
            if first is None and one.step is DrumStep.WEIGHED:
                # That something is in it a weighing says, but not since when: since the earliest day told.
                first = _earliest(facts, told, one.on)
                fillings.append(Filling(first, Held(0, True), Held(0, True)))
            first = first or _since(told, one.on)
            if one.step is DrumStep.PUT_IN:
                mg, ul = mg.plus(one.mg), ul.plus(one.ul)
            else:
                mg, ul = _weighed(one, mg, ul, settled)
                settled |= {(name, one.on) for name in ("mg", "ul") if getattr(one, name) is not None}
            fillings.append(Filling(one.on, ul, mg))
        else:
            days.setdefault(one.step, one.on)
            if one.step is DrumStep.HANDED_OVER and one.mg is not None:
                fillings.append(Filling(one.on, ul, Held(one.mg)))
    return DrumState(
        facts, first, days.get(DrumStep.MOVED), days.get(DrumStep.OVER), days.get(DrumStep.CLOSED),
        days.get(DrumStep.HANDED_OVER), mg, ul, tuple(fillings), any(one.number == 0 for one in whole),
    )  # fmt: skip


def _earliest(facts: DrumFacts, entries: Iterable[DrumEntry], on: date) -> date:
    """The earliest day on which something may have gone in: begun, or a put-in, even one taken back."""
    puts = [one.on for one in entries if one.step is DrumStep.PUT_IN]
    return min([on, *puts, *([facts.begun_on] if facts.begun_on else [])])


def _since(entries: Iterable[DrumEntry], on: date) -> date:
    """The day from which the first put-in counts: that of one taken back, if it was earlier.

    Nobody can tell whether that one ever stood in the drum; taking it back gives no more time.
    """
    gone = {one.reverses for one in entries if one.reverses is not None}
    puts = [one.on for one in entries if one.step is DrumStep.PUT_IN and one.number in gone]
    return min([on, *puts])


def _weighed(one: DrumEntry, mg: Held, ul: Held, settled: set[tuple[str, date]]) -> tuple[Held, Held]:
    """Mass and volume after a weighing: the measure that was weighed is known, the other rarely is.

    The other stays as it was if it was measured on the same day too and both can be of one filling, or if all
    that is in was known in the measure weighed and no more was found; else more than is known
    of it may be in, up to the drum's size.
    """
    if one.mg is not None and one.ul is not None:
        return Held(one.mg), Held(one.ul)
    if one.mg is not None:
        both = ("ul", one.on) in settled and mg.more and _can_be(one.mg, ul)
        keeps = both or not _found_more(one.mg, mg)
        return Held(one.mg), ul if keeps else Held(ul.known, True)
    if one.ul is not None:
        both = ("mg", one.on) in settled and ul.more and _can_be(mg.known, Held(one.ul))
        keeps = both or not _found_more(one.ul, ul)
        return mg if keeps else Held(mg.known, True), Held(one.ul)
    return Held(mg.known, True), Held(ul.known, True)


def _can_be(mg: int, ul: Held) -> bool:
    """Whether mass and volume can be of one filling, loose rags to heavy sludge: 0.02 to 15 kg a litre."""
    return ul.known <= mg * 50 and mg <= ul.known * 15


def _found_more(weighed: int, before: Held) -> bool:
    return before.more or weighed > before.known


@dataclass(frozen=True)
class Excess:
    """Since when a satellite area holds too much. ``certain`` False: it may, as an amount is not known."""

    on: date
    certain: bool


def excess_of(
    drums: Sequence[DrumState], limit_ul: Fraction, before: date | None = None
) -> Excess | None:
    """Since when the drums that share one spot have held more than its limit together; None: they do not.

    All drums that ever stood there are given: those that left count up to that day. Exactly the limit is
    within it; the fraction of a microlitre that whole numbers cost is no excess. Where an amount is not known
    the sizes of the drums bound it; where these do not, the area may be over since the first such day.

    Args:
        before: as it was at the end of the day before this one; None = as it is.
    """
    bound = -(-limit_ul.numerator // limit_ul.denominator)
    told = [one.over_told_on for one in drums if one.over_told_on is not None and _is_there(one, before)]
    sure: date | None = None
    perhaps: date | None = None
    for day in sorted({day for one in drums for day in _days(one)}):
        if before is not None and day >= before:
            break
        there = [(one, _filled(one, day)) for one in drums if _stands(one, day)]
        known = sum(held.known for _, held in there)
        sizes = [most_in(one.facts, held) for one, held in there]
        most = None if None in sizes else sum(size for size in sizes if size is not None)
        sure = (sure or day) if known > bound else None
        perhaps = (perhaps or day) if most is None or most > bound else None
    certain = min((day for day in (sure, *told) if day is not None), default=None)
    # The earlier of both days: what is not known never gives more time.
    if certain is not None and (perhaps is None or certain <= perhaps):
        return Excess(certain, True)
    return None if perhaps is None else Excess(perhaps, False)


def _is_there(one: DrumState, before: date | None) -> bool:
    """Whether a drum told to be over stands in its satellite area now, or did before that day."""
    if before is None:
        return one.in_satellite
    told = one.over_told_on
    return told is not None and told < before and _stands(one, add_days(before, -1))


def _days(one: DrumState) -> Iterable[date]:
    yield from (filling.on for filling in one.fillings)
    yield from (day for day in (one.moved_on, one.gone_on) if day is not None)


def _stands(one: DrumState, day: date) -> bool:
    """Whether it counts for its spot on a day; from the day it leaves on it does not."""
    left = min((gone for gone in (one.moved_on, one.gone_on) if gone is not None), default=None)
    return one.facts.area is Area.SATELLITE and (left is None or day < left)


def _filled(one: DrumState, day: date) -> Held:
    """How full it was at the end of a day."""
    before = [filling.ul for filling in one.fillings if filling.on <= day]
    return before[-1] if before else Held()
