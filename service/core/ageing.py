"""How a container stands on a day: in date, look first, past or not known, and the reasons (design 5.2).

Doors: records/stock.py, actions/container_events.py, actions/list_alerts.py, web/pages/containers.py.

What is not known never makes a standing milder: a limit that is surely over counts even when others are
missing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, Decimal
from typing import Final

from service.core.ageing_policies import AgeingPolicy, PolicyEnd
from service.core.conditions import found_words
from service.core.containers import Standing
from service.core.findings import Finding, Verdict, note, stop, unknown, warn
from service.core.ledger import MovementKind
from service.core.life_facts import CheckOutcome, ConditionCheck, LifeFacts, dates_contradict
from service.core.months import add_days, add_months, days_between, earliest, say_date

WARN_SHARE: Final = Decimal("0.8")
"""From this share of a life on: look first (house policy; the shop may set its own)."""


@dataclass(frozen=True)
class Reason:
    """One step of the answer: which rule, in a sentence, with its date and whose word it is."""

    code: str
    sentence: str
    on: date | None = None
    source: str = ""


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


@dataclass(frozen=True)
class _Limit:
    """One end: the span it closes, and from when it is in force (a check before that does not move it)."""

    begin: date | None
    end: date
    reason: Reason
    in_force: date = date.min
    movable: bool = True


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
    limits, steps = _moved(facts, _limits(facts), today)
    failed = min(
        (c.on for c in facts.checks if c.outcome is CheckOutcome.FAILED and c.on <= today), default=None
    )
    until = min((limit.end for limit in limits), default=None)
    if failed is not None:
        until = earliest(until, add_days(failed, -1))
        steps = (*steps, Reason("failed", f"A check on {say_date(failed)} failed: this ended it.", failed))
    warn_from = _warn_from(limits, until, warn_share)
    doubt = _doubt(facts, today)
    if until is not None and until < today:
        standing = Standing.PAST
    elif gaps:
        standing = Standing.NOT_KNOWN
    elif (warn_from is not None and warn_from <= today) or doubt is not None:
        standing = Standing.LOOK_FIRST
    else:
        standing = Standing.IN_DATE
    sure = not gaps or standing is Standing.PAST
    because = (*gaps, *_start_reasons(facts), *(limit.reason for limit in limits), *steps)
    return Ageing(
        standing=standing,
        in_date_until=until if sure else None,
        warn_from=warn_from if sure else None,
        hard_stop=_hard_end(facts),
        at_latest=until,
        because=because,
        verdict=_verdict(standing, until, gaps, facts.policy, doubt),
    )


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
        limits, _ = _moved(facts, _limits(facts), day)
        warn_from = _warn_from(limits, at.at_latest, warn_share)
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


def _limits(facts: LifeFacts) -> list[_Limit]:
    """All known ends before any check; ends counted from bounds are ends "at the latest"."""
    start, policy, found = facts.started_at_latest, facts.policy, []
    if facts.printed_date is not None:
        sentence = f"The date printed on it is {say_date(facts.printed_date)}."
        found.append(_Limit(start, facts.printed_date, Reason("printed", sentence, facts.printed_date)))
    if facts.inherited_until is not None:
        sentence = f"Something in it was in date only until {say_date(facts.inherited_until)}."
        found.append(
            _Limit(start, facts.inherited_until, Reason("inherited", sentence, facts.inherited_until))
        )
    if policy is None:
        return found
    sealed = start and policy.sealed_end(start)
    if start and sealed:
        sentence = f"Counted from {say_date(start)} its life ends on {say_date(sealed)}."
        found.append(_Limit(start, sealed, Reason("sealed-life", sentence, sealed, policy.source)))
    opened_on = earliest(facts.opened_on, facts.opened_by)
    opened = opened_on and policy.opened_end(opened_on)
    if opened_on and opened:
        sentence = f"Opened on {say_date(opened_on)} its opened life ends on {say_date(opened)}."
        found.append(
            _Limit(opened_on, opened, Reason("opened-life", sentence, opened, policy.source), opened_on)
        )
    hard = _hard_end(facts)
    if hard:
        sentence = f"No check takes it past {say_date(hard)}."
        reason = Reason("hard-stop", sentence, hard, policy.source)
        found.append(_Limit(start, hard, reason, movable=False))
    return found


def _moved(facts: LifeFacts, limits: list[_Limit], today: date) -> tuple[list[_Limit], tuple[Reason, ...]]:
    """The ends after the checks made up to ``today``. A passed check never brings an end forward.

    It moves only ends that were in force that day: a check before the lid was lifted says nothing about the
    opened life.
    """
    steps: list[Reason] = []
    extends = facts.policy.extends if facts.policy else None
    allowed = facts.policy.max_extensions if facts.policy else None
    used = 0
    for check in sorted(facts.checks, key=lambda c: c.on):
        if check.outcome is CheckOutcome.FAILED or check.on > today:
            continue
        said = f"The check on {say_date(check.on)} "
        what = found_words(check.found)
        if check.outcome is CheckOutcome.DOUBTED:
            words = f"{said}found {what or 'something doubtful'}: look before each use until a check passes."
            steps.append(Reason("doubted", words, check.on))
        elif check.outcome is CheckOutcome.NOTED:
            steps.append(Reason("noted", f"{said}found {what or 'something'}: this moves nothing.", check.on))
        elif check.outcome is CheckOutcome.SKIN_CUT:
            steps.append(Reason("skin-cut", f"{said}found a skin and cut it: this moves nothing.", check.on))
        elif extends is None:
            steps.append(
                Reason("not-extended", f"{said}passed; its policy moves no date for that.", check.on)
            )
        elif allowed is not None and used >= allowed:
            steps.append(Reason("extensions-used", f"{said}passed; all extensions are used.", check.on))
        else:
            moved = [_extended(limit, check.on, add_months(check.on, extends)) for limit in limits]
            if limits and min(m.end for m in moved) > min(limit.end for limit in limits):
                limits, used = moved, used + 1
                end = min(limit.end for limit in limits)
                steps.append(Reason("extended", f"{said}passed: until {say_date(end)}.", end))
            else:
                steps.append(Reason("not-extended", f"{said}passed; it gives no further time.", check.on))
    return limits, tuple(steps)


def _extended(limit: _Limit, day: date, until: date) -> _Limit:
    # The hard stop is a limit of its own that nothing moves, so `until` need not be cut to it here.
    # In force only from the day after the opening: a check on the opening day may have come first.
    if not limit.movable or limit.in_force >= day or until <= limit.end:
        return limit
    return replace(limit, begin=day, end=until)


def _doubt(facts: LifeFacts, today: date) -> ConditionCheck | None:
    """The last check that asks for a look before each use; a check that passed after it ends that."""
    doubt: ConditionCheck | None = None
    for check in sorted(facts.checks, key=lambda one: one.on):
        if check.on > today:
            break
        if check.outcome is CheckOutcome.DOUBTED:
            doubt = check
        elif check.outcome is CheckOutcome.PASSED:
            doubt = None
    return doubt


def _hard_end(facts: LifeFacts) -> date | None:
    start = facts.started_at_latest
    return facts.policy.hard_end(start) if facts.policy and start else None


def _warn_from(limits: list[_Limit], until: date | None, share: Decimal) -> date | None:
    """The earliest day on which ``share`` of the span of some limit is gone."""
    days = []
    for limit in limits:
        begin = limit.end if limit.begin is None else min(limit.begin, limit.end)
        gone = (share * days_between(begin, limit.end)).to_integral_value(ROUND_CEILING)
        days.append(add_days(begin, int(gone)))
    return earliest(min(days, default=None), until)


def _gaps(facts: LifeFacts, today: date) -> tuple[Reason, ...]:
    """What is missing or contradicts itself, so that the container cannot be called in date."""
    found: list[Reason] = []
    policy = facts.policy
    if policy is None:
        found.append(Reason("no-policy", "The shop has no ageing policy for this material."))
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
        found.append(Reason("parts-not-known", "How long what went into it lasts is not known."))
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


def _verdict(
    standing: Standing, until: date | None, gaps: tuple[Reason, ...], policy: AgeingPolicy | None,
    doubt: ConditionCheck | None,
) -> Verdict:  # fmt: skip
    source = policy.source if policy else ""
    found: list[Finding] = []
    if standing is Standing.PAST:
        day = f" since {say_date(add_days(until, 1))}" if until else ""
        found.append(stop("past", f"It is past its date{day}. It can only be discarded.", source))
    elif doubt is not None:
        what = found_words(doubt.found) or "something doubtful"
        words = f"A check on {say_date(doubt.on)} found {what}. Look at it, or try it, before you use it."
        found.append(warn("look-first", words, source))
    elif standing is Standing.LOOK_FIRST:
        found.append(warn("look-first", "Most of its life is gone. Look at it before you use it.", source))
    found += [unknown(gap.code, f"{gap.sentence} Look at it before you use it.", source) for gap in gaps]
    if policy is not None and policy.house_policy:
        found.append(note("house-policy", "The figures are this shop's own policy, not a published rule."))
    return Verdict.of(found)
