"""How long a drum of waste may stand and how much may stand on the site, by generator category.

Doors: web/api/calc_waste.py.

Days are calendar days of the shop: start + 90, 180 or 270, and the last of them still counts. What is not
known takes the shorter time: a category not known LQG's, a way not known 180 days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from service.core.findings import Finding, note, stop, unknown, warn
from service.core.months import add_days, days_between, say_date
from service.core.waste_rules import Category, Clock, ClockRow, WasteTables

WARN_DAYS = 30


@dataclass(frozen=True)
class Site:
    """What stands on the site now, in kg; ``None``: not known."""

    kg: Fraction | None = None
    acute_kg: Fraction | None = None


@dataclass(frozen=True)
class CapJudged:
    """``exceeded`` ``None``: not known. ``cap_kg`` ``None``: the category has no cap."""

    exceeded: bool | None
    cap_kg: Fraction | None
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class ClockJudged:
    """``deadline`` ``None``: no clock runs (or no start is told). ``overdue`` goes with it."""

    deadline: date | None
    overdue: bool | None
    row: ClockRow | None = None
    findings: tuple[Finding, ...] = ()


def judge_cap(tables: WasteTables, category: Category | None, site: Site) -> CapJudged:
    """Whether more stands here than the category may have. An unknown category has the smallest cap.

    Exactly the cap is within it.
    """
    taken = category or Category.VSQG
    row, acute = tables.clock(Clock.CAP, taken), tables.clock(Clock.ACUTE_CAP, taken)
    if row is None:
        return CapJudged(False, None)
    over = site.kg is not None and site.kg > row.value
    acute_over = acute is not None and site.acute_kg is not None and site.acute_kg > acute.value
    if over or acute_over:
        broken = row if over else acute or row
        words = f"More stands here than a {taken.value} may have: {broken.says}"
        found = stop("waste-over-cap", words, broken.citation)
        if category is None:
            found = warn("waste-over-cap", f"{words} (The category is not known; this is the smallest cap.)")
        return CapJudged(True if category else None, row.value, (found,))
    if site.kg is None:
        words = "How much waste stands here is not known. Weigh the drums."
        return CapJudged(None, row.value, (unknown("waste-on-site-not-known", words, row.citation),))
    if acute is not None and site.acute_kg is None:
        words = f"How much acute waste stands here was not told. {acute.says}"
        found = unknown("waste-acute-on-site-not-told", words, acute.citation)
        return CapJudged(None, row.value, (found,))
    return CapJudged(False, row.value)


def judge_clock(
    tables: WasteTables,
    category: Category | None,
    start: date | None,
    today: date | None,
    haul_miles: Fraction | None,
    cap: CapJudged,
) -> ClockJudged:
    """Until when a drum that began on ``start`` must have left.

    A VSQG has no time until its cap is passed; from then on that of an SQG runs, counted from the start
    date, as the day the cap was passed is not asked.
    """
    taken = category or Category.LQG
    found: list[Finding] = []
    if start is None:
        return ClockJudged(None, None)
    if category is None:
        words = "The generator category is not known. The shortest time counts, that of an LQG: 90 days."
        found.append(unknown("waste-category-not-known", words))
    if taken is Category.VSQG:
        if cap.exceeded is False:
            words = "A VSQG has no time limit until more than its cap stands on the site."
            return ClockJudged(None, None, None, (note("waste-no-clock", words, "40 CFR 262.14"),))
        if cap.exceeded is None:
            words = "It is not known whether the cap is passed; the time of an SQG is counted until it is."
            found.append(unknown("waste-cap-not-known", words, "40 CFR 262.14"))
        taken = Category.SQG
    row = _time(tables, taken, haul_miles)
    last = add_days(start, int(row.value))
    if today is None:
        found.append(unknown("waste-today-not-told", "The day to judge was not told."))
        return ClockJudged(last, None, row, tuple(found))
    left = days_between(today, last)
    if left < 0:
        words = f"It had to leave by {say_date(last)}: {-left} {'day' if left == -1 else 'days'} too long."
        found.append(stop("waste-overdue", words, row.citation))
    elif left <= WARN_DAYS:
        rest = "today is the last day" if left == 0 else f"{left} {'day' if left == 1 else 'days'} left"
        words = f"It must leave by {say_date(last)}: {rest}. Order its collection."
        found.append(warn("waste-soon", words, row.citation))
    return ClockJudged(last, left < 0, row, tuple(found))


def _time(tables: WasteTables, category: Category, haul_miles: Fraction | None) -> ClockRow:
    """180 days up to and with 200 miles, 270 above; an LQG has 90 whatever the way is."""
    far, long = tables.clock(Clock.FAR, category), tables.clock(Clock.DAYS_FAR, category)
    if far is not None and long is not None and haul_miles is not None and haul_miles > far.value:
        return long
    row = tables.clock(Clock.DAYS, category)
    if row is None:
        raise ValueError(f"no time is held for {category.value}")
    return row


def judge_satellite(
    tables: WasteTables, gallons: Fraction | None, excess_on: date | None, today: date | None,
    acute: bool | None = None,
) -> ClockJudged:  # fmt: skip
    """A satellite drum has no clock up to 55 gallons; what is more leaves within three calendar days.

    The days of the week do not matter. More than that without a day is due at once. Acute waste has 1 quart:
    where nobody told whether it is, more than a quart may be too much, and counts from today.
    """
    whole, quart = tables.clock(Clock.SATELLITE), tables.clock(Clock.SATELLITE_ACUTE)
    days = tables.clock(Clock.SATELLITE_DAYS)
    if whole is None or quart is None or days is None:
        raise ValueError("no rows of satellite areas are held")
    volume, size = (quart, "1 quart of acute waste") if acute else (whole, "55 gallons")
    most = quart.value / 4 if acute else whole.value
    over = gallons is not None and gallons > most
    if excess_on is None and acute is None and not over and (gallons is None or gallons > quart.value / 4):
        words = (
            "Whether it is acute waste was not told. Acute waste has 1 quart in a satellite area, and more "
            "than that leaves within three days: if it is acute it is over, and counts from today."
        )
        left = add_days(today, int(days.value)) if gallons is None and today else today
        found = [unknown("waste-satellite-acute-not-told", words, quart.citation)]
        if gallons is None:
            words = "How much is in the satellite drum is not known. Look; from 55 gallons on three days run."
            found.append(unknown("waste-satellite-not-known", words, volume.citation))
        return ClockJudged(left, None, quart, tuple(found))
    if excess_on is None and over:
        words = f"More than {size} stand in the satellite area and the day it began is not told: move it now."
        return ClockJudged(today, True, days, (stop("waste-excess-undated", words, volume.citation),))
    if excess_on is None:
        lacks: tuple[Finding, ...] = ()
        if gallons is None:
            words = f"How much is in the satellite drum is not known. Look; from {size} on three days run."
            lacks = (unknown("waste-satellite-not-known", words, volume.citation),)
        return ClockJudged(None, None, volume, lacks)
    last = add_days(excess_on, int(days.value))
    late = None if today is None else today > last
    if late:
        words = f"It had to leave the satellite area by {say_date(last)} (three days on the calendar)."
        return ClockJudged(last, True, days, (stop("waste-satellite-overdue", words, days.citation),))
    words = f"Move what is over {size} out of the satellite area by {say_date(last)}."
    return ClockJudged(last, late, days, (warn("waste-satellite-excess", words, days.citation),))
