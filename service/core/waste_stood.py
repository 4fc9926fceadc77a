"""Whether more waste than a limit ever stood on the site, by the drums that stood there day by day.

Doors: core/waste_drum_clocks.py.

What was not known then is bounded by what was weighed later; a drum that left counts on the day it left.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from service.core.waste_drums import DrumState


@dataclass(frozen=True)
class StoodOver:
    """The last day on which more than the limit stood there, and the last on which it may have."""

    sure: date | None = None
    perhaps: date | None = None

    def with_it(self, first_on: date | None) -> bool | None:
        """Whether a drum filled since ``first_on`` stood there then. None: not known."""
        if first_on is None:
            return False
        if self.sure is not None and first_on <= self.sure:
            return True
        return None if self.perhaps is not None and first_on <= self.perhaps else False


def stood_over(drums: Sequence[DrumState], limit_mg: int, unsure: Iterable[DrumState] = ()) -> StoodOver:
    """The last days on which the drums held more than a limit together; exactly the limit is within.

    Args:
        drums: all that ever stood there.
        unsure: drums that count for "perhaps" only.
    """
    doubtful = list(unsure)
    bounds = {id(one): _bounds(one) for one in (*drums, *doubtful)}
    days = sorted({filling.on for one in (*drums, *doubtful) for filling in one.fillings})
    sure = perhaps = None
    for day in days:
        known = [_on(one, bounds[id(one)], day) for one in drums]
        more = [_on(one, bounds[id(one)], day) for one in doubtful]
        if sum(least for least, _ in known) > limit_mg:
            sure = day
        most = [upper for _, upper in (*known, *more)]
        if None in most or sum(upper for upper in most if upper is not None) > limit_mg:
            perhaps = day
    return StoodOver(sure, perhaps)


def _bounds(one: DrumState) -> list[tuple[date, int, int | None]]:
    """Day, least and most of every filling, in mg; the most None: nothing bounds it."""
    found: list[tuple[date, int, int | None]] = []
    later: int | None = None
    for filling in reversed(one.fillings):
        least = filling.mg.known
        if not filling.mg.more:
            later = least
        most = None if later is None else max(least, later)
        found.append((filling.on, least, most))
    return found[::-1]


def _on(one: DrumState, bounds: list[tuple[date, int, int | None]], day: date) -> tuple[int, int | None]:
    """Least and most of a day, the day it left with it: the heaviest it was on that day."""
    if one.gone_on is not None and day > one.gone_on:
        return 0, 0
    past = [bound for bound in bounds if bound[0] <= day]
    of_day = [bound for bound in past if bound[0] == day] or past[-1:]
    if not of_day:
        return 0, 0
    mosts = [most for _, _, most in of_day]
    most = None if None in mosts else max(most for most in mosts if most is not None)
    return max(least for _, least, _ in of_day), most
