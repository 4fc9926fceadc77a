"""More in a container than the book says: what went in unwritten was seen by no look made before."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from service.actions.follow_pourings import follow_pourings
from service.actions.how_it_stands import how_it_stands
from service.actions.look_again import AGAIN, MORE_IN_IT, tell_to_look_again
from service.actions.post_movement import Line, Written, post
from service.actions.settle import Act
from service.core.ageing import Ageing
from service.core.life_facts import CheckOutcome, ConditionCheck
from service.records.ageing_queries import checks_of
from service.records.stock_queries import Held


def post_found_more(act: Act, held: Held, line: Line) -> Written:
    """Post a count that found more. Looks made before it count no longer, nor in what was poured since them.

    The reason of the line begins as `core.counting.MORE`; `records.came_in_since` reads it.
    """
    before, passed = how_it_stands(act, held, act.day), _passed(act, held)
    movement = post(act, held, line)
    _tell_lost(act, held, before, passed)
    return movement


@contextmanager
def looks_watched(act: Act, held: Held) -> Iterator[None]:
    """The same for what is written late: by it a count made since may have found more than the book said."""
    if not act.posting.late:
        yield
        return
    before, passed = how_it_stands(act, held, act.day), _passed(act, held)
    yield
    if not any(one.code == AGAIN for one in act.findings):
        _tell_lost(act, held, before, passed)


def _passed(act: Act, held: Held) -> list[ConditionCheck]:
    return [one for one in checks_of(act.session, held.container_id) if one.outcome is CheckOutcome.PASSED]


def _tell_lost(act: Act, held: Held, before: Ageing, passed: list[ConditionCheck]) -> None:
    kept = set(checks_of(act.session, held.container_id))
    lost = [one for one in passed if one not in kept]
    if not lost:
        return
    tell_to_look_again(act, held, before, MORE_IN_IT)
    made = [one.at for one in lost]
    follow_pourings(act, held, None if None in made else min(at for at in made if at is not None))
