"""What of the store goes first, and why: by standing, date, and the oil that its air may have spent.

Doors: actions/list_use_first.py, actions/check_mix.py, core/stock_check.py.

The second clock only ever moves a container up: it decides between equal dates, and a container of whose oil
much may be spent stands among those to look at first. Its standing and its date stay what they are.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from service.core.containers import Standing
from service.core.film_ranges import Span
from service.core.lid_lifts import Lifts
from service.core.months import say_date
from service.core.second_clock import SecondClock

NOT_TOLD: Final = 1.0
"""In line a clock that cannot be told counts as if all of the oil were spent."""


@dataclass(frozen=True)
class AirStanding:
    """What the second clock says to the order: ``rank`` from 0 (no such clock, or nothing) to 1.

    ``spent``: the share of its oil by the openings whose air is known, for the order among those not known.
    """

    rank: float = 0.0
    much: bool = False
    spent: float = 0.0
    openings: int | None = None
    full: Span | None = None

    @property
    def order(self) -> tuple[float, float, int]:
        """The key among equal dates: the most spent is least."""
        return -self.rank, -self.spent, -(self.openings or 0)

    @property
    def words(self) -> str:
        """How it looks, in a few words: "half empty, opened 10 times"; empty where there is nothing to say.

        >>> AirStanding(0.2, openings=10, full=(0.5, 0.5)).words
        'half empty, opened 10 times'
        """
        parts = [fill_words(self.full), opened_words(self.openings)]
        if self.much:
            parts.append("much of its oil may be spent")
        return ", ".join(part for part in parts if part)


NO_AIR: Final = AirStanding()
"""Of what is sealed, or surely takes up no oxygen."""


def air_standing(clock: SecondClock, lifts: Lifts, full: Span | None) -> AirStanding:
    """The place of an opened tin of oil among others; what is not known of its air counts as the most.

    >>> from service.core.second_clock import reckon
    >>> none = Lifts((), False, False, False)
    >>> air_standing(reckon([None]), none, None).rank, air_standing(reckon([]), none, None).rank
    (1.0, 1.0)
    """
    told = clock.share is not None and clock.each and not (lifts.came_open or lifts.poured_in)
    rank = clock.share[1] if told and clock.share is not None else NOT_TOLD
    return AirStanding(rank, clock.much, clock.known_share, clock.openings, full)


def fill_words(full: Span | None) -> str:
    """How full it is in words; empty when nearly full or not known.

    >>> fill_words((0.5, 0.5)), fill_words((0.05, 0.05)), fill_words((0.9, 1.0)), fill_words(None)
    ('half empty', 'nearly empty', '', '')
    """
    if full is None:
        return ""
    middle = (full[0] + full[1]) / 2
    for least, words in ((0.85, ""), (0.6, "a quarter gone"), (0.35, "half empty"), (0.12, "a quarter full")):
        if middle >= least:
            return words
    return "nearly empty"


def opened_words(openings: int | None) -> str:
    """
    >>> opened_words(1), opened_words(3), opened_words(0), opened_words(None)
    ('opened once', 'opened 3 times', '', '')
    """
    if not openings:
        return ""
    return "opened once" if openings == 1 else f"opened {openings} times"


@dataclass(frozen=True)
class InLine:
    """One container in the line of what goes first; ``until``: the last day it may be in date, if known."""

    code: str
    standing: Standing
    until: date | None
    is_open: bool
    air: AirStanding = NO_AIR


_BANDS: Final = {
    Standing.PAST: 0, Standing.LOOK_FIRST: 1, Standing.NOT_KNOWN: 2, Standing.IN_DATE: 3,
}  # fmt: skip


def place_in_line(one: InLine) -> tuple[int, date, bool, tuple[float, float, int], str]:
    """The key to sort by: what goes first is least.

    >>> oil = InLine("B", Standing.IN_DATE, date(2026, 5, 31), True, AirStanding(0.02))
    >>> worse = InLine("C", Standing.IN_DATE, date(2026, 5, 31), True, AirStanding(0.04))
    >>> [each.code for each in sorted([oil, worse], key=place_in_line)]
    ['C', 'B']
    """
    band = _BANDS[one.standing]
    if one.air.much:
        band = min(band, _BANDS[Standing.LOOK_FIRST])
    return band, one.until or date.max, not one.is_open, one.air.order, one.code


def why_this(is_open: bool, until: date | None, air: AirStanding) -> str:
    """Why a container is taken before others of its material, in one line.

    >>> why_this(True, date(2026, 5, 3), AirStanding(0.1, openings=10, full=(0.5, 0.5)))
    'use first: open already, in date until 3 May 2026, half empty, opened 10 times'
    >>> why_this(False, None, AirStanding())
    ''
    """
    parts = [
        "open already" if is_open else "",
        f"in date until {say_date(until)}" if until else "",
        air.words if is_open else "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"use first: {said}" if is_open else said


@dataclass(frozen=True)
class EndsTogether:
    """Containers of one material that end in the same month."""

    material_id: int
    name: str
    year: int
    month: int
    codes: tuple[str, ...]


def ending_together(
    lines: list[tuple[int, str, str, date | None]], today: date, by: date
) -> list[EndsTogether]:
    """Of (material, name, code, last day) those that end from today to a day, by month and material.

    >>> both = [(1, "boiled oil", "A", date(2028, 2, 29)), (1, "boiled oil", "B", date(2028, 2, 1))]
    >>> found = ending_together(both, date(2028, 1, 1), date(2028, 6, 30))
    >>> [(one.month, one.codes) for one in found]
    [(2, ('A', 'B'))]
    """
    groups: dict[tuple[int, int, str, int], list[str]] = {}
    for material_id, name, code, until in lines:
        if until is not None and today <= until <= by:
            groups.setdefault((until.year, until.month, name, material_id), []).append(code)
    return [
        EndsTogether(material_id, name, year, month, tuple(codes))
        for (year, month, name, material_id), codes in sorted(groups.items())
    ]
