"""What a rag load owes now: its phase, how late, which violations stay on record, and the block.

Doors: records/rag_queries.py, actions/rag_duty.py, actions/handle_rags.py, web/pages/rags.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.findings import Finding, Severity, Verdict, stop, warn
from service.core.rag_deadlines import NO_CLOCK
from service.core.rag_loads import LoadState, Span
from service.core.rag_profile import STRICT, RagProfile, RuleSubject
from service.core.rags import RagStep, aware

NOTICE_BEFORE = timedelta(hours=1)


class Phase(StrEnum):
    """In use (contain clock not up), contained, waiting in the outside drum, overdue, ended."""

    IN_USE = "in-use"
    CONTAINED = "contained"
    WAITING = "waiting"
    OVERDUE = "overdue"
    ENDED = "ended"


@dataclass(frozen=True)
class RagLoad:
    """What is stored of a load: its name on pages, who owes it, and the two times fixed when it was made."""

    name: str
    owed_by: str
    contain_by: datetime
    remove_by: datetime
    owed_by_id: int | None = None


@dataclass(frozen=True)
class LoadJudgement:
    """A load at one instant. Minutes late are rounded up, minutes left down; all whole.

    ``minutes_late`` is that of the remove clock when that one is late, else of the contain clock; it stays
    on an ended load that ended late. ``minutes_left`` is to ``remove_by``; ``None`` when that clock is met.
    ``loose_overdue``: loose and past either clock, which no override covers. ``where`` is what the log says.
    """

    load: RagLoad
    phase: Phase
    past_contain: bool
    past_remove: bool
    contain_minutes_late: int
    remove_minutes_late: int
    minutes_late: int
    minutes_left: int | None
    loose_overdue: bool
    violations: tuple[Finding, ...]
    sentence: str
    where: str = ""

    @property
    def blocks(self) -> bool:
        """True while this load is past either clock."""
        return self.past_contain or self.past_remove


def judge(load: RagLoad, state: LoadState, now: datetime, profile: RagProfile = STRICT) -> LoadJudgement:
    """Judge one load at ``now`` (aware). On the dot is in time.

    >>> from datetime import UTC
    >>> from service.core.rag_loads import fold
    >>> at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    >>> load = RagLoad("Load 1", "A. Writer", at, at + timedelta(hours=7))
    >>> judge(load, fold(at, [], []), at + timedelta(minutes=30)).minutes_late
    30
    """
    aware(now, "now")
    past_contain = not state.contained and now > load.contain_by
    past_remove = not state.remove_met and now > load.remove_by
    contain_late = _late_minutes(state.loose_spans, load.contain_by, now)
    remove_late = _late_minutes(state.held_spans, load.remove_by, now)
    late = remove_late or (contain_late if past_contain else 0)
    longest = max(late, contain_late if past_contain else 0)
    untimed = state.remove_met or load.remove_by >= NO_CLOCK
    left = None if untimed else max(0, int((load.remove_by - now) // timedelta(minutes=1)))
    phase = _phase(state, past_contain or past_remove)
    violations = _violations(load, state, (contain_late, remove_late), (past_contain, past_remove), profile)
    return LoadJudgement(
        load=load,
        phase=phase,
        past_contain=past_contain,
        past_remove=past_remove,
        contain_minutes_late=contain_late,
        remove_minutes_late=remove_late,
        minutes_late=late,
        minutes_left=left,
        loose_overdue=not state.contained and (past_contain or past_remove),
        violations=violations,
        sentence=_sentence(load, state, phase, longest, left, past_contain),
        where=state.where,
    )


def _late_minutes(spans: Iterable[Span], by: datetime, now: datetime) -> int:
    """From ``by`` to the last instant (at most ``now``) at which the clock was not met; 0 when never late."""
    last = max((min(s.until or now, now) for s in spans if s.since < now), default=by)
    return max(0, -((by - last) // timedelta(minutes=1)))


def _phase(state: LoadState, overdue: bool) -> Phase:
    if overdue:
        return Phase.OVERDUE
    if state.ended:
        return Phase.ENDED
    if state.remove_met:
        return Phase.WAITING
    return Phase.CONTAINED if state.contained else Phase.IN_USE


def _violations(
    load: RagLoad, state: LoadState, late: tuple[int, int], past: tuple[bool, bool], profile: RagProfile
) -> tuple[Finding, ...]:
    contain_late, remove_late = late
    found: list[Finding] = []
    none = state.last_step is RagStep.NONE_MADE and state.ended
    if contain_late:
        text = (
            f"Not contained, {words(contain_late)} after it was due."
            if past[0]
            else f"That no rags were made was said {words(contain_late)} late."
            if none
            else f"Contained {words(contain_late)} late."
        )
        found.append(
            warn(
                "rags-not-contained" if past[0] else "rags-contained-late",
                text,
                profile.cite(RuleSubject.CONTAIN),
                load.name,
            )
        )
    if remove_late:
        text = (
            f"Not removed, {words(remove_late)} after it was due."
            if past[1]
            else f"Ended {words(remove_late)} late."
        )
        found.append(
            warn(
                "rags-not-removed" if past[1] else "rags-removed-late",
                text,
                profile.cite(RuleSubject.REMOVE),
                load.name,
            )
        )
    found.extend(f for f in state.place if f.severity is Severity.WARN)
    return tuple(found)


def _sentence(load: RagLoad, state: LoadState, phase: Phase, late: int, left: int | None, loose: bool) -> str:
    if phase is Phase.ENDED:
        return (
            f"{load.name} has ended: {state.where}."
            if not late
            else (f"{load.name} has ended, {words(late)} late: {state.where}.")
        )
    if phase is Phase.WAITING and state.step is RagStep.UNDER_WATER:
        return f"{load.name} is {state.where}; by this text no clock runs while it is."
    if phase is Phase.WAITING:
        return f"{load.name} waits in the outside drum for collection."
    if phase is Phase.OVERDUE:
        return (
            f"{load.name} is {state.where} and {words(late)} overdue; {load.owed_by} owes it. {do_now(loose)}"
        )
    if left is None:
        return f"{load.name} is {state.where}; no time is set by which it must be out of the building."
    return f"{load.name} is {state.where}; {words(left)} left until it must be out of the building."


def do_now(loose: bool) -> str:
    """What is done at once with an overdue load.

    >>> do_now(False)
    'Take them out of the building now, and record who took them or the drum.'
    """
    if loose:
        return "Put the rags under water in a lidded metal can or into the listed can now, and record it."
    return "Take them out of the building now, and record who took them or the drum."


def block(judgements: Iterable[LoadJudgement]) -> Verdict:
    """The stop that closes every door to self-heating material while any load is past either clock.

    Empty when none is. One finding per load, code ``rags-overdue``, with who owes it, how long, what to do.

    >>> block([]).blocking
    False
    """
    return Verdict.of(
        stop(
            "rags-overdue",
            f"{j.sentence} Until then nothing self-heating may be drawn, opened, "
            "decanted, moved to a bench, mixed or handed out.",
            "this house's rule",
            j.load.name,
        )
        for j in judgements
        if j.blocks
    )


def notice_due(judgement: LoadJudgement, now: datetime) -> bool:
    """Whether the load stands in the header: from one hour before ``remove_by`` until that clock is met.

    A load past its contain clock stands there too, whatever the hour, because it blocks everyone.
    """
    if judgement.phase in (Phase.ENDED, Phase.WAITING):
        return False
    return judgement.blocks or aware(now, "now") >= judgement.load.remove_by - NOTICE_BEFORE


def words(minutes: int) -> str:
    """A length of time in words, as read at the bench.

    >>> words(0), words(1), words(150), words(3000)
    ('0 min', '1 min', '2 h 30 min', '2 days 2 h')
    """
    if minutes < 60:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days, hours = divmod(hours, 24)
    return f"{days} days {hours} h" if hours else f"{days} days"
