"""What a decanted or mixed container takes over from what went into it: a new jar never starts a new life.

Doors: actions/decant.py, actions/finish_batch.py, records/stock.py.

Unknown in any source is not known in the result; what is known of the others stays as a limit "at the
latest".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.core.ageing_policies import AgeingPolicy
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts, dates_contradict
from service.core.materials import SelfHeating
from service.core.months import earliest


@dataclass(frozen=True)
class ContainerLife:
    """One source, or the result: life facts, lots, hazards (None = not known) and the self-heating mark.

    ``in_date_until`` and ``known`` are the source's own ageing answer on the day it went in; they matter
    only for a mix, whose policy is not that of its ingredients.
    """

    facts: LifeFacts
    self_heating: SelfHeating = SelfHeating.NOT_KNOWN
    hazards: frozenset[str] | None = None
    lots: tuple[str, ...] = ()
    keeper_only: bool = False
    in_date_until: date | None = None
    known: bool = True


def inherit(
    sources: Sequence[ContainerLife], policy: AgeingPolicy | None, *, same_material: bool, poured_on: date
) -> ContainerLife:
    """The life of what ``sources`` were poured into; the receiving container's own content is a source too.

    Earliest packed, received, first-opened and printed dates; hazards together; self-heating the worst of
    them; lots joined. With ``same_material`` (decanting) passed checks carry over as far as all sources have
    them; in a mix they do not, and no ingredient's end is outlived. A failed check always carries over. A
    source that was still sealed counts as opened on ``poured_on``.
    Raises ``ValueError`` without a source.

    >>> old = ContainerLife(LifeFacts(packed_on=date(2020, 1, 1), opened_on=date(2021, 1, 1)), lots=("7",))
    >>> new = ContainerLife(LifeFacts(packed_on=date(2025, 1, 1), opened_on=date(2025, 2, 1)), lots=("9",))
    >>> jar = inherit([old, new], None, same_material=True, poured_on=date(2026, 1, 1))
    >>> jar.facts.packed_on, jar.facts.opened_on, jar.lots
    (datetime.date(2020, 1, 1), datetime.date(2021, 1, 1), ('7', '9'))
    """
    if not sources:
        raise ValueError("something must have gone in")
    hazards: frozenset[str] | None = frozenset()
    for source in sources:
        hazards = None if hazards is None or source.hazards is None else hazards | source.hazards
    facts = _inherited_dates([_opened_by_pouring(source.facts, poured_on) for source in sources])
    checks = _inherited_checks([source.facts.checks for source in sources], same_material)
    # Together with another source's missing date a contradiction would no longer show in the jar's own dates.
    odd = any(dates_contradict(source.facts, poured_on) for source in sources)
    facts = replace(facts, policy=policy, checks=checks, inherited_gap=facts.inherited_gap or odd)
    if not same_material:
        ends = earliest(facts.inherited_until, *(source.in_date_until for source in sources))
        gap = facts.inherited_gap or any(not source.known for source in sources)
        facts = replace(facts, inherited_until=ends, inherited_gap=gap)
    return ContainerLife(
        facts=facts,
        self_heating=_worst_heating([source.self_heating for source in sources]),
        hazards=hazards,
        lots=tuple(dict.fromkeys(lot for source in sources for lot in source.lots if lot)),
        keeper_only=any(source.keeper_only for source in sources),
        in_date_until=earliest(*(source.in_date_until for source in sources)),
        known=all(source.known for source in sources),
    )


def joined(jar: ContainerLife, source: ContainerLife, *, mixed: bool) -> ContainerLife:
    """A jar after one of its sources turned out worse than it was when it went in; never better.

    ``mixed``: the source went into a batch, so that its own end and what is not known of it count as well;
    else it was poured over, and only what it had inherited itself does.

    >>> jar = ContainerLife(LifeFacts(), SelfHeating.NO, frozenset(), in_date_until=date(2027, 1, 1))
    >>> oil = ContainerLife(LifeFacts(), SelfHeating.YES, None, in_date_until=date(2026, 5, 1))
    >>> worse = joined(jar, oil, mixed=True)
    >>> worse.self_heating.value, worse.hazards, worse.facts.inherited_until
    ('yes', None, datetime.date(2026, 5, 1))
    """
    ends = earliest(jar.facts.inherited_until, source.facts.inherited_until)
    gap = jar.facts.inherited_gap or source.facts.inherited_gap
    if mixed:
        ends, gap = earliest(ends, source.in_date_until), gap or not source.known
    unknown = jar.hazards is None or source.hazards is None
    return replace(
        jar,
        facts=replace(jar.facts, inherited_until=ends, inherited_gap=gap),
        self_heating=_worst_heating([jar.self_heating, source.self_heating]),
        hazards=None if unknown else (jar.hazards or frozenset()) | (source.hazards or frozenset()),
        keeper_only=jar.keeper_only or source.keeper_only,
    )


def _opened_by_pouring(facts: LifeFacts, poured_on: date) -> LifeFacts:
    return facts if facts.is_open else replace(facts, opened_on=poured_on, opened=True)


def _inherited_dates(facts: Sequence[LifeFacts]) -> LifeFacts:
    packed = [one.packed_on for one in facts]
    # A source known only by its received date must not hide an earlier packed date of another: the result
    # then counts as received on the earliest start of them all.
    came_in = [one.start if None in packed else one.received_on for one in facts]
    result = LifeFacts(
        packed_on=_all_known(packed),
        received_on=_all_known(came_in),
        opened_on=_all_known([one.opened_on for one in facts]),
        opened=True,
        printed_date=earliest(*(one.printed_date for one in facts)),
        inherited_until=earliest(*(one.inherited_until for one in facts)),
        inherited_gap=any(one.inherited_gap for one in facts),
    )
    started = earliest(*(one.started_at_latest for one in facts))
    opened = earliest(*(day for one in facts for day in (one.opened_on, one.opened_by)))
    return replace(
        result,
        started_by=None if started == result.start else started,
        opened_by=None if opened == result.opened_on else opened,
    )


def _all_known(days: Sequence[date | None]) -> date | None:
    known = [day for day in days if day is not None]
    return min(known) if known and len(known) == len(days) else None


def _inherited_checks(
    checks: Sequence[tuple[ConditionCheck, ...]], same_material: bool
) -> tuple[ConditionCheck, ...]:
    """Failed and skin-cut checks of any source; passed ones no later than the newest of the least checked.

    Passes that fall together count once, so a number of extensions may be used anew; the hard stop still
    holds.
    """
    kept = [one for each in checks for one in each if one.outcome is not CheckOutcome.PASSED]
    passed = [[one for one in each if one.outcome is CheckOutcome.PASSED] for each in checks]
    if same_material and all(passed):
        newest = min(max(one.on for one in each) for each in passed)
        kept += [replace(one, on=min(one.on, newest)) for each in passed for one in each]
    return tuple(sorted(dict.fromkeys(kept), key=_order))


def _order(check: ConditionCheck) -> tuple[date, bool, str]:
    """By day; on one day a doubt comes last, for nobody knows which source was looked at first."""
    return check.on, check.outcome is CheckOutcome.DOUBTED, check.outcome.value


def _worst_heating(marks: Sequence[SelfHeating]) -> SelfHeating:
    for mark in (SelfHeating.YES, SelfHeating.NOT_KNOWN):
        if mark in marks:
            return mark
    return SelfHeating.NO
