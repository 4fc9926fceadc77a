"""The list of what goes first, and what the recipes of the shop could use up before it ends. Only looks."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from sqlmodel import Session

from service.actions.clock_of_air import ClockOfAir, clocks_of_air
from service.core.ageing import judge
from service.core.containers import ContainerState, Standing
from service.core.months import add_days
from service.core.use_first import NO_AIR, EndsTogether, InLine, ending_together, place_in_line
from service.records.ageing_queries import lives_of
from service.records.attention_queries import count_troubled
from service.records.places import Place
from service.records.stock_queries import Held, handed_out
from service.records.use_first_queries import held_of, may_go_first, recipes_using, several_of

MOST_OF_A_SORT: Final = 400
"""So many at most of each sort are looked at: to look at first, not known, opened, changing soon."""
DAYS_AHEAD: Final = 366
USE_UP_DAYS: Final = 183
MOST_GROUPS: Final = 30


@dataclass(frozen=True)
class Goes:
    """One container of the list, in its order. Its line has no last day where its standing is not known."""

    held: Held
    place: Place | None
    line: InLine
    clock: ClockOfAir | None


@dataclass(frozen=True)
class UseUp:
    """Containers that end in the same month, and the recipes that have a line of their material."""

    ends: EndsTogether
    recipes: tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class UseFirst:
    """The list without what is past, which cannot be used, and without what something was found in, which is
    tried before (``doubted`` of them). ``more``: there is more than is looked at.
    """

    goes: list[Goes] = field(default_factory=list)
    use_up: list[UseUp] = field(default_factory=list)
    past: int = 0
    doubted: int = 0
    more: bool = False


def list_use_first(session: Session, today: date) -> UseFirst:
    """What goes first on the shop day ``today``: the soonest first, by a few queries for all of them."""
    far = add_days(today, DAYS_AHEAD)
    may = may_go_first(session, today, far, MOST_OF_A_SORT)
    boxes = held_of(session, may.ids)
    lives = lives_of(session, [(held.container, held.material) for held, _ in boxes])
    away = handed_out(session, [held.container for held, _ in boxes])
    clocks = clocks_of_air(session, [held for held, _ in boxes])
    several = several_of(session, sorted({held.container.material_id for held, _ in boxes}))
    found, doubted = [], 0
    for (held, place), life in zip(boxes, lives, strict=True):
        ageing = judge(life, today)
        if ageing.standing is Standing.PAST or held.container_id in away:
            continue
        if ageing.doubts:  # a list to pin up tells nobody to reach for what was found rancid
            doubted += 1
            continue
        clock = clocks.get(held.container_id)
        until = None if ageing.standing is Standing.NOT_KNOWN else ageing.at_latest
        is_open = held.container.state is ContainerState.OPEN
        before_others = is_open and held.container.material_id in several
        keeps = clock is None and ageing.standing is Standing.IN_DATE and (until or date.max) > far
        if keeps and not before_others:
            continue  # nothing of it ends or dries within the year, and it is not the one to go on with
        line = InLine(
            held.container.code,
            ageing.standing,
            until,
            is_open,
            clock.standing if clock else NO_AIR,
        )
        found.append(Goes(held, place, line, clock))
    found.sort(key=lambda one: place_in_line(one.line))
    past = count_troubled(session, today)[Standing.PAST]
    return UseFirst(found, _use_up(session, found, today), past, doubted, may.more)


def _use_up(session: Session, found: list[Goes], today: date) -> list[UseUp]:
    groups = ending_together(
        [
            (one.held.container.material_id, one.held.material.name, one.line.code, one.line.until)
            for one in found
        ],
        today,
        add_days(today, USE_UP_DAYS),
    )
    recipes = recipes_using(session, sorted({group.material_id for group in groups}))
    used = [UseUp(group, tuple(recipes.get(group.material_id, ()))) for group in groups]
    if len(used) > MOST_GROUPS:  # then what a recipe can use up says more than what none does
        used = [one for one in used if one.recipes]
    return used[:MOST_GROUPS]


def by_place(goes: list[Goes]) -> list[tuple[str, list[Goes]]]:
    """The list in groups, the place of the first container first; two of one name are told apart."""
    names = Counter(name for _, name in {(one.place.id, one.place.name) for one in goes if one.place})
    groups: dict[str, list[Goes]] = {}
    for one in goes:
        name = one.place.name if one.place else "Place not written down"
        if one.place and names[name] > 1:
            name = f"{name} ({one.place.code})"
        groups.setdefault(name, []).append(one)
    return list(groups.items())
