"""How a container stands on a day: in date, look first, past or not known, and the reasons (design 5.2).

Doors: records/stock.py, actions/container_events.py, actions/list_alerts.py, web/pages/containers.py.

What is not known never makes a standing milder: a limit that is surely over counts even when others are
missing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Final

from service.core.ageing_limits import Reason, hard_end, limits_of, moved_by_checks, warn_day
from service.core.ageing_policies import PolicyEnd
from service.core.conditions import PEROXIDE_SOURCE, Found, all_found_in_words
from service.core.containers import Standing
from service.core.findings import Finding, Verdict, note, stop, unknown, warn
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts, dates_contradict
from service.core.months import add_days, earliest, say_date
from service.core.peroxides import Former, PeroxideLife

PEROXIDES: Final = "peroxides"
WARN_SHARE: Final = Decimal("0.8")
"""From this share of a life on: look first (house policy; the shop may set its own)."""
NO_POLICY: Final = (
    "It is not known how long this keeps: link the material to a published one, write its CAS number down, "
    "or set an ageing policy of its own."
)


RULES: Final = 4
"""The number of these rules, raised with whatever can make a stored date or standing stricter (here, in
core/dissolved_life.py, core/peroxides.py or the published rows): a start with a higher one settles anew."""


@dataclass(frozen=True)
class Ageing:
    """The answer. ``in_date_until`` is the last day in date; None when not known or without a limit.

    ``at_latest``: the day after which it is past whatever the missing facts are. ``hard_stop``: no check
    moves the date past it.
    """

    standing: Standing
    in_date_until: date | None
    warn_from: date | None
    hard_stop: date | None
    at_latest: date | None
    because: tuple[Reason, ...]
    verdict: Verdict
    doubts: tuple[ConditionCheck, ...] = ()
    """What was found, each thing once, and asks for a look before each use while no later check passed."""
    ended: ConditionCheck | None = None
    """The check that ended it, the gravest first."""
    may_be_checked: bool = False
    """Past, and a check that passes could still give it time."""

    @property
    def doubt(self) -> ConditionCheck | None:
        """The last of ``doubts``."""
        return self.doubts[-1] if self.doubts else None


def judge(facts: LifeFacts, today: date, warn_share: Decimal = WARN_SHARE) -> Ageing:
    """The standing of a container on the shop day ``today``.

    The date itself is still in date. ``warn_share`` (0 to 1) of a life gone: look first.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> oil = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12)
    >>> facts = LifeFacts(packed_on=date(2024, 3, 1), opened_on=date(2025, 1, 10), policy=oil)
    >>> judge(facts, date(2026, 1, 10)).standing.value, judge(facts, date(2026, 1, 11)).standing.value
    ('look-first', 'past')
    >>> judge(replace(facts, opened_on=None, opened=True), date(2025, 2, 1)).standing.value
    'not-known'
    """
    gaps = _gaps(facts, today)
    limits, steps = moved_by_checks(facts, limits_of(facts), today)
    failed = min(
        (c.on for c in facts.checks if c.outcome is CheckOutcome.FAILED and c.on <= today), default=None
    )
    until = min((limit.end for limit in limits), default=None)
    if failed is not None:
        until = earliest(until, add_days(failed, -1))
        steps = (*steps, Reason("failed", f"A check on {say_date(failed)} failed: this ended it.", failed))
    warn_from = warn_day(limits, until, warn_share)
    doubts = open_doubts(facts.checks, today)
    ended = _ended_by(facts, today)
    may_be_checked = ended is None and until is not None and until < today and _helps(facts, today)
    if until is not None and until < today:
        standing = Standing.PAST
    elif gaps:
        standing = Standing.NOT_KNOWN
    elif (warn_from is not None and warn_from <= today) or doubts:
        standing = Standing.LOOK_FIRST
    else:
        standing = Standing.IN_DATE
    sure = not gaps or standing is Standing.PAST
    because = (*gaps, *_start_reasons(facts), *(limit.reason for limit in limits), *steps)
    return Ageing(
        standing=standing,
        in_date_until=until if sure else None,
        warn_from=warn_from if sure else None,
        hard_stop=hard_end(facts),
        at_latest=until,
        because=because,
        verdict=_verdict(
            standing, until, gaps, facts, doubts, ended, may_be_checked and standing is Standing.PAST
        ),
        doubts=doubts,
        ended=ended,
        may_be_checked=may_be_checked and standing is Standing.PAST,
    )


def more_time(facts: LifeFacts, until: date | None) -> bool:
    """Whether a check that passes on the last day in date could give more time.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> oil = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, extends_months=6, hard_months=24)
    >>> more_time(LifeFacts(packed_on=date(2024, 3, 1), policy=oil), date(2026, 3, 1))
    False
    """
    if until is None:
        return False
    after = add_days(until, 1)
    return _helps(replace(facts, checks=tuple(c for c in facts.checks if c.on <= until)), after, on=until)


def alert_dates(facts: LifeFacts, warn_share: Decimal = WARN_SHARE) -> tuple[date, ...]:
    """The days on which the standing changes by itself, in order; store the first one after today.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> glue = AgeingPolicy(PolicyEnd.EXPIRY, sealed_days=10)
    >>> [day.day for day in alert_dates(LifeFacts(packed_on=date(2026, 3, 1), policy=glue))]
    [1, 9, 12]
    """
    known = {facts.packed_on, facts.received_on, facts.opened_on, *(check.on for check in facts.checks)}
    days = {day for day in known if day is not None}
    for day in [*days, date.max]:
        at = judge(facts, day, warn_share)
        limits, _ = moved_by_checks(facts, limits_of(facts), day)
        warn_from = warn_day(limits, at.at_latest, warn_share)
        days |= {d for d in (warn_from, at.at_latest and add_days(at.at_latest, 1)) if d is not None}
    return tuple(
        day
        for day in sorted(days)
        if judge(facts, day, warn_share).standing is not judge(facts, add_days(day, -1), warn_share).standing
    )


def may_use(ageing: Ageing, act: MovementKind, *, late: bool = False) -> Verdict:
    """Whether a movement may take from, or pour into, a container of this standing.

    Past: every draw and decanting is a stop ``past``; a discard, a loss, a count, a return, a reversal and a
    late entry (it has happened) are recorded.

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> old = judge(LifeFacts(printed_date=date(2020, 1, 1)), date(2026, 1, 1))
    >>> may_use(old, MovementKind.DRAW).blocking, may_use(old, MovementKind.DISCARD).blocking
    (True, False)
    """
    if act not in (MovementKind.DRAW, MovementKind.DECANT_OUT, MovementKind.DECANT_IN):
        return Verdict()
    if late and ageing.standing is Standing.PAST:
        return Verdict.of([warn(f.code, f.sentence, f.source) for f in ageing.verdict])
    return ageing.verdict


def _helps(facts: LifeFacts, today: date, on: date | None = None) -> bool:
    """Whether a check that passed today (or ``on`` a day before) would bring the end to today or later."""
    passed = replace(facts, checks=(*facts.checks, ConditionCheck(on or today, CheckOutcome.PASSED)))
    limits, _ = moved_by_checks(passed, limits_of(passed), today)
    return all(limit.end >= today for limit in limits)


def _ended_by(facts: LifeFacts, today: date) -> ConditionCheck | None:
    """The check that ended it, the gravest first: peroxides before all."""
    failed = [c for c in facts.checks if c.outcome is CheckOutcome.FAILED and c.on <= today]
    return min(failed, key=lambda c: (c.found != Found.PEROXIDE_OVER.value, c.on), default=None)


def open_doubts(checks: Iterable[ConditionCheck], today: date = date.max) -> tuple[ConditionCheck, ...]:
    """The checks that ask for a look before each use; a check that passed after them ends that.

    The same thing found again counts by its newest check alone.

    >>> odd = ConditionCheck(date(2026, 3, 2), CheckOutcome.DOUBTED)
    >>> fine = replace(odd, outcome=CheckOutcome.PASSED)
    >>> len(open_doubts([odd, fine])), len(open_doubts([fine, odd]))
    (0, 1)
    """
    doubts: list[ConditionCheck] = []
    for check in sorted(checks, key=lambda one: one.on):
        if check.on > today:
            break
        if check.outcome is CheckOutcome.DOUBTED:
            doubts = [one for one in doubts if one.found != check.found] + [check]
        elif check.outcome is CheckOutcome.PASSED:
            doubts = []
    return tuple(doubts)


def _gaps(facts: LifeFacts, today: date) -> tuple[Reason, ...]:
    """What is missing or contradicts itself, so that the container cannot be called in date."""
    found: list[Reason] = []
    policy = facts.policy
    if policy is None:
        found.append(Reason("no-policy", NO_POLICY))
    ages = policy is not None and policy.ages
    dated = facts.printed_date is not None or facts.inherited_until is not None
    needs_start = ages or dated or bool(policy and (policy.has_sealed_life or policy.hard_months is not None))
    if needs_start and facts.start is None:
        found.append(Reason("start-not-known", "Nobody knows when it was packed or came in."))
    if policy and facts.is_open:
        if (ages or policy.has_opened_life) and facts.opened_on is None:
            found.append(Reason("opening-not-known", "It is open and nobody knows since when."))
        if ages and not policy.has_opened_life:
            found.append(Reason("no-opened-figure", "The policy has no figure for it once opened."))
    elif ages and policy and not policy.has_sealed_life:
        found.append(Reason("no-sealed-figure", "The policy has no figure for it while sealed."))
    if policy and policy.end is PolicyEnd.PARTS and facts.inherited_until is None and not facts.inherited_gap:
        words = "Nothing that went into it has an end that is known: how long the mix keeps is not known."
        found.append(Reason("parts-not-known", words))
    if facts.former is not None:
        if facts.start is None and not needs_start:
            found.append(Reason("start-not-known", "Nobody knows when it was packed or came in."))
        told = any(reason.code == "opening-not-known" for reason in found)
        if facts.is_open and facts.opened_on is None and not told:
            found.append(Reason("opening-not-known", "It is open and nobody knows since when."))
    if dates_contradict(facts, today):
        found.append(Reason("dates-contradict", "Its dates contradict each other or have not come yet."))
    if facts.inherited_gap:
        found.append(Reason("inherited-gap", "Something that went into it was not known."))
    return tuple(found)


def _start_reasons(facts: LifeFacts) -> tuple[Reason, ...]:
    if facts.packed_on is None and facts.received_on is not None:
        sentence = (
            f"Packed when is not known: counted from the day it came in, {say_date(facts.received_on)}."
        )
        return (Reason("from-received", sentence, facts.received_on),)
    return ()


def _severe(former: PeroxideLife, how: str) -> Finding:
    words = (
        f"It forms peroxides by itself{how}. Do not open, shake or carry it about: it can explode. Keep "
        "people away, and let licensed people take it."
    )
    return stop(PEROXIDES, words, former.source)


def _past_former(former: PeroxideLife) -> Finding:
    """What is said of a peroxide former past its date, whose peroxides nobody measured."""
    if former.former is Former.SEVERE:
        return _severe(former, " and is past its date")
    words = (
        "It forms peroxides and is past its date. Look at it without touching it: with crystals, dried up or "
        "of unknown age it is left alone and licensed people take it."
    )
    return warn("may-hold-peroxides", words, former.source)


_AGE: Final = frozenset({"start-not-known", "opening-not-known", "dates-contradict", "inherited-gap"})


def _former_of_unknown_age(former: PeroxideLife) -> Finding:
    """What is said of a peroxide former where nobody knows how old it is: as of one past its date."""
    if former.former is Former.SEVERE:
        return _severe(former, ", and nobody knows how old it is")
    words = (
        "It forms peroxides, and nobody knows how old it is. Look at it without touching it, and find its "
        "dates in the papers: where they are not found it is left alone and licensed people take it."
    )
    return warn("may-hold-peroxides", words, former.source)


def _verdict(
    standing: Standing, until: date | None, gaps: tuple[Reason, ...], facts: LifeFacts,
    doubts: tuple[ConditionCheck, ...], ended: ConditionCheck | None, may_be_checked: bool,
) -> Verdict:  # fmt: skip
    policy = facts.policy
    source = policy.source if policy else ""
    found: list[Finding] = []
    if standing is Standing.PAST:
        day = f" since {say_date(add_days(until, 1))}" if until else ""
        if ended is not None and ended.found == Found.PEROXIDE_OVER.value:
            words = (
                f"A strip found peroxides at the limit or above on {say_date(ended.on)}. Do not open, shake, "
                "heat, distil or carry it about: it can explode. Keep people away, and let licensed people "
                "take it."
            )
            found.append(stop(PEROXIDES, words, PEROXIDE_SOURCE))
        elif facts.former is not None:
            found.append(_past_former(facts.former))
        then = "It can only be discarded."
        if may_be_checked:
            then = "It is not used. Open it and look: only a check that passes gives it more time."
        found.append(stop("past", f"It is past its date{day}. {then}", source))
    elif doubts:
        words = f"{all_found_in_words(doubts)} Look at it, or try it, before you use it."
        found.append(warn("look-first", words, "" if doubts[-1].told else source))
    elif standing is Standing.LOOK_FIRST:
        found.append(warn("look-first", "Most of its life is gone. Look at it before you use it.", source))
    look = "Look at it before you use it."
    if facts.former is not None and standing is Standing.NOT_KNOWN and _AGE & {gap.code for gap in gaps}:
        found.append(_former_of_unknown_age(facts.former))
        look = "Find out before anybody touches it."
    found += [unknown(gap.code, f"{gap.sentence} {look}", source) for gap in gaps]
    if policy is not None and policy.house_policy:
        found.append(note("house-policy", "The figures are this shop's own policy, not a published rule."))
    return Verdict.of(found)
