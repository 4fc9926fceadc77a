"""Until when one container may be planned with: as it stands on the shelf, and once a job has opened it.

Doors: core/plan_stock.py, core/order_list.py, core/waste_avoided.py.

What is not known is never planned with. Whether a date is reached is asked of core/ageing.py alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache

from service.core.ageing import WARN_SHARE, judge
from service.core.ageing_policies import AgeingPolicy
from service.core.conditions import found_words
from service.core.containers import AmountKnown, Condition, ContainerState, Standing
from service.core.life_facts import LifeFacts
from service.core.months import earliest
from service.core.shelf_codes import show_code


@dataclass(frozen=True)
class ShelfContainer:
    """One container when the plan is made. ``amount`` and ``promised`` (to batches) in smallest units.

    ``comes``: it is ordered and expected on that day; it may be planned with from the next day on, as what
    comes on the day of use may come too late. ``code`` is then the order's own words. ``opens_on``: sealed,
    and the first day on which a batch takes what it holds in it: from then on it lives its opened life.
    """

    container_id: int
    code: str
    material_id: int
    amount: int | None
    facts: LifeFacts
    state: ContainerState = ContainerState.SEALED
    amount_known: AmountKnown = AmountKnown.MEASURED
    promised: int = 0
    condition: Condition = Condition.NOT_KNOWN
    keeper_only: bool = False
    handed_out: bool = False
    place: str = ""
    comes: date | None = None
    name: str = ""
    opens_on: date | None = None

    @property
    def shown(self) -> str:
        """What is in it, its code as on the label (or the words of its order) and where it stands."""
        code = show_code(self.code) if self.comes is None else self.code
        named = f"{self.name} {code}" if self.name else code
        return f"{named} ({self.place})" if self.place else named

    @property
    def free(self) -> int:
        """What may be promised to a planned job; an amount that is not known is nothing to plan with."""
        if self.amount is None or self.amount_known is AmountKnown.NOT_KNOWN:
            return 0
        return max(0, self.amount - max(0, self.promised))


@dataclass(frozen=True)
class Outlook:
    """``until`` is the last day it may be planned for, None = without a limit; ``look_from``: look first from
    that day on. ``why_not``: it is never planned with, and why (then the days mean nothing); ``look``:
    because it is not known, so that a look at it could change that. ``after``: not before the day after it.
    ``life_not_known``: on its way, and nobody knows how long it keeps: what it covers is not known.
    ``doubted``: something was found, so that it must be tried first.
    """

    until: date | None = None
    look_from: date | None = None
    why_not: str = ""
    look: bool = False
    after: date | None = None
    life_not_known: bool = False
    doubted: bool = False

    def usable_on(self, day: date) -> bool:
        """Whether it may be planned for a day (of the plan, never before it was made)."""
        here = self.after is None or day > self.after
        return here and not self.why_not and (self.until is None or day <= self.until)


def outlook(container: ShelfContainer, today: date, warn_share: Decimal = WARN_SHARE) -> Outlook:
    """How far a container may be planned with, as it stands on ``today``.

    >>> from service.core.ageing_policies import PolicyEnd
    >>> oil = AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=12, opened_days=30)
    >>> tin = ShelfContainer(1, "R4F34T", 1, 500, LifeFacts(packed_on=date(2026, 1, 10), policy=oil))
    >>> outlook(tin, date(2026, 3, 2)).until, after_opening(tin, date(2026, 3, 2)).until
    (datetime.date(2027, 1, 10), datetime.date(2026, 4, 1))
    """
    if container.comes is not None:
        return _expected(container, container.comes, warn_share)
    why_not = _never(container, today)
    return Outlook(why_not=why_not) if why_not else _judged(container.facts, today, warn_share)


def once_opened(
    container: ShelfContainer, today: date, on: date | None, warn_share: Decimal = WARN_SHARE
) -> Outlook:
    """The outlook of what is opened on a day whatever is planned (None: on none); till then as `outlook`.

    What is open already, and what is past by that day, keeps its own.
    """
    ahead = outlook(container, today, warn_share)
    if on is None or container.state is not ContainerState.SEALED or not ahead.usable_on(on):
        return ahead
    return replace(after_opening(container, on, warn_share), life_not_known=ahead.life_not_known)


def _expected(container: ShelfContainer, comes: date, warn_share: Decimal) -> Outlook:
    """What is on its way, sealed. Where nobody knows how long it keeps, it counts for the day it is opened
    (`after_opening`), as a pack does that is only chosen: else it would be ordered once more. But what it
    covers is not known: taken in as it stands it would not be planned with."""
    ahead = _judged(container.facts, comes, warn_share)
    return Outlook(after=comes, life_not_known=True) if ahead.look else replace(ahead, after=comes)


def after_opening(container: ShelfContainer, day: date, warn_share: Decimal = WARN_SHARE) -> Outlook:
    """The outlook once a job has opened it on ``day``; never longer than while it was sealed.

    On that day itself it counts as it stood before. Without a figure for it once opened that is all.
    """
    facts = container.facts
    if facts.is_open:
        return _judged(facts, day, warn_share)
    sealed = _judged(facts, day, warn_share)
    opened = _judged(replace(facts, opened_on=day, opened=True), day, warn_share)
    if opened.why_not or not opened.usable_on(day):
        return Outlook(day, sealed.look_from)
    return Outlook(earliest(sealed.until, opened.until), earliest(sealed.look_from, opened.look_from))


@lru_cache(maxsize=4096)
def pack_end(policy: AgeingPolicy | None, comes: date, opens: date) -> date | None:
    """The last day a pack that comes and is opened on these days may be planned for; None = without a limit.

    At least the day it is opened: where nobody wrote how long it keeps once opened, it counts for that day
    alone.

    >>> pack_end(None, date(2026, 3, 2), date(2026, 3, 3))
    datetime.date(2026, 3, 3)
    """
    pack = _pack(policy, comes)
    if not outlook(pack, opens).usable_on(opens):
        return opens
    return after_opening(pack, opens).until


def pack_keeps(policy: AgeingPolicy | None, comes: date) -> Outlook:
    """The outlook of a pack that comes on a day and stays sealed.

    >>> pack_keeps(None, date(2026, 3, 2)).why_not
    'is not known: look at it'
    """
    return outlook(_pack(policy, comes), comes)


def _pack(policy: AgeingPolicy | None, comes: date) -> ShelfContainer:
    return ShelfContainer(0, "", 0, 1, LifeFacts(received_on=comes, policy=policy))


def _never(c: ShelfContainer, today: date) -> str:
    if c.state in (ContainerState.EMPTY, ContainerState.GONE):
        return "is empty or gone"
    if c.condition is Condition.LEAKING:
        return "leaks"
    if c.handed_out:
        return "was handed out and is not in the shop"
    if c.amount is None or c.amount_known is AmountKnown.NOT_KNOWN:
        return "holds an amount nobody knows"
    if c.state is ContainerState.OPEN and not c.facts.is_open:
        return "is open and nobody knows since when"
    if any(check.on > today for check in c.facts.checks):
        return "has a check of a day that has not come"
    return ""


@lru_cache(maxsize=8192)
def _judged(facts: LifeFacts, day: date, warn_share: Decimal) -> Outlook:
    at = judge(facts, day, warn_share)
    if at.standing is Standing.PAST:
        return Outlook(why_not="is past its date")
    if at.standing is Standing.NOT_KNOWN:
        return Outlook(why_not="is not known: look at it", look=True)
    if at.doubts:
        what = ", ".join(found_words(one.found) or "something doubtful" for one in at.doubts)
        return Outlook(why_not=f"was found: {what}, and must be tried first", look=True, doubted=True)
    # A doubt holds until a check passes, whatever its dates are.
    doubted = at.standing is Standing.LOOK_FIRST
    return Outlook(at.in_date_until, day if doubted else at.warn_from)
