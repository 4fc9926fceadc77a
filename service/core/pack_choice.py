"""Which packs to buy: the least amount that covers every shortage while each opened pack is still in date.

Doors: core/order_list.py.

Packs are opened one after the other, each when the one before is used up or past. So a choice is a walk
along the sum of all shortages: a pack opened at a point leads on by its amount, but no farther than the
shortages of the days it is in date. The least amount over a set of walks cannot rise when a shortage falls,
as every walk that covered the larger plan covers the smaller one; that is why a smaller plan never orders
more.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from heapq import heappop, heappush
from itertools import accumulate, combinations
from math import factorial, gcd, lcm, prod
from typing import Final

MOST_STATES: Final = 2000
"""Points a search may look at. Beyond it only sets of two sizes, or one, are compared (still a cover)."""


@dataclass(frozen=True)
class PackSize:
    """A pack one can buy; ``amount`` in smallest units, above zero; ``price`` of one, None = not known.

    ``lead_days``: working days from ordering to delivery, None = not known. ``words``: its size as sold.
    """

    pack_id: int
    amount: int
    price: Decimal | None = None
    supplier: str = ""
    lead_days: int | None = None
    words: str = ""


@dataclass(frozen=True)
class OpenedPacks:
    """``count`` packs opened on one day, together used for ``used``; ``until``: the last day in date."""

    pack: PackSize
    count: int
    opens_on: date
    until: date | None
    last_use: date
    used: int

    @property
    def left(self) -> int:
        """What of them no planned job takes."""
        return self.pack.amount * self.count - self.used


# Of equal amounts: fewest without a price, then least cost, then fewest packs.
# Costs are whole multiples of the finest price among the sizes: adding them must be quick.
_Weight = tuple[int, int, int]
_NOTHING: Final[_Weight] = (0, 0, 0)


@dataclass(frozen=True)
class _Way:
    """The shortages as a line: ``ends[i]`` is their sum up to day i, ``reach[i]`` how far a pack opened then
    can lead."""

    days: tuple[date, ...]
    ends: tuple[int, ...]
    lasts: tuple[date | None, ...]
    reach: tuple[int, ...]

    @property
    def whole(self) -> int:
        return self.ends[-1]

    def at(self, done: int) -> int:
        """The day on which the next bit is needed."""
        return bisect_right(self.ends, done)

    def led(self, done: int, amount: int) -> int:
        return min(done + amount, self.reach[self.at(done)])


def choose_packs(
    shortages: Mapping[date, int],
    sizes: Sequence[PackSize],
    last_day: Callable[[date], date | None],
    comes: Callable[[PackSize], date | None] = lambda size: None,
    needed_by: Callable[[date], date] = lambda day: day,
) -> tuple[OpenedPacks, ...] | None:
    """The packs to open, in order: least amount, then least cost, then fewest. None without a pack size.

    ``last_day`` gives the last day in date of a pack opened on a day, at least that day, None = no limit; it
    must not fall as its day rises. ``comes``: when a pack is here that is ordered now (None = not known, it
    is taken as in time); a day is met from packs that are here by ``needed_by`` of it or, where none is, from
    those that come first. Of packs of one amount the known ones in time count, of these the cheapest.

    >>> small, large = PackSize(1, 250, Decimal(4)), PackSize(2, 1000, Decimal(9))
    >>> chosen = choose_packs({date(2026, 3, 2): 400}, [small, large], lambda day: None)
    >>> [(one.pack.amount, one.count) for one in chosen]
    [(250, 2)]
    """
    needed = {day: amount for day, amount in sorted(shortages.items()) if amount > 0}
    if not needed:
        return ()
    arrivals = {size.pack_id: comes(size) for size in sizes}
    able = [_cheapest(_in_time(sizes, arrivals, needed_by(day)), arrivals) for day in needed]
    if not able[0]:
        return None
    way = _way(needed, last_day)
    weights = _weights(one for day in able for one in day)
    amounts = {one.amount: one for day in able for one in day}
    if _states(list(amounts.values()), way.whole) <= MOST_STATES:
        best = _search(able, weights, way)
    else:
        # What is in time for the first day is in time for each: later days are offered no more than that.
        first = able[0]
        pairs = (pair for pair in combinations(first, 2) if _states(pair, way.whole) <= MOST_STATES)
        alone = [_of_one(one, way) for one in first]
        found = [*alone, *(_search([list(pair)] * len(needed), weights, way) for pair in pairs)]
        best = min(
            found, key=lambda packs: (sum(one.amount * n for one, n in packs), _weight(packs, weights))
        )
    return _opened(best, way)


_Arrivals = Mapping[int, date | None]


def _in_time(sizes: Iterable[PackSize], arrivals: _Arrivals, needed: date) -> list[PackSize]:
    """The packs that are here by a day, else those that come first. A later day never offers fewer."""
    sizes = [one for one in sizes if one.amount > 0]
    known = [day for one in sizes if (day := arrivals[one.pack_id]) is not None]
    latest = max(needed, min(known, default=needed))
    return [one for one in sizes if (day := arrivals[one.pack_id]) is None or day <= latest]


def _cheapest(sizes: Iterable[PackSize], arrivals: _Arrivals) -> list[PackSize]:
    kept: dict[int, PackSize] = {}
    for one in sorted(
        sizes,
        key=lambda s: (
            arrivals[s.pack_id] is None, s.price is None, s.price or 0, s.lead_days is None,
            s.lead_days or 0, s.pack_id,
        ),
    ):  # fmt: skip
        kept.setdefault(one.amount, one)
    return [kept[amount] for amount in sorted(kept)]


def _way(needed: Mapping[date, int], last_day: Callable[[date], date | None]) -> _Way:
    days = tuple(needed)
    ends = tuple(accumulate(needed.values()))
    lasts = tuple(last_day(day) for day in days)
    reach = tuple(ends[-1] if last is None else ends[bisect_right(days, last) - 1] for last in lasts)
    return _Way(days, ends, lasts, reach)


def _states(sizes: Sequence[PackSize], whole: int) -> int:
    """At most so many sums can come up; rises with ``whole``, so a smaller plan is searched no less."""
    amounts = [one.amount for one in sizes]
    farthest = whole + max(amounts)
    # So many ways at most to put packs together up to there: the volume of a corner of a box around them.
    ways = Fraction((farthest + sum(amounts)) ** len(amounts), prod(amounts) * factorial(len(amounts)))
    return min(farthest // gcd(*amounts), int(ways))


_Packs = tuple[tuple[PackSize, int], ...]
"""Packs in the order in which they are opened, equal ones that follow each other counted."""


def _search(able: Sequence[Sequence[PackSize]], weights: Mapping[int, _Weight], way: _Way) -> _Packs:
    """Best first by amount; of each amount the points that are farther, or as far for less, are kept.

    ``able``: the packs that may be opened on each day.
    """
    steps = [[(size, *weights[size.pack_id]) for size in sizes] for sizes in able]
    # At each amount: point -> (weight, the step that led there).
    at: dict[int, dict[int, tuple[_Weight, int, PackSize | None]]] = {0: {0: (_NOTHING, 0, None)}}
    waiting, farthest = [0], -1
    while True:
        amount = heappop(waiting)
        points = at[amount]
        if way.whole in points:
            return _walked(at, amount, way.whole)
        # Fewer ounces already led as far: no walk through here can be the least.
        for done in [point for point in points if point <= farthest]:
            del points[done]
        farthest = max([farthest, *points])
        for done, (weight, _, _) in points.items():
            for size, no_price, cost, one in steps[way.at(done)]:
                more = amount + size.amount
                if more not in at:
                    at[more] = {}
                    heappush(waiting, more)
                to = way.led(done, size.amount)
                new = (weight[0] + no_price, weight[1] + cost, weight[2] + one)
                if to not in at[more] or new < at[more][to][0]:
                    at[more][to] = (new, done, size)


def _walked(
    at: Mapping[int, Mapping[int, tuple[_Weight, int, PackSize | None]]], amount: int, done: int
) -> _Packs:
    steps: list[tuple[PackSize, int]] = []
    while True:
        _, before, size = at[amount][done]
        if size is None:
            return tuple(reversed(steps))
        steps.append((size, 1))
        amount, done = amount - size.amount, before


def _of_one(size: PackSize, way: _Way) -> _Packs:
    done, count = 0, 0
    while done < way.whole:
        today = way.at(done)
        opened = -(-(way.ends[today] - done) // size.amount)
        count += opened
        done = min(done + opened * size.amount, way.reach[today])
    return ((size, count),)


def _weights(sizes: Iterable[PackSize]) -> dict[int, _Weight]:
    """What one pack of each size weighs in a choice."""
    prices = {one.pack_id: None if one.price is None else Fraction(one.price) for one in sizes}
    finest = lcm(*(price.denominator for price in prices.values() if price is not None))
    return {
        number: (1, 0, 1) if price is None else (0, int(price * finest), 1)
        for number, price in prices.items()
    }


def _weight(packs: _Packs, weights: Mapping[int, _Weight]) -> _Weight:
    parts = [tuple(part * count for part in weights[size.pack_id]) for size, count in packs]
    no_price, cost, count = (sum(column) for column in zip(*parts, strict=True))
    return no_price, cost, count


def _opened(packs: _Packs, way: _Way) -> tuple[OpenedPacks, ...]:
    """The same walk with its days; packs of one size opened on one day together."""
    opened: list[OpenedPacks] = []
    done = 0
    for size, count in packs:
        left = count
        while left:
            today = way.at(done)
            # Whole packs that this day begins: the last of them may lead on to later days.
            n = min(left, -(-(way.ends[today] - done) // size.amount))
            to = min(done + n * size.amount, way.reach[today])
            last = way.days[bisect_left(way.ends, to)]
            one = OpenedPacks(size, n, way.days[today], way.lasts[today], last, to - done)
            before = opened[-1] if opened else None
            if before and before.pack == size and before.opens_on == one.opens_on:
                opened[-1] = replace(
                    before, count=before.count + n, last_use=last, used=before.used + one.used
                )
            else:
                opened.append(one)
            done, left = to, left - n
    return tuple(opened)
