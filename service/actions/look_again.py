"""What is told when something comes back that was out while a look was made: it was not looked at."""

from __future__ import annotations

from typing import Final

from service.actions.how_it_stands import how_it_stands
from service.actions.post_movement import name_of
from service.actions.settle import Act
from service.core.ageing import Ageing
from service.core.findings import warn
from service.records.stock_queries import Held

AGAIN: Final = "look-again"
OUT: Final = "was looked at while some of it was out: that look says nothing of what came back"
OUT_OF_ANY: Final = (
    "was looked at while some of it was out, and no job is named for what came back: it may be of that, and "
    "the look says nothing of it. A return that names its job is held against the draws of that job alone"
)
MORE_IN_IT: Final = (
    "was looked at, and holds more than the book says: something may have gone in since, and that look says "
    "nothing of it"
)


def tell_to_look_again(act: Act, held: Held, before: Ageing, why: str = OUT) -> None:
    """Tell that a look says nothing any more where that changed how the container stands.

    Which looks still count is asked in `records.ageing_queries`; this only says so.
    """
    after = how_it_stands(act, held, act.day)
    stood = before.standing, before.in_date_until, before.doubts
    if (after.standing, after.in_date_until, after.doubts) == stood:
        return
    act.note(warn(AGAIN, f"{name_of(held)} {why}. Look at it again."))
