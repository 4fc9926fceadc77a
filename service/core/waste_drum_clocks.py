"""The clocks of a shop's drums of waste: three days for an excess, 90, 180 or 270 for what is gathered.

Doors: actions/look_at_drums.py, outreach/waste_label.py.

Only US federal rules are read. What is not known takes the shorter time: no category told LQG's, acute not
told the quart, a size not told no bound. Days are the shop's calendar days; the last of them still counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from typing import Final

from service.core.findings import Finding, note, stop, unknown, warn
from service.core.materials import Unknown
from service.core.months import add_days, days_between, say_date
from service.core.waste import JudgedMonth, say_kg
from service.core.waste_clocks import WARN_DAYS, CapJudged, Site, judge_cap, judge_clock
from service.core.waste_drum_lacks import lacks_of, size_findings, unwritten_findings
from service.core.waste_drums import DrumState
from service.core.waste_excess import excess_at, started_on, three_days
from service.core.waste_rules import WEIGHT, Category, Clock, Jurisdiction, WasteTables
from service.core.waste_stood import StoodOver, stood_over

_MG: Final = 1_000_000
_LAWS: Final = {"us-hcs": Jurisdiction.US, "eu-clp": Jurisdiction.EU}


def law_of(regime: str) -> Jurisdiction | None:
    """Whose rules of waste hold in a shop, by the regime of its profile; None: nothing is held of it.

    >>> law_of("us-hcs").value, law_of("un-ghs") is None
    ('us', True)
    """
    return _LAWS.get(regime)


@dataclass(frozen=True)
class ToldBefore:
    """A category that a keeper told on ``since`` and that held until ``until``; both days count."""

    category: Category
    since: date
    until: date


@dataclass(frozen=True)
class SiteTold:
    """What a keeper told of the whole shop. None: not told. ``before``: what was told and replaced since."""

    category: Category | None = None
    haul_miles: int | None = None
    before: tuple[ToldBefore, ...] = ()

    def heaviest_since(self, first_on: date | None) -> ToldBefore | None:
        """The heaviest of what held while waste that was gathered since this day stood here."""
        held = [one for one in self.before if first_on is not None and one.until >= first_on]
        return max(held, key=lambda one: WEIGHT[one.category], default=None)


@dataclass(frozen=True)
class SiteJudged:
    """``category``: the heavier of what was told and what the months show; None: not told."""

    category: Category | None
    haul_miles: Fraction | None
    cap: CapJudged
    kg: Fraction
    more: bool
    findings: tuple[Finding, ...]
    perhaps_lqg: bool = False
    """More acute waste may stand here than any but an LQG may have: its time counts."""
    passed: StoodOver = field(default_factory=StoodOver)
    """When more than the cap of a VSQG stood here: the time of what stood here then goes on."""
    acute_passed: StoodOver = field(default_factory=StoodOver)
    told: SiteTold = field(default_factory=SiteTold)


@dataclass(frozen=True)
class JudgedDrum:
    """A drum on a day. ``deadline`` None: no clock runs, or no rule is read (``findings`` say which).

    ``overdue`` None: not known, as no rule is read. ``started``: from when the clock counts; ``excess_on``:
    since when its spot holds too much, or may.
    """

    state: DrumState
    started: date | None
    excess_on: date | None
    deadline: date | None
    overdue: bool | None
    citation: str
    grade: str
    findings: tuple[Finding, ...]

    def days_left(self, today: date) -> int | None:
        return None if self.deadline is None else days_between(today, self.deadline)

    def near(self, today: date) -> bool:
        """Whether somebody has to hear of it: 30 days before the end; of an excess at once."""
        left = self.days_left(today)
        return left is not None and left <= WARN_DAYS


def judge_site(
    tables: WasteTables, drums: Iterable[DrumState], told: SiteTold, months: Iterable[JudgedMonth] = (),
    *, elsewhere: bool = False,
) -> SiteJudged:  # fmt: skip
    """The category and the cap of the shop.

    Args:
        months: judged months since the oldest waste; a heavier category in one of them counts.
        elsewhere: waste went into a drum that the book does not know; it comes on top, unknown.
    """
    every = list(drums)
    standing = [one for one in every if one.standing]
    found: list[Finding] = []
    least = max((one.at_least for one in months), key=WEIGHT.__getitem__, default=Category.VSQG)
    category = told.category
    if category is None:
        words = "A keeper has not said which generator category the shop is. The shortest time counts."
        found.append(unknown("waste-category-not-told", words, "40 CFR 262.13"))
        category = Category.LQG if least is Category.LQG else None
    elif WEIGHT[least] > WEIGHT[category]:
        words = f"By the months of the book the shop is {least.value}, not {category.value}; that counts."
        found.append(warn("waste-category-heavier", words, "40 CFR 262.13"))
        category = least
    kg = Fraction(sum(one.mg.known for one in standing), _MG)
    more = elsewhere or any(one.mg.more for one in standing)
    acute = _acute_here(tables, standing)
    if acute.over and category is not Category.LQG:
        category = Category.LQG
        words = "More than 1 kg of acute waste stands here: the shop counts as LQG, with its time of 90 days."
        found.append(warn("waste-acute-over", words, "40 CFR 262.13, 262.14(a)(3)"))
    elif acute.perhaps and category is not Category.LQG:
        words = (
            "It is not known whether more than 1 kg of acute waste stands here. Until it is, the time of an "
            "LQG counts, 90 days. Weigh the drums that hold acute waste, or may."
        )
        found.append(unknown("waste-acute-not-known", words, "40 CFR 262.13, 262.14(a)(3)"))
    acute_kg = acute.kg
    cap = judge_cap(tables, category, Site(kg, acute_kg))
    if cap.exceeded is False and acute_kg is None and category is not Category.LQG:
        cap = CapJudged(None, cap.cap_kg, cap.findings)  # acute waste has a cap of its own
    if more and cap.exceeded is not True and cap.cap_kg is not None:
        if cap.exceeded is False:
            cap = CapJudged(None, cap.cap_kg, cap.findings)
        words = f"At least {say_kg(kg)} kg stand here; something of unknown mass comes on top."
        if not kg:
            words = "How many kilograms stand here is not known."
        found.append(unknown("waste-on-site-at-least", f"{words} Weigh what is in the drums."))
    haul = None if told.haul_miles is None else Fraction(told.haul_miles)
    perhaps = acute.perhaps and category is not Category.LQG
    passed, acute_passed = _ever_over(tables, every)
    findings = (*found, *cap.findings)
    return SiteJudged(category, haul, cap, kg, more, findings, perhaps, passed, acute_passed, told)


def _ever_over(tables: WasteTables, drums: Sequence[DrumState]) -> tuple[StoodOver, StoodOver]:
    """When more than a VSQG may have stood here, of all waste and of acute waste."""
    row, acute = (tables.clock(one, Category.VSQG) for one in (Clock.CAP, Clock.ACUTE_CAP))
    if row is None or acute is None:
        raise ValueError("no caps of a VSQG are held")
    # What left before the oldest of what stands came is beside nothing any more.
    oldest = min((one.first_on for one in drums if one.standing and one.first_on), default=date.max)
    drums = [one for one in drums if one.gone_on is None or one.gone_on >= oldest]
    sure = [one for one in drums if one.facts.acute is Unknown.YES]
    unsure = [one for one in drums if one.facts.acute is Unknown.NOT_KNOWN]
    return stood_over(drums, int(row.value * _MG)), stood_over(sure, int(acute.value * _MG), unsure)


def _ruled(site: SiteJudged, one: DrumState) -> tuple[Category | None, CapJudged, tuple[Finding, ...]]:
    """Category and cap by which the time of one drum counts: what was passed beside it is not undone."""
    if site.category is not Category.LQG and site.acute_passed.with_it(one.first_on) is not False:
        words = (
            "More than 1 kg of acute waste stood here beside it, or may have: the time of an LQG goes on "
            "until it leaves."
        )
        found = () if site.perhaps_lqg else (unknown("waste-acute-passed", words, "40 CFR 262.14(a)(3)"),)
        return Category.LQG, site.cap, found
    if site.perhaps_lqg:
        return Category.LQG, site.cap, ()
    before = site.told.heaviest_since(one.first_on)
    if before is not None and site.category and WEIGHT[before.category] > WEIGHT[site.category]:
        words = (
            f"The shop was {before.category.value} while it was filled, by what a keeper told up to "
            f"{say_date(before.until)}. What was gathered then keeps that time; a category told later gives "
            "it no more."
        )
        found = (note("waste-category-before", words, "40 CFR 262.14 to 262.17, our reading"),)
        return before.category, site.cap, found
    over = site.passed.with_it(one.first_on)
    if site.category is Category.VSQG and site.cap.exceeded is False and over is not False:
        day = site.passed.sure if over else site.passed.perhaps
        words = (
            f"More than the cap of a VSQG stood here{'' if over else ', or may have,'} on "
            f"{say_date(day) if day else 'a day'}. The time of what stood here then goes on until it leaves."
        )
        made = (warn if over else unknown)("waste-cap-passed", words, "40 CFR 262.14(a)(4), our reading")
        return site.category, CapJudged(over, site.cap.cap_kg), (made,)
    return site.category, site.cap, ()


@dataclass(frozen=True)
class _Acute:
    """``kg`` None: not known. ``over``: more than 1 kg for certain; ``perhaps``: it may be."""

    kg: Fraction | None
    over: bool
    perhaps: bool


def _acute_here(tables: WasteTables, standing: Iterable[DrumState]) -> _Acute:
    """Acute waste in the drums that stand; one of which it was not told counts as "perhaps"."""
    row = tables.clock(Clock.ACUTE_CAP, Category.VSQG)
    if row is None:
        raise ValueError("no cap of acute waste is held")
    told = [one for one in standing if one.facts.acute is not Unknown.NO and one.first_on]
    sure = Fraction(sum(one.mg.known for one in told if one.facts.acute is Unknown.YES), _MG)
    most = Fraction(sum(one.mg.known for one in told), _MG)
    unsure = any(one.mg.more or one.facts.acute is Unknown.NOT_KNOWN for one in told)
    over = sure > row.value
    perhaps = over or most > row.value or any(one.mg.more for one in told)
    return _Acute(None if unsure else most, over, perhaps)


def judge_drums(
    tables: WasteTables, drums: Sequence[DrumState], site: SiteJudged, today: date,
    law: Jurisdiction | None,
) -> list[JudgedDrum]:  # fmt: skip
    """Every drum that stands, in the order given. Of another law than the US no clock is known."""
    if law is not Jurisdiction.US:
        return [_no_rule(one) for one in drums if one.standing]
    found = []
    for one in drums:
        if one.standing:
            judge = _satellite if one.in_satellite else _central
            judged = judge(tables, drums, one, site, today)
            said = (*judged.findings, *unwritten_findings(one), *size_findings(one))
            found.append(replace(judged, findings=said))
    return found


def _no_rule(one: DrumState) -> JudgedDrum:
    words = "No rule was read of how long waste may stand in this country. Ask its authority."
    found = unknown("waste-rules-not-held", words, about=one.facts.name)
    return JudgedDrum(one, one.central_since, None, None, None, "no rule read", "", (found,))


def _central(
    tables: WasteTables, drums: Sequence[DrumState], one: DrumState, site: SiteJudged, today: date
) -> JudgedDrum:
    start = started_on(tables, drums, one)
    if start is None:
        words = "Nothing was put in yet. The time begins with the first waste."
        return JudgedDrum(one, None, None, None, False, "", "", (note("waste-drum-empty", words),))
    category, cap, passed = _ruled(site, one)
    clock = judge_clock(tables, category, start, today, site.haul_miles, cap)
    row = clock.row
    cited = (row.citation, row.grade) if row else ("40 CFR 262.14", "read")
    findings = (*clock.findings, *passed)
    return JudgedDrum(one, start, None, clock.deadline, bool(clock.overdue), *cited, findings)


def _satellite(
    tables: WasteTables, drums: Sequence[DrumState], one: DrumState, site: SiteJudged, today: date
) -> JudgedDrum:
    acute = one.facts.acute is not Unknown.NO
    row, days = tables.clock(Clock.SATELLITE_ACUTE if acute else Clock.SATELLITE), three_days(tables)
    if row is None:
        raise ValueError("no rows of satellite areas are held")
    cited = (row.citation, row.grade)
    category, cap, _ = _ruled(site, one)
    if category is Category.VSQG and cap.exceeded is False:
        words = "A VSQG has no time limit until more than its cap stands on the site."
        found = note("waste-no-clock", words, "40 CFR 262.14")
        return JudgedDrum(one, None, None, None, False, "40 CFR 262.14", "read", (found,))
    size = "1 quart" if acute else "55 gallons"
    excess = excess_at(tables, drums, one)
    lacks = tuple(lacks_of(drums, one))
    if excess is None:
        words = f"No time runs up to {size} in this area. Above that three calendar days do."
        found = note("waste-satellite-within", words, row.citation)
        return JudgedDrum(one, None, None, None, False, *cited, (found, *lacks))
    last = add_days(excess.on, int(days.value))
    late = today > last
    if not excess.certain:
        words = (
            f"It is not known whether more than {size} stand in this area since {say_date(excess.on)}. It "
            f"counts as over, and what is over leaves by {say_date(last)}. Measure what is in each drum, or "
            "write down a size of it."
        )
        found = unknown("waste-satellite-not-known", words, days.citation)
    elif late:
        words = f"What is over {size} had to leave this area by {say_date(last)} (three calendar days)."
        found = stop("waste-satellite-overdue", words, days.citation)
    else:
        words = f"More than {size} since {say_date(excess.on)}: what is over leaves by {say_date(last)}."
        found = warn("waste-satellite-excess", words, days.citation)
    return JudgedDrum(one, None, excess.on, last, late, days.citation, days.grade, (found, *lacks))
