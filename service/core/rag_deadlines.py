"""The two times by which oily rags must be contained and gone.

Doors: actions/handle_rags.py, core/rag_deadline_calc.py, web/api/calc_rag_deadline.py.

Both are worked out once, when a load is made, and stored. Nothing that changes later moves them later.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo

from service.core.rag_profile import STRICT, RagProfile, RemoveClock, RuleSubject
from service.core.rags import RagItem, aware

GRACE_MAX_MIN = 24 * 60
_STEP = timedelta(minutes=15)
_LONGEST_DAY = timedelta(hours=50)
NO_CLOCK = datetime(9990, 1, 1, tzinfo=UTC)
"""``remove_by`` of a profile whose text has no clock: never reached, and shown as none."""
_WIPES = timedelta(days=180)
GRACE_LABEL = "this shop's own, no rule gives minutes"


@dataclass(frozen=True)
class Because:
    """Why a clock stands where it stands: the profile, the text, and how it is read here."""

    profile: str
    clock: RuleSubject
    citation: str
    reading: str


@dataclass(frozen=True)
class Clocks:
    """``contain_by`` and ``remove_by`` in UTC. On the dot is in time; a microsecond later is late."""

    contain_by: datetime
    remove_by: datetime
    because: tuple[Because, ...] = ()


def day_end(instant: datetime, zone: tzinfo) -> datetime:
    """24:00 of the local day of ``instant``, in UTC: the first later instant that has a later local date.

    Days of 23 or 25 hours, skipped midnights and skipped whole days come out right, because the answer is
    looked for along real time. Where the clock passes midnight twice, the first time counts.

    >>> from zoneinfo import ZoneInfo
    >>> day_end(datetime(2026, 3, 10, 9, tzinfo=UTC), ZoneInfo("Europe/Paris")).isoformat()
    '2026-03-10T23:00:00+00:00'
    >>> day_end(datetime(2026, 9, 5, 18, tzinfo=UTC), ZoneInfo("America/Santiago")).isoformat()
    '2026-09-06T04:00:00+00:00'
    """
    start = aware(instant, "instant").astimezone(UTC).replace(microsecond=0)
    day = start.astimezone(zone).date()
    midnight = datetime.combine(day + timedelta(days=1), datetime.min.time(), tzinfo=UTC)
    offsets = {start.astimezone(zone).utcoffset()}
    early, late = start, start + _STEP
    while late.astimezone(zone).date() <= day:
        early, late = late, late + _STEP
        offsets.add(early.astimezone(zone).utcoffset())
        if late - start > _LONGEST_DAY:
            raise ValueError("this zone has a day without an end")
    found = [_first_after(early, late, day.toordinal(), zone)]
    # A clock turned back just after midnight shows the next date for less than a step: look there as well.
    for offset in offsets:
        candidate = midnight - (offset or timedelta())
        if candidate > start and candidate.astimezone(zone).date() > day:
            found.append(candidate)
    return min(found)


def _first_after(early: datetime, late: datetime, day: int, zone: tzinfo) -> datetime:
    low, high = 0, int((late - early).total_seconds())
    while high - low > 1:
        middle = (low + high) // 2
        if (early + timedelta(seconds=middle)).astimezone(zone).date().toordinal() > day:
            high = middle
        else:
            low = middle
    return early + timedelta(seconds=high)


def clocks(
    *,
    used_until: datetime,
    job_ends: datetime | None,
    shift_ends: datetime | None,
    zone: tzinfo,
    grace_min: int = 0,
    made_at: datetime | None = None,
    item: RagItem = RagItem.RAGS,
    profile: RagProfile = STRICT,
) -> Clocks:
    """The two clocks of a load. All instants aware; ``grace_min`` 0 to 1440 whole minutes.

    ``remove_by`` goes by the profile; strict: the earliest of job end, shift end and 24:00 of the local day.
    The day is that of ``made_at`` when the work runs past midnight, else that of ``used_until``. A profile
    that asks for the end of a shift takes the day's end where no shift and no job end is given.
    Raises ``ValueError`` on a naive instant or a grace out of range.
    Source: the rules of ``profile`` (strict: IFC 2403.4.3 and 304.3.1, calendar day).

    >>> from zoneinfo import ZoneInfo
    >>> noon = datetime(2026, 3, 10, 12, tzinfo=UTC)
    >>> c = clocks(used_until=noon, job_ends=None, shift_ends=noon + timedelta(hours=4), zone=ZoneInfo("UTC"))
    >>> c.contain_by.hour, c.remove_by.hour
    (12, 16)
    """
    if not 0 <= grace_min <= GRACE_MAX_MIN:
        raise ValueError(f"grace_min must be between 0 and {GRACE_MAX_MIN}")
    used = aware(used_until, "used_until").astimezone(UTC)
    first = min(used, aware(made_at, "made_at").astimezone(UTC)) if made_at else used
    shift_end = aware(shift_ends, "shift_ends").astimezone(UTC) if shift_ends is not None else None
    job_end = aware(job_ends, "job_ends").astimezone(UTC) if job_ends is not None else None
    remove_by, which = _remove_by(profile.remove, first, shift_end, job_end, zone)
    return Clocks(
        contain_by=used + timedelta(minutes=grace_min),
        remove_by=remove_by,
        because=(*_contain_reasons(profile, item, grace_min), *_remove_reasons(profile, item, which)),
    )


def in_order(due: Clocks) -> Clocks:
    """The clocks of a load of this shop: put away no later than out of the building.

    Each text is read by itself in ``clocks``; of a load that must be gone by 24:00 while its work runs on
    past midnight nothing may lie loose in the building after that.

    >>> at = datetime(2026, 3, 10, 12, tzinfo=UTC)
    >>> in_order(Clocks(at + timedelta(hours=1), at)).contain_by == at
    True
    """
    if due.contain_by <= due.remove_by:
        return due
    words = "They must be out of the building before the end of use, so put away by then at the latest."
    profile = due.because[0].profile if due.because else STRICT.key
    reason = Because(profile, RuleSubject.CONTAIN, "this house's reading", words)
    return Clocks(due.remove_by, due.remove_by, (*due.because, reason))


def _remove_by(
    how: RemoveClock, first: datetime, shift_end: datetime | None, job_end: datetime | None, zone: tzinfo
) -> tuple[datetime, str]:
    """The time by which they must be gone, and which of the ends it is."""
    if how is RemoveClock.NONE:
        return NO_CLOCK, "This text sets no time."
    if how is RemoveClock.DAYS_180:
        # Days of the wall: 180 times 24 hours after 23:30 can be one day more when the clocks change.
        last = first.astimezone(zone).date() + _WIPES
        noon = datetime.combine(last, time(12), tzinfo=zone)
        return day_end(noon, zone), "Counted from the day of the first one put in."
    day = (day_end(first, zone), "24:00 of that local day comes first.")
    ends = []
    if job_end is not None:
        ends.append((job_end, "The end of the job comes first."))
    if shift_end is not None:
        ends.append((shift_end, "The end of the shift comes first."))
    if how is RemoveClock.SHIFT_AND_DAY:
        return min([*ends, day], key=lambda pair: pair[0])
    if how is RemoveClock.DAY:
        return day[0], "24:00 of that local day."
    if not ends:
        return day[0], "No end of a shift was given: 24:00 of that local day, the stricter of what is known."
    end = min(ends, key=lambda pair: pair[0])
    if how is RemoveClock.SHIFT_OR_DAY:
        later = max(end[0], day[0])
        which = "24:00 of that local day" if later == day[0] else "The end of the shift"
        return later, f"{which} comes last, and either will do."
    return end[0], end[1].replace(" comes first.", ".")


def _contain_reasons(profile: RagProfile, item: RagItem, grace_min: int) -> list[Because]:
    reasons = [
        Because(profile.key, r.subject, r.citation, r.says) for r in profile.about(RuleSubject.CONTAIN, item)
    ]
    if not reasons:
        words = "This text gives no time for it. At once is the stricter reading."
        reasons.append(Because(profile.key, RuleSubject.CONTAIN, "this house's reading", words))
    if grace_min:
        reasons.append(
            Because(
                profile.key,
                RuleSubject.CONTAIN,
                GRACE_LABEL,
                f"End of use plus {grace_min} min. The minutes are {GRACE_LABEL}.",
            )
        )
    return reasons


def _remove_reasons(profile: RagProfile, item: RagItem, which: str) -> list[Because]:
    rules = profile.about(RuleSubject.REMOVE, item)
    return [
        Because(profile.key, r.subject, r.citation, f"{r.says} {which}" if n == 0 else r.says)
        for n, r in enumerate(rules)
    ]
