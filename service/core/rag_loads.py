"""The story of one rag load: what its entries and draws add up to, and which new entry is refused.

Doors: records/rags.py, actions/handle_rags.py, core/rag_judgement.py, core/rag_deadline_calc.py.

Entries are read in the order they happened, not in the order they were written. A draw at the very instant
of an entry counts as coming after it, because rags are made after the oil is drawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from service.core.findings import Finding, Findings, Verdict, note, stop, warn
from service.core.rag_profile import STRICT, RagProfile
from service.core.rag_steps import CONTAINING, ENDING, STANDING, StepEffect, effect_of, place_findings
from service.core.rags import JoinedDraw, RagEntry, RagStep, RemovalHow, Water, aware

_WHERE = {
    RagStep.LOOSE: "loose",
    RagStep.IN_CAN: "in the rag can",
    RagStep.UNDER_WATER: "under water in a lidded metal can",
    RagStep.LAID_FLAT: "laid flat",
    RagStep.OUTSIDE_DRUM: "in the outside drum",
    RagStep.NONE_MADE: "none were made",
}
_HOW = {
    RemovalHow.HAULER: "taken by the hauler",
    RemovalHow.MUNICIPALITY: "handed to the municipality",
    RemovalHow.INDUSTRIAL_LAUNDRY: "sent to the industrial laundry",
}


@dataclass(frozen=True)
class Span:
    """A stretch of real time; ``until`` is ``None`` while it lasts."""

    since: datetime
    until: datetime | None = None


@dataclass(frozen=True)
class LoadState:
    """Where a load stands. ``step`` is what counts (rags claimed in a can that is none are loose),
    ``last_step`` what was written last. ``open_draws`` are the draws that "none were made" must name.

    ``loose_spans`` / ``held_spans``: when the contain / remove clock was not met.
    """

    made_at: datetime
    contained: bool
    remove_met: bool
    ended: bool
    where: str
    step: RagStep
    last_step: RagStep | None
    last_at: datetime | None
    ended_at: datetime | None
    water: Water | None
    rags_seen: bool
    open_draws: tuple[str, ...]
    loose_spans: tuple[Span, ...]
    held_spans: tuple[Span, ...]
    place: tuple[Finding, ...]
    findings: tuple[Finding, ...]


@dataclass
class _Story:
    """The fold in progress."""

    made_at: datetime
    contained: bool = False
    remove_met: bool = False
    ended_at: datetime | None = None
    where: str = "in use or loose"
    step: RagStep = RagStep.LOOSE
    last: RagEntry | None = None
    covered: frozenset[str] = frozenset()
    rags_seen: bool = False
    open_draws: list[str] = field(default_factory=list)
    loose: list[Span] = field(default_factory=list)
    held: list[Span] = field(default_factory=list)
    place: list[Finding] = field(default_factory=list)
    current: list[Finding] = field(default_factory=list)
    story: Findings = field(default_factory=Findings)

    def turn(self, at: datetime, contained: bool, remove_met: bool) -> None:
        _turn(self.loose, at, contained)
        _turn(self.held, at, remove_met)
        self.contained, self.remove_met = contained, remove_met


def _turn(spans: list[Span], at: datetime, met: bool) -> None:
    running = bool(spans) and spans[-1].until is None
    if met and running:
        spans[-1] = Span(spans[-1].since, at)
    elif not met and not running:
        spans.append(Span(at))


def fold(
    made_at: datetime,
    joined_draws: Sequence[JoinedDraw],
    entries: Sequence[RagEntry],
    *,
    profile: RagProfile = STRICT,
    unnamed_ends: bool = False,
) -> LoadState:
    """The state of a load from its draws and entries (all aware instants, any order).

    ``joined_draws`` may include the draw that made the load. ``unnamed_ends`` lets a removal without a
    receiver end the load, with an ``unknown``: for the calculator only, whose questions may leave it out.

    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    >>> fold(at, [], []).contained
    False
    """
    story = _Story(aware(made_at, "made_at"))
    story.turn(made_at, False, False)
    events: list[tuple[datetime, int, RagEntry | JoinedDraw]] = []
    events += [(aware(e.at, "entry.at"), 0, e) for e in entries]
    events += [(aware(d.at, "draw.at"), 1, d) for d in joined_draws]
    for _, _, event in sorted(events, key=lambda item: item[:2]):
        if isinstance(event, JoinedDraw):
            _join(story, event)
        elif event.at < made_at:
            story.story.add(
                stop("rags-before-load", "An entry is dated before the load was made; it does not count.")
            )
        else:
            _enter(story, event, profile, unnamed_ends)
    return _state(story)


def _join(story: _Story, draw: JoinedDraw) -> None:
    if draw.ref in story.covered and draw.at == story.ended_at:
        return
    if story.ended_at is not None:
        story.rags_seen, story.open_draws, story.ended_at = False, [], None
    if story.contained:
        story.where, story.step = "in use or loose", RagStep.LOOSE
        story.current = [
            warn(
                "rags-more-since",
                "Use went on after the rags were put away. Put the newer ones away too and record it.",
            )
        ]
        story.place = []
    if draw.seen:
        story.rags_seen = True
    else:
        story.open_draws.append(draw.ref)
    story.covered = frozenset()
    # Never earlier than the load itself: a draw dated before it changes nothing about the spans.
    story.turn(max(draw.at, story.made_at), False, False)


def _enter(story: _Story, entry: RagEntry, profile: RagProfile, unnamed_ends: bool) -> None:
    if story.ended_at is not None:
        story.story.add(
            stop(
                "rags-after-end",
                "Something was written about these rags after they had ended. What was seen last counts.",
            )
        )
        if entry.step in ENDING:
            return
        story.ended_at = None
    effect = effect_of(entry, profile)
    if entry.step is RagStep.NONE_MADE:
        effect = _none_made(story, entry, effect)
        if not effect.ends:
            story.story.add(*effect.findings)
            return
        story.covered = frozenset(entry.covers)
    elif entry.step is RagStep.REMOVED and entry.removal is None and unnamed_ends:
        effect = StepEffect(True, True, True, effect.findings)
    story.rags_seen = story.rags_seen or entry.step is not RagStep.NONE_MADE or bool(entry.count)
    story.last = entry
    story.current = list(effect.findings)
    story.place = []
    if entry.step in STANDING and entry.receptacle is not None:
        story.place = place_findings(entry.receptacle, profile)
    story.where, story.step = _where(entry, effect)
    story.turn(entry.at, effect.contains, effect.removes)
    if effect.ends:
        story.ended_at = entry.at
        story.open_draws = []


def _none_made(story: _Story, entry: RagEntry, effect: StepEffect) -> StepEffect:
    reasons = none_made_faults(entry, story.rags_seen, tuple(story.open_draws))
    if reasons:
        return StepEffect(story.contained, story.remove_met, False, tuple(reasons))
    return effect


def none_made_faults(entry: RagEntry, rags_seen: bool, open_draws: Sequence[str]) -> list[Finding]:
    """Why "none were made" cannot stand: rags were seen or counted, no draw is named, or one is left out."""
    if rags_seen or entry.count:
        return [
            stop(
                "rags-were-seen",
                "Rags of this load were counted or put away already, so "
                '"none were made" cannot stand. Record where they are, or who took them.',
            )
        ]
    if not entry.covers:
        return [stop("rags-name-the-draws", "Name the draws that left no rags.")]
    left = [ref for ref in open_draws if ref not in entry.covers]
    if left:
        return [
            stop(
                "rags-draws-left-out",
                f"These draws are not named: {', '.join(left)}. Name them too, "
                "or record where their rags are.",
            )
        ]
    return []


def _where(entry: RagEntry, effect: StepEffect) -> tuple[str, RagStep]:
    if entry.step is RagStep.REMOVED and effect.ends:
        removal = entry.removal
        if removal is None:
            return "removed, nobody said by whom", entry.step
        if removal.how is RemovalHow.BURNED_UNDER_PERMIT:
            return f"burned under permit {removal.permit.strip()}", entry.step
        return f"{_HOW[removal.how]}: {removal.named.strip()}", entry.step
    if entry.step in (RagStep.NONE_MADE, RagStep.LAID_FLAT):
        return _WHERE[entry.step], entry.step
    if entry.step is RagStep.OUTSIDE_DRUM and effect.contains and not effect.removes:
        return _WHERE[RagStep.UNDER_WATER], RagStep.UNDER_WATER
    if effect.contains:
        return _WHERE[entry.step], entry.step
    return _WHERE[RagStep.LOOSE], RagStep.LOOSE


def _state(story: _Story) -> LoadState:
    last = story.last
    ended = story.ended_at is not None
    box = last.receptacle if last and story.contained and not ended else None
    return LoadState(
        made_at=story.made_at,
        contained=story.contained,
        remove_met=story.remove_met,
        ended=ended,
        where=story.where,
        step=story.step,
        last_step=last.step if last else None,
        last_at=last.at if last else None,
        ended_at=story.ended_at,
        water=box.water if box else None,
        rags_seen=story.rags_seen,
        open_draws=tuple(story.open_draws),
        loose_spans=tuple(s for s in story.loose if s.until != s.since),
        held_spans=tuple(s for s in story.held if s.until != s.since),
        place=tuple(story.place),
        findings=Verdict.of([*story.story.items, *story.current, *story.place]).findings,
    )


def check_step(state: LoadState, entry: RagEntry, now: datetime, profile: RagProfile = STRICT) -> Verdict:
    """What a new entry is refused for (stops, each saying how to mend), and what to know about it (notes).

    A late entry may fill a gap before the end of a load; it may not end a load before a later entry.

    >>> from datetime import UTC
    >>> at = datetime(2026, 3, 10, 9, tzinfo=UTC)
    >>> check_step(fold(at, [], []), RagEntry(at, RagStep.REMOVED), at).blocking
    True
    """
    found = Findings()
    found.add(*_time_faults(state, entry, aware(now, "now")))
    if entry.count is not None and entry.count < 0:
        found.add(stop("rags-count-negative", "The count of pieces cannot be below nought. Count again."))
    if entry.step is RagStep.NONE_MADE:
        found.add(*none_made_faults(entry, state.rags_seen and not state.ended, state.open_draws))
        return found.verdict()
    effect = effect_of(entry, profile)
    met = effect.removes if entry.step is RagStep.OUTSIDE_DRUM else effect.contains
    if entry.step in CONTAINING or entry.step is RagStep.REMOVED:
        found.add(*effect.findings) if met else found.add(*(_as_stop(f) for f in effect.findings))
    else:
        found.add(*effect.findings)
    if not met and entry.step in CONTAINING:
        instead = "under water" if effect.contains else "loose"
        found.add(note("rags-record-instead", f"As it stands, record it as {instead}."))
    if entry.step in STANDING and entry.receptacle is not None:
        found.add(*place_findings(entry.receptacle, profile))
    if met and entry.step is RagStep.OUTSIDE_DRUM:
        found.add(note("rags-drum-waste", "The drum is waste now: you owe its mass and collection day."))
    return found.verdict()


def _as_stop(finding: Finding) -> Finding:
    return stop(finding.code, finding.sentence, finding.source, finding.about)


def _time_faults(state: LoadState, entry: RagEntry, now: datetime) -> list[Finding]:
    at = aware(entry.at, "entry.at")
    if at > now:
        return [stop("rags-future", "That time has not come yet. Give the time it happened.")]
    if at < state.made_at:
        return [stop("rags-before-load", "That is before the load was made. Give a time after its draw.")]
    if state.ended_at is not None and (at >= state.ended_at or entry.step in ENDING):
        return [
            stop(
                "rags-ended",
                "This load has ended; nothing is added to it. If rags turned up later, "
                "open a job and record the draw they came from.",
            )
        ]
    if state.last_at is not None and at < state.last_at and entry.step in ENDING | {RagStep.OUTSIDE_DRUM}:
        return [
            stop(
                "rags-seen-later",
                "The rags were written down at a later time than that. Give the time "
                "they left, after the last entry.",
            )
        ]
    return []
