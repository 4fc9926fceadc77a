"""More in a container than the book says: what went in unwritten was seen by no look made before."""

from __future__ import annotations

from service.actions.follow_pourings import follow_pourings
from service.actions.how_it_stands import how_it_stands
from service.actions.look_again import MORE_IN_IT, tell_to_look_again
from service.actions.post_movement import Line, Written, post
from service.actions.settle import Act
from service.core.life_facts import CheckOutcome
from service.records.ageing_queries import checks_of
from service.records.stock_queries import Held


def post_found_more(act: Act, held: Held, line: Line) -> Written:
    """Post a count that found more. Looks made before it count no longer, nor in what was poured since them.

    The reason of the line begins as `core.counting.MORE`; `records.came_in_since` reads it.
    """
    before = how_it_stands(act, held, act.day)
    passed = [one for one in checks_of(act.session, held.container_id) if one.outcome is CheckOutcome.PASSED]
    movement = post(act, held, line)
    kept = set(checks_of(act.session, held.container_id))
    lost = [one for one in passed if one not in kept]
    if not lost:
        return movement
    tell_to_look_again(act, held, before, MORE_IN_IT)
    made = [one.at for one in lost]
    follow_pourings(act, held, None if None in made else min(at for at in made if at is not None))
    return movement
