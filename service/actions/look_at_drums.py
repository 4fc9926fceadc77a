"""The waste record: drums with their clocks, hand-overs, what is in no drum, the months. It only reads.

`waste_record` is what a page, a file and a pack for an inspector are made of, now or as the book stood at an
earlier instant. What a clock asks and nobody told takes the shorter time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.actions.judge_drum_mix import met_in_drum
from service.actions.look_at_waste import judged_months
from service.actions.settle import the_shop
from service.core.alerts import DutyFact, Owner
from service.core.findings import Finding, Severity, unknown
from service.core.months import add_days, say_date
from service.core.waste import JudgedMonth, caution
from service.core.waste_clocks import judge_clock
from service.core.waste_drum_clocks import (
    JudgedDrum,
    SiteJudged,
    SiteTold,
    judge_drums,
    judge_site,
    law_of,
)
from service.core.waste_drums import DrumStep
from service.core.waste_record import WasteLine
from service.core.waste_rules import WEIGHT, Category, Jurisdiction
from service.records.knowledge_waste import waste_tables
from service.records.waste_drum_queries import SeenDrum, SeenEntry, seen_drums, told_of_site
from service.records.waste_drums import WasteSite
from service.records.waste_queries import WentOut, went_out

_LONGEST_DAYS = 400


@dataclass(frozen=True)
class DrumShown:
    """A drum that stands, judged on the day."""

    seen: SeenDrum
    judged: JudgedDrum

    @property
    def number(self) -> int:
        return self.seen.number


@dataclass(frozen=True)
class HandOver:
    """A drum that left, with the entry that says to whom."""

    seen: SeenDrum
    entry: SeenEntry


@dataclass(frozen=True)
class WasteRecord:
    """All of it as of ``today``. ``site`` None: no rule of this shop's law was read.

    ``drums``: what must leave first stands first; ``handed_over``: the newest first; ``in_no_drum``: discards
    into a waste drum of which the book does not know which; ``months``: the newest first, with their lines.
    """

    today: date
    law: Jurisdiction | None
    told: SiteTold
    told_row: WasteSite | None
    site: SiteJudged | None
    drums: list[DrumShown]
    handed_over: list[HandOver]
    in_no_drum: list[WentOut]
    months: list[tuple[JudgedMonth, list[WasteLine]]]
    findings: tuple[Finding, ...]


def waste_record(session: Session, at: datetime, as_of: datetime | None = None) -> WasteRecord:
    """Drums, hand-overs, what is in no drum, and the months.

    Args:
        at: the instant whose day the clocks are judged on.
        as_of: only what the book had heard by then; None = all of it. For a past pack give both alike.

    Raises:
        Invalid: the shop has not been set up.
    """
    shop = the_shop(session)
    zone = ZoneInfo(shop.time_zone)
    today, law = at.astimezone(zone).date(), law_of(shop.regime)
    seen = seen_drums(session, as_of=as_of)
    told, row = told_of_site(session, zone, as_of)
    loose = went_out(session, as_of=as_of, no_drum=True)
    months = judged_months(session, zone, seen, as_of=as_of)
    oldest = _oldest(seen, loose, zone)
    judged = [month for month, _ in months if oldest is not None and month.month.name >= f"{oldest:%Y-%m}"]
    site, drums = _judge(seen, told, judged, bool(loose), today, law)
    drums = [_with_what_met(session, one) for one in drums]
    rules = caution(law or Jurisdiction.EU)
    return WasteRecord(
        today, law, told, row, site, drums, _handed(seen), loose, months,
        (*rules, *_in_no_drum(loose), *(site.findings if site else ())),
    )  # fmt: skip


def _judge(
    seen: Sequence[SeenDrum], told: SiteTold, months: Sequence[JudgedMonth], elsewhere: bool, today: date,
    law: Jurisdiction | None,
) -> tuple[SiteJudged | None, list[DrumShown]]:  # fmt: skip
    states = [one.state for one in seen]
    tables = waste_tables()
    site = judge_site(tables, states, told, months, elsewhere=elsewhere)
    by_number = {one.number: one for one in seen}
    shown = [
        DrumShown(by_number[one.state.facts.number], one)
        for one in judge_drums(tables, states, site, today, law)
    ]
    shown.sort(key=lambda one: (one.judged.deadline or date.max, one.number))
    return (site if law is Jurisdiction.US else None), shown


def _with_what_met(session: Session, one: DrumShown) -> DrumShown:
    """The drum with what is found against what stands in it together."""
    met = met_in_drum(session, one.seen).findings
    return replace(one, judged=replace(one.judged, findings=(*one.judged.findings, *met)))


def _handed(seen: Sequence[SeenDrum]) -> list[HandOver]:
    found = []
    for one in seen:
        gone = {entry.row.reverses_id for entry in one.entries}
        found += [
            HandOver(one, entry) for entry in one.entries
            if entry.row.step is DrumStep.HANDED_OVER and entry.row.id not in gone
        ]  # fmt: skip
    return sorted(found, key=lambda one: (one.entry.row.happened_at, one.entry.row.id or 0), reverse=True)


def _oldest(seen: Sequence[SeenDrum], loose: Sequence[WentOut], zone: ZoneInfo) -> date | None:
    """The day of the oldest waste that stands here, in a drum of the book or in one that nobody named."""
    days = [day for one in seen if one.state.standing and (day := one.state.first_on)]
    return min([*days, *(one.happened_at.astimezone(zone).date() for one in loose)], default=None)


def _in_no_drum(loose: Sequence[WentOut]) -> tuple[Finding, ...]:
    if not loose:
        return ()
    many = f"{len(loose)} {'discard' if len(loose) == 1 else 'discards'}"
    words = f"{many} went into a waste drum that nobody named. Its time is not known: name the drum."
    return (unknown("waste-in-no-drum", words),)


def drums_due(session: Session, today: date, keepers: Owner) -> list[DutyFact]:
    """Drums that must leave soon or should have, and a cap that is passed, as alerts and mails tell them.

    And what went into a drum that nobody named. Two statements where there is neither.
    """
    seen = seen_drums(session, gone_since=add_days(today, -_LONGEST_DAYS))
    loose = went_out(session, no_drum=True)
    if not loose and not any(one.state.standing for one in seen):
        return []
    shop = the_shop(session)
    law, zone = law_of(shop.regime), ZoneInfo(shop.time_zone)
    if law is not Jurisdiction.US:
        return [_loose_fact(loose, today, today, keepers)] if loose else []
    begin = (_oldest(seen, loose, zone) or today).replace(day=1)
    if begin < add_days(today, -_LONGEST_DAYS):
        # What left since the oldest waste came counts in its months, however long ago that was.
        seen = seen_drums(session, gone_since=begin)
    since = datetime.combine(begin, time(), tzinfo=zone) - timedelta(hours=1)
    months = judged_months(session, zone, seen, since=since)
    months = [one for one in months if one[0].month.name >= f"{begin:%Y-%m}"]
    told, _ = told_of_site(session, zone)
    site, drums = _judge(seen, told, [month for month, _ in months], bool(loose), today, law)
    found = [_fact(one, today, keepers) for one in drums if one.judged.near(today)]
    if loose and site is not None:
        first = min(one.happened_at.astimezone(zone).date() for one in loose)
        before = told.heaviest_since(first)
        category = Category.LQG if site.perhaps_lqg else site.category
        if before is not None and category and WEIGHT[before.category] > WEIGHT[category]:
            category = before.category
        clock = judge_clock(waste_tables(), category, first, today, site.haul_miles, site.cap)
        found.append(_loose_fact(loose, clock.deadline or today, today, keepers))
    if site is not None and any(one.code == "waste-over-cap" for one in site.findings):
        words = next(one.sentence for one in site.findings if one.code == "waste-over-cap")
        do = "Have waste collected, and ask which rules hold until then."
        found.append(
            DutyFact(words, today, "Waste on the site", keepers.words, overdue=site.cap.exceeded is True,
                     what_to_do=do, ref="waste-drums", people=keepers.people)
        )  # fmt: skip
    return found


def _loose_fact(loose: Sequence[WentOut], last: date, today: date, keepers: Owner) -> DutyFact:
    """What is in a drum that nobody named is told of at once; late from the day after ``last``."""
    [finding] = _in_no_drum(loose)
    do = "Say on the page of waste drums which drum it went into."
    return DutyFact(
        finding.sentence, min(last, today), "Waste in no drum", keepers.words, overdue=last < today,
        what_to_do=do, ref="waste-in-no-drum", people=keepers.people,
    )  # fmt: skip


def _fact(one: DrumShown, today: date, keepers: Owner) -> DutyFact:
    judged, name = one.judged, one.seen.row.name
    assert judged.deadline is not None
    heavy = (Severity.STOP, Severity.WARN, Severity.UNKNOWN)
    said = [f.sentence for severity in heavy for f in judged.findings if f.severity is severity]
    words = said[0] if said else f"It must leave by {say_date(judged.deadline)}."
    do = "Order its collection, and write down the hand-over."
    if one.judged.state.in_satellite:
        do = "Move it to the central area and write that down, or measure what is in it."
    return DutyFact(
        f"Waste drum {name}: {words}", judged.deadline, name, keepers.words, overdue=judged.overdue is True,
        what_to_do=do, ref=f"waste-drum {one.number}", people=keepers.people, ahead=30,
    )  # fmt: skip
