"""The ends of a container's life: whose word each is, what checks move, and the share from which to look.

Doors: core/ageing.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, Decimal

from service.core.conditions import found_words
from service.core.life_facts import CheckOutcome, LifeFacts
from service.core.months import add_days, add_months, days_between, earliest, say_date


@dataclass(frozen=True)
class Reason:
    """One step of the answer: which rule, in a sentence, with its date and whose word it is."""

    code: str
    sentence: str
    on: date | None = None
    source: str = ""


@dataclass(frozen=True)
class Limit:
    """One end: the span it closes, and from when it is in force (a check before that does not move it)."""

    begin: date | None
    end: date
    reason: Reason
    in_force: date = date.min
    movable: bool = True


def limits_of(facts: LifeFacts) -> list[Limit]:
    """All known ends before any check; ends counted from bounds are ends "at the latest"."""
    start, policy, found = facts.started_at_latest, facts.policy, []
    if facts.printed_date is not None:
        sentence = f"The date printed on it is {say_date(facts.printed_date)}."
        reason = Reason("printed", sentence, facts.printed_date)
        # The maker's word: no look of this shop moves it.
        found.append(Limit(start, facts.printed_date, reason, movable=False))
    if facts.inherited_until is not None:
        sentence = (
            "What went into it, or what it became (a solution keeps less long), is in date only until "
            f"{say_date(facts.inherited_until)}."
        )
        found.append(
            Limit(
                start,
                facts.inherited_until,
                Reason("inherited", sentence, facts.inherited_until),
                movable=False,
            )
        )
    found += _peroxide_limits(facts)
    if policy is None:
        return found
    sealed = start and policy.sealed_end(start)
    if start and sealed:
        sentence = f"Counted from {say_date(start)} its life ends on {say_date(sealed)}."
        found.append(Limit(start, sealed, Reason("sealed-life", sentence, sealed, policy.source)))
    opened_on = earliest(facts.opened_on, facts.opened_by)
    opened = opened_on and policy.opened_end(opened_on)
    if opened_on and opened:
        sentence = f"Opened on {say_date(opened_on)} its opened life ends on {say_date(opened)}."
        found.append(
            Limit(opened_on, opened, Reason("opened-life", sentence, opened, policy.source), opened_on)
        )
    hard = hard_end(facts)
    if hard:
        sentence = f"No check takes it past {say_date(hard)}."
        reason = Reason("hard-stop", sentence, hard, policy.source)
        found.append(Limit(start, hard, reason, movable=False))
    return found


def _peroxide_limits(facts: LifeFacts) -> list[Limit]:
    """The longest a peroxide former is kept, whatever the policy says; no look moves it."""
    former, found = facts.former, []
    if former is None:
        return []
    start, opened = facts.started_at_latest, earliest(facts.opened_on, facts.opened_by)
    for begin, months, words in (
        (start, former.sealed_months, "Kept"), (opened, former.opened_months, "Opened"),
    ):  # fmt: skip
        if begin is not None:
            end = add_months(begin, months)
            said = f"It forms peroxides. {words} since {say_date(begin)}, it goes out by {say_date(end)}."
            found.append(Limit(begin, end, Reason("peroxides", said, end, former.source), movable=False))
    return found


def moved_by_checks(
    facts: LifeFacts, limits: list[Limit], today: date
) -> tuple[list[Limit], tuple[Reason, ...]]:
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
            whose = f"What was told on {say_date(check.on)}, " if check.told else f"{said}found "
            words = f"{whose}{what or 'something doubtful'}: look before each use until a check passes."
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


def _extended(limit: Limit, day: date, until: date) -> Limit:
    # The hard stop is a limit of its own that nothing moves, so `until` need not be cut to it here.
    # In force only from the day after the opening: a check on the opening day may have come first.
    if not limit.movable or limit.in_force >= day or until <= limit.end:
        return limit
    return replace(limit, begin=day, end=until)


def hard_end(facts: LifeFacts) -> date | None:
    start = facts.started_at_latest
    return facts.policy.hard_end(start) if facts.policy and start else None


def warn_day(limits: list[Limit], until: date | None, share: Decimal) -> date | None:
    """The earliest day on which ``share`` of the span of some limit is gone."""
    days = []
    for limit in limits:
        begin = limit.end if limit.begin is None else min(limit.begin, limit.end)
        gone = (share * days_between(begin, limit.end)).to_integral_value(ROUND_CEILING)
        days.append(add_days(begin, int(gone)))
    return earliest(min(days, default=None), until)
