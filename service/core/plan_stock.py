"""From which containers the planned jobs are met: in date on the day of use, each ounce promised once.

Doors: core/term_plan.py, core/waste_avoided.py, core/stock_levels.py.

Earlier jobs come first, and of each material what goes soonest, unless only another order covers every job
(core/opening_order.py). The order of the containers of a material is fixed when the plan is made: with it,
taking something out of the plan never leaves less for any other day.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from service.core.ageing import WARN_SHARE
from service.core.containers import AmountKnown, Condition, ContainerState
from service.core.findings import Finding, Findings, Verdict, note, stop, unknown, warn
from service.core.months import say_date
from service.core.opening_order import covering_order
from service.core.plan_needs import DayNeed
from service.core.plan_outlook import Outlook, ShelfContainer, after_opening, once_opened


@dataclass(frozen=True)
class Promise:
    """So much out of this container for a job. ``opens``: the job opens it; ``look_first``: by its dates;
    ``life_not_known``: nobody knows whether it is in date on that day."""

    container_id: int
    code: str
    amount: int
    opens: bool = False
    look_first: bool = False
    place: str = ""
    life_not_known: bool = False


@dataclass(frozen=True)
class Covered:
    """One need with its promises; ``missing`` in smallest units, None = the need itself is not known.

    ``left_known`` False: an earlier job takes an amount nobody knows, or its day is gone and nobody said
    whether it was made, so that this may not be there any more.
    """

    need: DayNeed
    promises: tuple[Promise, ...]
    missing: int | None
    left_known: bool = True

    @property
    def sure(self) -> bool:
        """Whether what is promised will surely be there, and in date."""
        return self.left_known and not any(one.life_not_known for one in self.promises)


@dataclass(frozen=True)
class LeftIn:
    """What the plan leaves in a container; ``opened_on``: the day the plan opens it, if it does."""

    container: ShelfContainer
    outlook: Outlook
    left: int | None
    opened_on: date | None = None


@dataclass(frozen=True)
class StockPlan:
    """The plan: needs in their order with their promises, what is left in each container, what to read.

    ``gone``: needs of days before the plan was made; nothing is promised to them or bought for them.
    """

    covered: tuple[Covered, ...]
    gone: tuple[DayNeed, ...]
    left: tuple[LeftIn, ...]
    verdict: Verdict

    def shortages(self, material_id: int) -> dict[date, int]:
        """What is missing of a material on each day, in smallest units; days without a shortage stay away."""
        days: dict[date, int] = {}
        for one in self.covered:
            if one.need.material_id == material_id and one.missing:
                days[one.need.on] = days.get(one.need.on, 0) + one.missing
        return days


class _Shelf:
    """The containers of one material while the plan is made, in their fixed order."""

    def __init__(self, outlooks: Iterable[tuple[ShelfContainer, Outlook]], warn_share: Decimal) -> None:
        self.share = warn_share
        self.outlooks = {pair[0].container_id: pair for pair in outlooks}
        self.left = {number: c.free for number, (c, _) in self.outlooks.items()}
        self.opened: dict[int, date] = {
            n: c.opens_on for n, (c, ahead) in self.outlooks.items()
            if c.opens_on is not None and ahead.usable_on(c.opens_on)
        }  # fmt: skip
        # Each as it stands before anything is promised.
        self.order = sorted(self.outlooks.values(), key=_soonest)
        self.sure = True

    def begin_with(self, numbers: Sequence[int]) -> None:
        """Take from these first, in this order; the others follow as they stood."""
        place = {number: at for at, number in enumerate(numbers)}
        self.order.sort(key=lambda pair: place.get(pair[0].container_id, len(place)))

    def take(self, wanted: int, day: date) -> tuple[list[Promise], int]:
        """Promises for ``wanted`` on ``day``, and what is missing."""
        taken: list[Promise] = []
        for container, _ in self.order:
            if wanted == 0:
                break
            number = container.container_id
            now = self.outlooks[number][1]
            amount = min(wanted, self.left[number])
            if amount == 0 or not now.usable_on(day):
                continue
            sealed = container.state is ContainerState.SEALED
            opens = sealed and (number not in self.opened or day < self.opened[number])
            look = now.look_from is not None and now.look_from <= day
            taken.append(
                Promise(
                    number, container.code, amount, opens, look, container.place, now.life_not_known
                )
            )  # fmt: skip
            self.left[number] -= amount
            wanted -= amount
            if opens:
                self.opened[number] = day
                after = after_opening(container, day, self.share)
                self.outlooks[number] = (container, replace(after, life_not_known=now.life_not_known))
        return taken, wanted


def _soonest(pair: tuple[ShelfContainer, Outlook]) -> tuple[date, bool, str, int]:
    container, ahead = pair
    is_open = container.state is ContainerState.OPEN
    return ahead.until or date.max, not is_open, container.code, container.container_id


def plan_stock(
    needs: Sequence[DayNeed],
    containers: Sequence[ShelfContainer],
    today: date,
    warn_share: Decimal = WARN_SHARE,
    told: Collection[int] | None = None,
) -> StockPlan:
    """Promise what is on the shelf to the needs, which are taken by day, then by job.

    ``told``: the jobs the verdict is about, None = all; the others take what they need in silence.

    What dies before a day is never counted for it; not known never counts; look first counts and is said. A
    sealed container lives its opened life from the job that opens it. Needs of days before ``today`` stay out
    of the plan and are named.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> from service.core.life_facts import LifeFacts
    >>> from service.core.materials import Basis
    >>> oil = AgeingPolicy(PolicyEnd.EXPIRY, sealed_months=2, opened_months=2)
    >>> tin = ShelfContainer(1, "R4F34T", 1, 500, LifeFacts(packed_on=date(2026, 2, 1), policy=oil))
    >>> need = lambda day: DayNeed(1, "stain", day, 1, "oil", Basis.VOLUME, 300, 300)
    >>> plan = plan_stock([need(date(2026, 3, 9)), need(date(2026, 5, 4))], [tin], date(2026, 3, 2))
    >>> [one.missing for one in plan.covered]
    [0, 300]
    """
    found = Findings()
    by_material: dict[int, list[ShelfContainer]] = {}
    for container in containers:
        by_material.setdefault(container.material_id, []).append(container)
    ordered = sorted(needs, key=lambda one: (one.on, one.job, one.material_id))
    gone = tuple(need for need in ordered if need.on < today)
    of: dict[int, list[DayNeed]] = {}
    for need in ordered[len(gone) :]:
        of.setdefault(need.material_id, []).append(need)
    unspoken = {need.material_id for need in gone}
    shelves: dict[int, _Shelf] = {}
    each: list[Covered] = []
    for number in {*by_material, *(need.material_id for need in needs)}:
        boxes = by_material.get(number, [])
        shelves[number], own = _of_material(of.get(number, []), boxes, today, warn_share)
        each.extend(replace(one, left_known=False) if number in unspoken else one for one in own)
    covered = sorted(each, key=lambda one: (one.need.on, one.need.job, one.need.material_id))
    spoken = [one for one in covered if told is None or one.need.job in told]
    wanted = {need.material_id for need in needs if told is None or need.job in told}
    found.add(*(_day_gone(need) for need in gone if told is None or need.job in told))
    found.add(*(left_open(need) for need in gone if need.material_id in wanted))
    found.add(*_short(spoken), *_not_sure(one for one in covered if one.need.material_id in wanted))
    found.add(*_about_promised(spoken, by_material), *_dead_by_then(spoken, shelves))
    for number, shelf in shelves.items():
        if number in wanted:
            found.add(*(_left_out(*pair) for pair in shelf.order if pair[1].why_not and _stands(pair[0])))
    left = [
        LeftIn(*shelf.outlooks[n], None if c.amount is None else shelf.left[n], shelf.opened.get(n))
        for shelf in shelves.values()
        for n, (c, _) in shelf.outlooks.items()
    ]
    return StockPlan(tuple(covered), gone, tuple(left), found.verdict())


def _of_material(
    needs: Sequence[DayNeed], containers: Sequence[ShelfContainer], today: date, warn_share: Decimal
) -> tuple[_Shelf, list[Covered]]:
    stands = [(c, once_opened(c, today, c.opens_on, warn_share)) for c in containers]
    shelf = _Shelf(stands, warn_share)
    covered = [_cover(need, shelf) for need in needs]
    if any(one.missing for one in covered):
        wanted = [(need.on, need.high) for need in needs if need.high is not None]
        order = covering_order(shelf.order, wanted, warn_share)
        if order is not None:
            again = _Shelf(stands, warn_share)
            again.begin_with(order)
            return again, [_cover(need, again) for need in needs]
    return shelf, covered


def _cover(need: DayNeed, shelf: _Shelf) -> Covered:
    sure = shelf.sure
    if need.high is None:
        shelf.sure = False
        return Covered(need, (), None, False)
    promises, missing = shelf.take(need.high, need.on)
    return Covered(need, tuple(promises), missing, sure)


def _life_not_known(need: DayNeed) -> Finding:
    words = (
        f"What is on its way of {need.material} for {need.job_name} on {say_date(need.on)}: how long it "
        "keeps is not known, so it is not known whether it may be used. Write how long it keeps on the page "
        "of the material."
    )
    return unknown("ordered-life-not-known", words, about=need.material)


def _stands(container: ShelfContainer) -> bool:
    return container.state in (ContainerState.SEALED, ContainerState.OPEN) and container.amount != 0


def _left_out(container: ShelfContainer, ahead: Outlook) -> Finding:
    words = f"{container.shown} {ahead.why_not}: it is not planned with."
    return warn("not-planned-with", words, about=container.code)


def _day_gone(need: DayNeed) -> Finding:
    words = f"{need.job_name} was planned for {say_date(need.on)}: that day is gone."
    return warn("plan-day-gone", words, about=need.job_name)


def left_open(need: DayNeed) -> Finding:
    """That nobody said whether a planned day that is gone took place."""
    words = (
        f"Nobody said whether {need.job_name} of {say_date(need.on)} was made: it is not known how much "
        f"{need.material} it left. Name its batch, or drop the day."
    )
    return unknown("day-left-open", words, about=need.material)


def _short(covered: Iterable[Covered]) -> list[Finding]:
    found: list[Finding] = []
    for one in covered:
        if one.missing:
            need = one.need
            words = f"There is not enough {need.material} for {need.job_name} on {say_date(need.on)}."
            found.append(stop("short", words, about=need.material))
    return found


def _dead_by_then(covered: Iterable[Covered], shelves: Mapping[int, _Shelf]) -> list[Finding]:
    """What is in date now, and past on a day that lacks it: why it is not counted there."""
    found: dict[int, Finding] = {}
    for one in covered:
        shelf = shelves[one.need.material_id]
        for number, (box, ahead) in shelf.outlooks.items() if one.missing else ():
            dead = not ahead.why_not and ahead.until is not None and ahead.until < one.need.on
            if dead and shelf.left[number] and number not in found and ahead.until is not None:
                words = (
                    f"{box.shown} is past after {say_date(ahead.until)}: it is not counted for "
                    f"{one.need.job_name} on {say_date(one.need.on)}."
                )
                found[number] = warn("past-by-then", words, about=box.code)
    return list(found.values())


def _not_sure(covered: Iterable[Covered]) -> list[Finding]:
    """From when on it is not known how much is left, whichever job makes it so."""
    unsure: dict[int, tuple[str, date]] = {}
    for one in covered:
        if one.missing is None:
            unsure.setdefault(one.need.material_id, (one.need.material, one.need.on))
    found: list[Finding] = []
    for name, day in unsure.values():
        words = f"From {say_date(day)} on it is not known how much {name} is left."
        found.append(unknown("left-not-known", words, about=name))
    return found


def _about_promised(
    covered: Iterable[Covered], containers: Mapping[int, Sequence[ShelfContainer]]
) -> list[Finding]:
    by_number = {c.container_id: c for each in containers.values() for c in each}
    found: list[Finding] = []
    for one in covered:
        if any(promise.life_not_known for promise in one.promises):
            found.append(_life_not_known(one.need))
        for promise in one.promises:
            container, code = by_number[promise.container_id], by_number[promise.container_id].shown
            if promise.look_first:
                words = f"{code}: look first, it is planned for when most of its life is gone."
                found.append(warn("look-first", words, about=promise.code))
            if container.amount_known is AmountKnown.ESTIMATED:
                found.append(
                    warn("amount-estimated", f"What is in {code} is an estimate.", about=promise.code)
                )
            if container.condition is Condition.DAMAGED:
                found.append(warn("damaged", f"{code} came damaged: look at it.", about=promise.code))
            if container.keeper_only:
                found.append(note("keeper-only", f"{code} is for keepers to draw.", about=promise.code))
    return found
