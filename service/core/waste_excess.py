"""Since when a satellite area holds too much, and from when a drum that was moved counts.

Doors: core/waste_drum_clocks.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from fractions import Fraction
from itertools import pairwise

from service.core.materials import Unknown
from service.core.months import add_days
from service.core.waste_drums import GALLON_UL, QUART_UL, Area, DrumState, Excess, excess_of
from service.core.waste_rules import Clock, ClockRow, WasteTables


def _limit(tables: WasteTables, one: DrumState) -> Fraction:
    """The amount of a satellite area in microlitres: a quart where the waste is acute, or may be."""
    acute = one.facts.acute is not Unknown.NO
    row = tables.clock(Clock.SATELLITE_ACUTE if acute else Clock.SATELLITE)
    if row is None:
        raise ValueError("no rows of satellite areas are held")
    return row.value * (QUART_UL if acute else GALLON_UL)


def started_on(tables: WasteTables, drums: Sequence[DrumState], one: DrumState) -> date | None:
    """From when its time in the central area counts: never later than the three days of an excess ended.

    An excess that lasted longer than these days is not forgotten by a lower weighing before the move.
    """
    if one.moved_on is None:
        return one.central_since
    days, moved = int(three_days(tables).value), one.moved_on
    starts = [moved]
    ended = {day for other in drums for day in _lowered(other) if day < moved}
    for day in sorted(ended | {moved}):
        excess = excess_at(tables, drums, one, day)
        if excess is not None and (day == moved or add_days(excess.on, days) < day):
            starts.append(add_days(excess.on, days))
    return min(starts)


def _lowered(one: DrumState) -> Iterable[date]:
    """The days on which an excess may have ended: less was found in a drum, or it left its place."""
    for before, after in pairwise(one.fillings):
        if after.ul.known < before.ul.known or (before.ul.more and not after.ul.more):
            yield after.on
    yield from (day for day in (one.moved_on, one.gone_on) if day is not None)


def three_days(tables: WasteTables) -> ClockRow:
    row = tables.clock(Clock.SATELLITE_DAYS)
    if row is None:
        raise ValueError("no rows of satellite areas are held")
    return row


def excess_at(
    tables: WasteTables, drums: Sequence[DrumState], one: DrumState, before: date | None = None
) -> Excess | None:
    """Since when the spot of a satellite drum holds too much, or may.

    Satellite drums of one place share its amount, acute waste apart. Those whose place is not told share one
    too, and may stand at any other.
    """
    limit, no_acute = _limit(tables, one), one.facts.acute is Unknown.NO
    spots: dict[int | None, list[DrumState]] = {}
    for other in drums:
        if other.facts.area is Area.SATELLITE and (other.facts.acute is Unknown.NO) is no_acute:
            spots.setdefault(other.facts.spot, []).append(other)
    lost = spots.get(None, [])
    here = excess_of(spots[one.facts.spot], limit, before)
    maybe = [many for spot, many in spots.items() if spot is not None and lost]
    if one.facts.spot is not None:
        maybe = [spots[one.facts.spot]] if lost else []
    shared = [excess_of([*many, *lost], limit, before) for many in maybe]
    found = [here] if here else []
    found += [Excess(excess.on, False) for excess in shared if excess is not None]
    return min(found, key=lambda excess: (excess.on, not excess.certain), default=None)
