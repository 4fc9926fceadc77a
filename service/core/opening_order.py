"""In which order the containers of a material are begun so that every planned job is covered.

Doors: core/plan_stock.py.

Taking what goes soonest first can open a small pack for a large job and leave the large one to die for a
small job later. So where it falls short although there is enough, other orders are tried. Only an order that
covers every job replaces it: whatever covers the larger plan covers the smaller one too, and a smaller plan
is never short of more.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Final

from service.core.containers import ContainerState
from service.core.plan_outlook import Outlook, ShelfContainer, after_opening

MOST_TRIED: Final = 2000
"""Points a search looks at; beyond it what goes soonest stays first, and what is short is ordered."""

Wanted = Sequence[tuple[date, int]]
"""What is needed on which day, in the order in which it is promised."""


@dataclass(frozen=True)
class _Begun:
    """A container from which something was promised already."""

    number: int
    left: int
    outlook: Outlook


@dataclass
class _Search:
    pairs: Sequence[tuple[ShelfContainer, Outlook]]
    wanted: Wanted
    share: Decimal
    tried: int = 0
    dead: set[tuple[object, ...]] = field(default_factory=set)
    kinds: dict[int, int] = field(default_factory=dict)
    """Containers of one size and life have one number: which of them was begun makes no difference."""
    opened: dict[tuple[int, date], Outlook] = field(default_factory=dict)

    def __post_init__(self) -> None:
        seen: dict[tuple[object, ...], int] = {}
        for container, ahead in self.pairs:
            box = container
            alike = (box.free, box.state, box.facts, box.comes, box.opens_on, ahead)
            self.kinds[container.container_id] = seen.setdefault(alike, len(seen))

    def _point(self, at: int, short: int, begun: tuple[_Begun, ...]) -> tuple[object, ...]:
        """All that what comes after depends on: what is begun and past its day is as good as empty."""
        day = self.wanted[at][0]
        left = Counter((one.left, one.outlook) for one in begun if one.left and one.outlook.usable_on(day))
        used = tuple(sorted(self.kinds[one.number] for one in begun))
        return at, short, used, frozenset(left.items())

    def lead_on(self, at: int, short: int, begun: tuple[_Begun, ...]) -> tuple[int, ...] | None:
        """Numbers in the order in which they are begun, from need ``at`` of which ``short`` is missing."""
        at, short, begun = self._taken(at, short, begun)
        if at == len(self.wanted):
            return tuple(one.number for one in begun)
        point = self._point(at, short, begun)
        self.tried += 1
        if point in self.dead or self.tried > MOST_TRIED:
            return None
        day, numbers = self.wanted[at][0], {one.number for one in begun}
        alike: set[tuple[int, Outlook, Outlook]] = set()
        for container, ahead in self.pairs:
            if container.container_id in numbers or not container.free or not ahead.usable_on(day):
                continue
            after = self._after(container, ahead, day)
            if (container.free, ahead, after) in alike:
                continue
            alike.add((container.free, ahead, after))
            found = self.lead_on(at, short, (*begun, _Begun(container.container_id, container.free, after)))
            if found is not None:
                return found
        self.dead.add(point)
        return None

    def _after(self, container: ShelfContainer, ahead: Outlook, day: date) -> Outlook:
        """How long it counts once it is begun on a day."""
        opened = container.opens_on is not None and container.opens_on <= day
        if container.state is not ContainerState.SEALED or opened:
            return ahead
        at = (container.container_id, day)
        if at not in self.opened:
            self.opened[at] = after_opening(container, day, self.share)
        return self.opened[at]

    def _taken(
        self, at: int, short: int, begun: tuple[_Begun, ...]
    ) -> tuple[int, int, tuple[_Begun, ...]]:
        """Take from what is begun as far as it goes."""
        kept = list(begun)
        while at < len(self.wanted):
            day = self.wanted[at][0]
            for place, one in enumerate(kept):
                # What was begun for this very need counts on its day, however short it lives once opened.
                amount = min(short, one.left) if one.outlook.usable_on(day) else 0
                kept[place] = _Begun(one.number, one.left - amount, one.outlook)
                short -= amount
            if short:
                break
            at += 1
            short = self.wanted[at][1] if at < len(self.wanted) else 0
        return at, short, tuple(kept)


def covering_order(
    pairs: Sequence[tuple[ShelfContainer, Outlook]], wanted: Wanted, warn_share: Decimal
) -> tuple[int, ...] | None:
    """Container numbers in an order that covers all that is ``wanted``, nearest to the order of ``pairs``.

    None: there is no such order, or none was found among `MOST_TRIED` points.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> from service.core.life_facts import LifeFacts
    >>> from service.core.plan_outlook import outlook
    >>> oil = LifeFacts(packed_on=date(2026, 3, 1),
    ...                 policy=AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=24, opened_days=30))
    >>> tins = [ShelfContainer(1, "A", 1, 250, oil), ShelfContainer(2, "B", 1, 1000, oil)]
    >>> shelf = [(one, outlook(one, date(2026, 3, 2))) for one in tins]
    >>> covering_order(shelf, [(date(2026, 3, 9), 1000), (date(2026, 6, 8), 250)], Decimal("0.8"))
    (2, 1)
    """
    needed = [(day, amount) for day, amount in wanted if amount]
    if not needed:
        return ()
    if sum(container.free for container, _ in pairs) < sum(amount for _, amount in needed):
        return None
    return _Search(pairs, needed, warn_share).lead_on(0, needed[0][1], ())
