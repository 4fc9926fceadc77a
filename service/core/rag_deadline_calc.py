"""The rag deadline worked out from what is given alone, so that anyone can check it against the rule texts.

Doors: web/api/calc_rag_deadline.py.

A local time that the clocks skipped or showed twice is read the stricter way: earlier for what sets a
deadline, later for what happened and for now. The answer says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from service.core.findings import Finding, Findings, Severity, Verdict, note, unknown, warn
from service.core.rag_deadlines import GRACE_LABEL, NO_CLOCK, Because, Clocks, clocks
from service.core.rag_judgement import LoadJudgement, RagLoad, judge
from service.core.rag_loads import LoadState, fold
from service.core.rag_profile import STRICT, RagProfile, RagRule, RuleSubject
from service.core.rags import JoinedDraw, RagEntry, RagItem, RagStep

_TICK = timedelta(microseconds=1)
_NAME = "The load"
# Names that a machine may know but that mean another zone elsewhere, or no zone.
_MACHINE_ZONES = frozenset({"localtime", "posixrules", "Factory"})
_STEP_SUBJECTS = {
    RagStep.LOOSE: RuleSubject.RECEPTACLE,
    RagStep.IN_CAN: RuleSubject.RECEPTACLE,
    RagStep.UNDER_WATER: RuleSubject.WATER,
    RagStep.LAID_FLAT: RuleSubject.DRYING,
    RagStep.OUTSIDE_DRUM: RuleSubject.WATER,
    RagStep.REMOVED: RuleSubject.END,
}


@dataclass(frozen=True)
class RagQuestion:
    """What is asked. Times may be naive: then they are local wall clock in ``zone``.

    ``now`` ``None``: judged at the last time given. ``grace_min`` 0 to 1440 whole minutes.
    """

    zone: tzinfo
    used_until: datetime
    item: RagItem = RagItem.RAGS
    shift_end: datetime | None = None
    job_end: datetime | None = None
    grace_min: int = 0
    entries: tuple[RagEntry, ...] = ()
    now: datetime | None = None
    profile: RagProfile = STRICT


@dataclass(frozen=True)
class Fact:
    """One figure the answer used, with where it comes from."""

    ingredient: str
    property: str
    value: str
    unit: str
    source: str
    grade: str


@dataclass(frozen=True)
class RagAnswer:
    """The answer; instants carry the offset of the zone asked for.

    ``step`` is what counts, ``step_written`` what the last entry claims. ``overdue`` is past either clock
    now, or ended late. ``remove_by`` None: the profile's text sets no time.
    """

    profile: str

    step: RagStep
    step_written: RagStep | None
    contain_by: datetime
    remove_by: datetime | None
    contained: bool
    ended: bool
    overdue: bool
    minutes_late: int
    contain_minutes_late: int
    remove_minutes_late: int
    minutes_left: int | None
    violation: bool
    sentence: str
    because: tuple[Because, ...]
    verdict: Verdict
    data_used: tuple[Fact, ...]


def zone_named(name: str) -> ZoneInfo:
    """The time zone of an IANA name; ``ValueError`` with a sentence when there is none of that name.

    >>> zone_named("Europe/Paris").key
    'Europe/Paris'
    """
    try:
        if name in _MACHINE_ZONES or name.startswith(("right/", "posix/")):
            raise ValueError(name)
        return ZoneInfo(name)
    except (ValueError, KeyError, OSError):
        raise ValueError("No time zone has that name. Write one like Europe/Paris or UTC.") from None


def instant_of(written: datetime, zone: tzinfo, *, later: bool) -> tuple[datetime, str]:
    """The UTC instant of a written time, and "" or how a skipped or doubled local time was read.

    ``later`` chooses the later of two readings. A time with an offset has one reading.

    >>> from zoneinfo import ZoneInfo
    >>> instant_of(datetime(2026, 10, 25, 2, 30), ZoneInfo("Europe/Paris"), later=False)[1]
    'the clocks show this time twice that day'
    """
    if written.utcoffset() is not None:
        return written.astimezone(UTC), ""
    first, second = (written.replace(tzinfo=zone, fold=f).astimezone(UTC) for f in (0, 1))
    if first == second:
        return first, ""
    how = (
        "the clocks show this time twice that day" if first < second else "the clocks skip this time that day"
    )
    return (max if later else min)(first, second), how


def work_out(question: RagQuestion) -> RagAnswer:
    """Answer one question. Raises ``ValueError`` only for a grace out of range.

    >>> from zoneinfo import ZoneInfo
    >>> q = RagQuestion(ZoneInfo("UTC"), datetime(2026, 3, 10, 10), shift_end=datetime(2026, 3, 10, 16),
    ...                 now=datetime(2026, 3, 10, 19))
    >>> work_out(q).remove_minutes_late
    180
    """
    said = Findings()
    if question.item not in question.profile.items:
        # A text that does not speak of the thing frees it from nothing: the strict clocks stand in.
        words = f"{question.profile.title}: this text does not speak of {question.item.value}. "
        words += "The strict profile's clocks stand in for it."
        said.add(unknown("profile-silent", words, question.profile.cite(RuleSubject.REMOVE)))
        question = replace(question, profile=replace(STRICT, key=question.profile.key))
    used = _read(question.used_until, question, "used_until", said, later=False)
    ends = [
        _read(v, question, n, said, later=False) if v else None
        for v, n in ((question.job_end, "job_end"), (question.shift_end, "shift_end"))
    ]
    entries = _read_entries(question, said)
    now = _now(question, used, entries, said)
    made = min([used, *(e.at for e in entries)])
    due = clocks(
        used_until=used,
        job_ends=ends[0],
        shift_ends=ends[1],
        zone=question.zone,
        grace_min=question.grace_min,
        made_at=made,
        item=question.item,
        profile=question.profile,
    )
    if question.grace_min:
        said.add(note("rags-own-grace", f"The {question.grace_min} min of grace are {GRACE_LABEL}."))
    state = fold(
        made, _last_use(used, now), _happened(entries, now, said), profile=question.profile, unnamed_ends=True
    )
    if question.now is None and not state.ended:
        said.add(
            unknown(
                "now-not-given",
                'No "now" was given: this is how it stood at the last time '
                'given. Send "now" to know how it stands.',
            )
        )
    load = RagLoad(_NAME, "whoever used them", due.contain_by, due.remove_by)
    judged = judge(load, state, now, question.profile)
    return _answer(question, due, state, judged, said)


def work_out_all(question: RagQuestion, profiles: Sequence[RagProfile]) -> list[RagAnswer]:
    """The same question by several profiles, in their order; two texts may well disagree."""
    return [work_out(replace(question, profile=profile)) for profile in profiles]


def strictest(answers: Sequence[RagAnswer]) -> RagAnswer:
    """The answer that counts where several texts hold: overdue before not, a violation before none, the most
    minutes late, loose before contained, the earlier time; the first of those alike.

    All clocks run at once (OSHA letter of 23 May 2000, answer incomplete; the stricter is kept).
    """
    return min(
        answers,
        key=lambda a: (
            not a.overdue,
            not a.violation,
            -a.minutes_late,
            a.contained,
            a.ended,
            (a.remove_by or NO_CLOCK).astimezone(UTC),
        ),
    )


def _read(written: datetime, question: RagQuestion, name: str, said: Findings, *, later: bool) -> datetime:
    instant, how = instant_of(written, question.zone, later=later)
    if how:
        said.add(
            warn(
                "time-read-strictly",
                f"{name} {written.isoformat(sep=' ')}: {how}. It is read "
                f"as {instant.astimezone(question.zone).isoformat()}, the stricter way. Send it with "
                "an offset to settle it.",
                about=name,
            )
        )
    return instant


def _read_entries(question: RagQuestion, said: Findings) -> list[RagEntry]:
    read = []
    for n, entry in enumerate(question.entries):
        at = _read(entry.at, question, f"entries[{n}].at", said, later=True)
        covers = (_NAME,) if entry.step is RagStep.NONE_MADE else entry.covers
        read.append(replace(entry, at=at, covers=covers))
    return read


def _now(question: RagQuestion, used: datetime, entries: Sequence[RagEntry], said: Findings) -> datetime:
    if question.now is not None:
        return _read(question.now, question, "now", said, later=True)
    return max([used, *(e.at for e in entries)])


def _happened(entries: Sequence[RagEntry], now: datetime, said: Findings) -> list[RagEntry]:
    done = [e for e in entries if e.at <= now]
    if len(done) < len(entries):
        said.add(warn("rags-future", "Entries later than now do not count yet."))
    return done


def _last_use(used: datetime, now: datetime) -> list[JoinedDraw]:
    """The end of use as a draw: what was put away before it does not cover what was used until it.

    One tick earlier, so that putting away at the very end of use counts.
    """
    return [JoinedDraw(used - _TICK, _NAME)] if used <= now else []


def _answer(
    question: RagQuestion, due: Clocks, state: LoadState, judged: LoadJudgement, said: Findings
) -> RagAnswer:
    subject = _STEP_SUBJECTS.get(state.last_step or RagStep.LOOSE)
    rules = question.profile.about(subject, question.item) if subject else ()
    places = question.profile.about(RuleSubject.PLACE, question.item)
    because = due.because + tuple(
        Because(question.profile.key, r.subject, r.citation, r.says) for r in (*rules, *places)
    )
    verdict = Verdict.of([*said.items, *state.findings, *judged.violations, *_overall(state)])
    timed = due.remove_by < NO_CLOCK
    return RagAnswer(
        profile=question.profile.key,
        step=state.step,
        step_written=state.last_step,
        contain_by=due.contain_by.astimezone(question.zone),
        remove_by=due.remove_by.astimezone(question.zone) if timed else None,
        contained=state.contained,
        ended=state.ended,
        overdue=judged.blocks or judged.remove_minutes_late > 0,
        minutes_late=judged.minutes_late,
        contain_minutes_late=judged.contain_minutes_late,
        remove_minutes_late=judged.remove_minutes_late,
        minutes_left=judged.minutes_left,
        violation=bool(judged.violations),
        sentence=judged.sentence,
        because=because,
        verdict=verdict,
        data_used=_facts(question, due),
    )


def _overall(state: LoadState) -> list[Finding]:
    if state.contained:
        return []
    if state.last_step is None:
        said = "Nobody recorded where these rags are: they count as loose."
        return [unknown("rags-nowhere-recorded", said)]
    if all(f.severity is not Severity.UNKNOWN for f in state.findings):
        return []
    return [note("rags-not-known-not-met", "What is not known does not meet a clock.")]


def _rules_behind(reason: Because, profile: RagProfile) -> list[RagRule]:
    same = [r for r in profile.rules if r.citation == reason.citation]
    return [r for r in same if reason.reading.startswith(r.says)]


def _facts(question: RagQuestion, due: Clocks) -> tuple[Fact, ...]:
    item = question.item.value
    facts = [Fact(item, "grace", str(question.grace_min), "min", "given", "given")]
    for reason in due.because:
        for rule in _rules_behind(reason, question.profile):
            contain = reason.clock is RuleSubject.CONTAIN
            when = due.contain_by if contain else due.remove_by
            source = f"{rule.citation}, edition {rule.edition}; {rule.provenance}"
            facts.append(
                Fact(
                    item,
                    f"{reason.clock.value} by",
                    when.isoformat(),
                    "UTC instant",
                    source,
                    rule.grade.value,
                )
            )
    return tuple(facts)
