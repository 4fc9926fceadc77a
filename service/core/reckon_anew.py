"""How long a jar lasts, reckoned anew from what went into it after a policy was put right.

Doors: actions/settle_jars_anew.py.

What a keeper looked up wrongly is no property of a jar: an end, or an end not known, that came from a wrong
policy goes with it. All else that a jar took over stays, and so does anything that is still not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.core.ageing import judge
from service.core.containers import Standing
from service.core.life_facts import CheckOutcome, LifeFacts, dates_contradict
from service.core.months import earliest


@dataclass(frozen=True)
class PartOfJar:
    """One container of which something went into a jar: its life as it stands now, and the day it went in.

    ``mixed``: by way of a batch, so that its own end counts; else it was poured over, and only what it had
    taken over itself does.
    """

    facts: LifeFacts
    on: date
    mixed: bool


def reckoned_anew(
    jar: LifeFacts, parts: Sequence[PartOfJar], today: date, at_most: date | None = None
) -> LifeFacts:
    """The jar with a later end, or with one where none was known; the same jar where nothing gets milder.

    Each part is judged by the policy in force now, on the day it went in and today, and the earlier end
    counts. Where one is not known on either day, or its dates contradict each other, nothing changes. A check
    that passed on the day it went in or later says nothing of the jar; one that failed or doubted counts.
    ``at_most``: what was dissolved in it keeps no longer (core/dissolved_life.py).

    >>> from service.core.ageing_policies import AgeingPolicy, PolicyEnd
    >>> oil = AgeingPolicy(PolicyEnd.RETEST, sealed_months=24, opened_months=12)
    >>> tin = LifeFacts(packed_on=date(2026, 1, 1), opened_on=date(2026, 2, 1), policy=oil)
    >>> part = PartOfJar(tin, date(2026, 3, 1), mixed=True)
    >>> reckoned_anew(LifeFacts(inherited_gap=True), [part], date(2026, 4, 1)).inherited_until
    datetime.date(2027, 2, 1)
    """
    ends: list[date | None] = [at_most]
    for part in parts:
        if part.facts.inherited_gap or dates_contradict(part.facts, part.on):
            return jar
        ends.append(part.facts.inherited_until)
        if part.mixed:
            of_part = _ends_of(part, today)
            if of_part is None:
                return jar
            ends += of_part
    until = earliest(*ends)
    later = jar.inherited_until is not None and (until is None or until > jar.inherited_until)
    if not parts or not (jar.inherited_gap or later):
        return jar
    return replace(jar, inherited_until=until, inherited_gap=False)


def _ends_of(part: PartOfJar, today: date) -> list[date | None] | None:
    """The last days in date of what went into a batch; None where it is not known."""
    counts = tuple(
        one for one in part.facts.checks if one.outcome is not CheckOutcome.PASSED or one.on < part.on
    )
    then = replace(part.facts, checks=counts)
    stood = [judge(then, day) for day in (part.on, today)]
    if any(at.standing is Standing.NOT_KNOWN for at in stood):
        return None
    return [at.in_date_until for at in stood]
