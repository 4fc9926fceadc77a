"""More in a container than the book says: what went in unwritten was seen by no look made before."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from service.actions.follow_pourings import follow_pourings
from service.actions.how_it_stands import how_it_stands
from service.actions.look_again import AGAIN, MORE_IN_IT, tell_to_look_again
from service.actions.post_movement import Line, Written, post
from service.actions.settle import Act
from service.core.life_facts import CheckOutcome, ConditionCheck
from service.records.ageing_queries import checks_of
from service.records.stock_queries import Held


class WatchedLooks:
    """The looks of a container that count before something is written; `tell` says which are lost by it."""

    def __init__(self, act: Act, held: Held) -> None:
        self.act, self.held = act, held
        self.before, self.passed = how_it_stands(act, held, act.day), self._passed()

    def tell(self, why: str) -> None:
        """Tell of the looks that count no longer, and let the jars that were filled since them follow."""
        kept = set(self._passed())
        lost = [one for one in self.passed if one not in kept]
        if not lost:
            return
        tell_to_look_again(self.act, self.held, self.before, why)
        made = [one.at for one in lost]
        since = None if None in made else min(at for at in made if at is not None)
        follow_pourings(self.act, self.held, since)

    def _passed(self) -> list[ConditionCheck]:
        checks = checks_of(self.act.session, self.held.container_id)
        return [one for one in checks if one.outcome is CheckOutcome.PASSED]


def post_found_more(act: Act, held: Held, line: Line) -> Written:
    """Post a count that found more. Looks made before it count no longer, nor in what was poured since them.

    The reason of the line begins as `core.counting.MORE`; `records.came_in_since` reads it.
    """
    looks = WatchedLooks(act, held)
    movement = post(act, held, line)
    looks.tell(MORE_IN_IT)
    return movement


@contextmanager
def looks_watched(act: Act, held: Held) -> Iterator[None]:
    """The same for what is written late: by it a count made since may have found more than the book said."""
    looks = WatchedLooks(act, held) if act.posting.late else None
    yield
    if looks is not None and not any(one.code == AGAIN for one in act.findings):
        looks.tell(MORE_IN_IT)
