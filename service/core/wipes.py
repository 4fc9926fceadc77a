"""A container of solvent wipes kept apart under 40 CFR 261.4(a)(26) or (b)(18): its label and its 180 days.

Doors: actions/keep_wipes.py, web/pages/wipes.py, web/api/wipes.py.

The exclusion holds only while every condition does. It says nothing about fire: rags with a drying oil on
them keep their own clocks in whatever can they lie, and the stricter time counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

from service.core.findings import Finding, Verdict, note, stop, warn
from service.core.materials import Unknown
from service.core.months import add_days, days_between, say_date
from service.core.rag_deadlines import day_end
from service.core.written_reason import A_SENTENCE, is_sentence

LABEL: Final = "Excluded Solvent-Contaminated Wipes"
"""The words that the rule asks for on the container."""
WIPES_BEGUN: Final = "wipes-begun"
WIPES_SENT: Final = "wipes-sent"
"""The two entries of the rag log about a container of wipes."""
DAYS: Final = 180
WARN_DAYS: Final = 30
SOURCE: Final = "40 CFR 261.4(a)(26) and (b)(18)"


class WipesWay(StrEnum):
    """How a container of wipes ends: cleaned and used again, or thrown away. Only the second asks about
    trichloroethylene, which (b)(18) leaves out.
    """

    LAUNDRY = "laundry"
    LANDFILL = "landfill"
    COMBUSTOR = "combustor"


WAY_WORDS: Final = {
    WipesWay.LAUNDRY: "a laundry or dry cleaner",
    WipesWay.LANDFILL: "a landfill that may take them",
    WipesWay.COMBUSTOR: "a combustor that may take them",
}


@dataclass(frozen=True)
class WipesFacts:
    """One container from its first wipe on, as somebody looked at it."""

    name: str
    started_on: date
    labelled: Unknown
    sound: Unknown
    oily: bool = False


def last_day(started_on: date) -> date:
    """The last day on which the container may still be here: 180 days from the start date.

    >>> last_day(date(2026, 1, 1)).isoformat(), last_day(date(2024, 1, 1)).isoformat()
    ('2026-06-30', '2024-06-29')
    """
    return add_days(started_on, DAYS)


def due_at(started_on: date, zone: ZoneInfo) -> datetime:
    """24:00 of that day on the shop's clock, in UTC. Counted in days of the wall, not in hours.

    >>> due_at(date(2026, 1, 1), ZoneInfo("America/New_York")).isoformat()
    '2026-07-01T04:00:00+00:00'
    """
    # From noon: a midnight may not exist on the clocks.
    return day_end(datetime.combine(last_day(started_on), time(12), tzinfo=zone), zone)


def may_begin(facts: WipesFacts, today: date) -> Verdict:
    """What keeps a container from being kept under the rule. Not known counts as no.

    >>> may_begin(WipesFacts("Can", date(2026, 1, 1), Unknown.NO, Unknown.YES), date(2026, 1, 1)).codes
    frozenset({'wipes-not-labelled'})
    """
    found: list[Finding] = []
    if facts.started_on > today:
        found.append(stop("wipes-future", "That day has not come yet. Give the day of the first wipe."))
    if facts.labelled is not Unknown.YES:
        words = f"Write “{LABEL}” on {facts.name} first. Without these words the rule does not hold."
        found.append(stop("wipes-not-labelled", words, SOURCE, facts.name))
    if facts.sound is not Unknown.YES:
        words = (
            f"Look whether {facts.name} is closed, does not leak and could hold free liquid. "
            "Without that the rule does not hold, and the wipes are ordinary hazardous waste."
        )
        found.append(stop("wipes-container", words, SOURCE, facts.name))
    return Verdict.of(found)


def standing_of(facts: WipesFacts, today: date) -> Verdict:
    """What to know of a container that stands: the days left, what the rule does not cover.

    >>> facts = WipesFacts("Can", date(2026, 1, 1), Unknown.YES, Unknown.YES)
    >>> [sorted(standing_of(facts, day).codes & {"wipes-past", "wipes-soon"})
    ...  for day in (date(2026, 5, 30), date(2026, 5, 31), date(2026, 6, 30), date(2026, 7, 1))]
    [[], ['wipes-soon'], ['wipes-soon'], ['wipes-past']]
    """
    last = last_day(facts.started_on)
    left = days_between(today, last)
    found: list[Finding] = []
    if left < 0:
        late = "1 day" if left == -1 else f"{-left} days"
        words = (
            f"{facts.name} had to leave by {say_date(last)}: {late} too long. The exclusion no longer holds. "
            "Treat it as hazardous waste now and ask who looks after your waste."
        )
        found.append(stop("wipes-past", words, SOURCE, facts.name))
    elif left <= WARN_DAYS:
        rest = "today is the last day" if left == 0 else "1 day left" if left == 1 else f"{left} days left"
        words = f"{facts.name} must leave by {say_date(last)}: {rest}. Order its collection."
        found.append(warn("wipes-soon", words, SOURCE, facts.name))
    if facts.oily:
        words = (
            f"Rags with a drying oil lie in {facts.name} too. Their own times go on running and come first: "
            "180 days are never given to them."
        )
        found.append(warn("wipes-with-oil", words, "OSHA letter, 23 May 2000: both clocks run", facts.name))
    found.append(
        note(
            "wipes-scope",
            "The rule is for wipes that are hazardous by their solvent alone. With lead, cadmium or chromium "
            "pigment, acid or alkali on them it does not hold. States differ: ask yours.",
            SOURCE,
        )
    )
    return Verdict.of(found)


def may_leave(way: WipesWay, named: str, address: str, no_liquid: str, trichloroethylene: Unknown) -> Verdict:
    """What is missing before the container may be handed over under the rule.

    >>> told = ("Weir Lane Laundry", "2 Weir Lane", "Wrung out, nothing at the bottom")
    >>> may_leave(WipesWay.LAUNDRY, *told, Unknown.NOT_KNOWN).codes
    frozenset()
    >>> may_leave(WipesWay.LANDFILL, *told, Unknown.NOT_KNOWN).codes
    frozenset({'wipes-trichloroethylene'})
    """
    found: list[Finding] = []
    if len(named.split()) < 1 or len(address.split()) < 2:
        words = "Write the name and the address of who takes them. The rule asks for both in the records."
        found.append(stop("wipes-receiver", words, SOURCE))
    if not is_sentence(no_liquid):
        words = f"Say how you know that no free liquid is in them or in the container: {A_SENTENCE}."
        found.append(stop("wipes-free-liquid", words, SOURCE))
    if way is not WipesWay.LAUNDRY and trichloroethylene is not Unknown.NO:
        words = (
            "Wipes with trichloroethylene may not be thrown away under this rule, and not known counts as "
            "yes. Find out, or hand them over as hazardous waste."
        )
        found.append(stop("wipes-trichloroethylene", words, "40 CFR 261.4(b)(18)"))
    return Verdict.of(found)
