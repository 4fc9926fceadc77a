"""What one addition changed: a mix before and after, hazard by hazard and sign by sign of its label.

Doors: actions/change_of_addition.py, web/change_view.py, web/api/batches.py.

What is not known before or after is said. Nothing is ever said to have gone, or to be unchanged, of a mix of
which something is not known: a missing fact could be the very one that keeps it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.additions import Span
from service.core.findings import Finding, Verdict, note, unknown, warn
from service.core.hazards.classes import Hazard, Signal
from service.core.hazards.label import PICTOGRAM_WORDS
from service.core.hazards.statements import Statement

_LOUD: Final = {None: 0, Signal.WARNING: 1, Signal.DANGER: 2}
_NOTHING_AT_ALL: Final = Span(0, 0)


@dataclass(frozen=True, kw_only=True)
class MixState:
    """A mix at one moment.

    Args:
        mass, volume: in whole mg and microlitres; high None = nobody knows the most. ``volume`` None: the
            densities of ``volume_lacks`` are not known.
        pigment_percent: its share by mass, lowest and highest; None = not known.
        held: how the binder holds the pigment, in words; None = not known.
        rags_heat: its rags can ignite by themselves.
        flash_c: None = none worked out; ``flash_calculated``: by the components, not measured.
        unknowns: everything that is not known of its hazards; () = all is known.
        why_not: why its hazards could not be worked out at all; empty where they were.
        empty: nothing is in the pot.
    """

    mass: Span = _NOTHING_AT_ALL
    volume: Span | None = _NOTHING_AT_ALL
    volume_lacks: tuple[str, ...] = ()
    pigment_percent: tuple[float, float] | None = None
    held: str | None = None
    rags_heat: bool = False
    flash_c: Decimal | None = None
    flash_calculated: bool = False
    hazards: tuple[Hazard, ...] = ()
    pictograms: tuple[str, ...] = ()
    signal: Signal | None = None
    statements: tuple[Statement, ...] = ()
    unknowns: tuple[Finding, ...] = ()
    why_not: str = ""
    empty: bool = False

    @property
    def complete(self) -> bool:
        """Whether everything that bears on its hazards is known."""
        return not self.why_not and not self.unknowns


NOTHING: Final = MixState(empty=True)
"""The pot before anything went in."""


AN_ADDITION: Final = "This addition"
TAKING_BACK: Final = "Taking it back"


@dataclass(frozen=True)
class MixChange:
    """Both moments, and in words what came and what went.

    ``new_unknowns``: what is not known now and was no question before; ``open_before``: how many things were
    not known before already. ``what`` made the change, at the head of a sentence.
    """

    before: MixState
    after: MixState
    verdict: Verdict
    new_unknowns: tuple[Finding, ...] = ()
    open_before: int = 0
    what: str = AN_ADDITION

    @property
    def all_findings(self) -> Verdict:
        """What changed and what is newly not known, in one."""
        return self.verdict + self.new_unknowns

    @property
    def complete(self) -> bool:
        """Whether everything is known of both moments."""
        return self.before.complete and self.after.complete


def compare(before: MixState, after: MixState, what: str = AN_ADDITION) -> MixChange:
    """What changed from one moment to the next, and ``what`` made the change.

    >>> from service.core.hazards.classes import Family
    >>> thin = MixState(hazards=(Hazard(Family.FLAMMABLE_LIQUID, "2"),))
    >>> compare(NOTHING, thin).verdict.findings[0].sentence
    'This addition makes it Flam. Liq. 2 H225.'
    >>> compare(thin, thin).verdict.codes
    frozenset({'nothing-changed'})
    >>> from service.core.findings import unknown
    >>> doubt = MixState(unknowns=(unknown("sheet-missing", "Its sheet is missing."),))
    >>> sorted(compare(thin, doubt).verdict.codes)
    ['hazard-perhaps-went']
    """
    found: list[Finding] = []
    if before.why_not:
        words = f"What it was before could not be worked out: {before.why_not}"
        found.append(unknown("before-not-known", words))
    if after.why_not:
        words = f"What it is now could not be worked out: {after.why_not} Treat it as the worst of what is "
        words += "in it."
        return MixChange(before, after, Verdict.of([unknown("after-not-known", words), *found]), what=what)
    changes = [
        *_rags(before, after),
        *_hazards(before, after, what),
        *_signal(before, after),
        *_pictograms(before, after),
        *_statements(before, after),
        *_flash(before, after),
        *_held(before, after),
    ]
    held = {(one.code, one.about) for one in before.unknowns}
    new = [one for one in after.unknowns if (one.code, one.about) not in held]
    found += changes or [_no_change(before, after)]
    return MixChange(before, after, Verdict.of(found), tuple(new), len(after.unknowns) - len(new), what)


def _no_change(before: MixState, after: MixState) -> Finding:
    if before.complete and after.complete:
        return note("nothing-changed", "It changes no hazard class and nothing on the label.")
    words = "By what is known no hazard class and nothing on the label came or went. Not all is known: "
    return unknown("no-change-known", f"{words}there may be more.")


def _hazards(before: MixState, after: MixState, what: str) -> list[Finding]:
    was, now = ({one.kind: one for one in side.hazards} for side in (before, after))
    found = []
    for kind, hazard in now.items():
        old = was.get(kind)
        if old is None:
            found.append(warn("hazard-came", f"{what} makes it {hazard.text}."))
        elif hazard.rank < old.rank:
            words = f"{what} makes it {hazard.text}; before it was {old.text}."
            found.append(warn("hazard-worse", words))
        elif hazard.rank > old.rank:
            words = f"It is {hazard.text} now; before it was {old.text}."
            found.append(_eased(after, "hazard-milder", words, f"treat it as {old.text} still"))
        elif hazard.text != old.text:
            words = f"It is written {hazard.text} now; before it was {old.text}."
            found.append(warn("hazard-other-words", words))
    for kind, old in was.items():
        if kind not in now:
            words = f"By what is known it is not {old.text} any more."
            found.append(_eased(after, "hazard-went", words, f"treat it as {old.text} still"))
    return found


def _eased(after: MixState, code: str, words: str, till_then: str) -> Finding:
    """Something became milder: told as such only where nothing is missing."""
    if after.complete:
        return note(code, words)
    what, way = code.split("-", 1)
    return unknown(f"{what}-perhaps-{way}", f"{words} Not everything is known: {till_then}.")


def _rags(before: MixState, after: MixState) -> list[Finding]:
    if before.rags_heat or not after.rags_heat:
        return []
    return [warn("rags-heat", "From now on rags with it can ignite by themselves, and somebody owes them.")]


def _signal(before: MixState, after: MixState) -> list[Finding]:
    if before.signal is after.signal:
        return []
    now, was = (_word_of(one) for one in (after, before))
    words = f"Its label says {now} now" + ("." if before.empty else f"; before it said {was}.")
    if _LOUD[after.signal] > _LOUD[before.signal]:
        return [warn("signal-louder", words)]
    return [_eased(after, "signal-milder", words, f"keep {was}")]


def _word_of(one: MixState) -> str:
    if one.signal is not None:
        return one.signal.value
    return "no signal word" if one.complete else "none that is known"


def _eased_hazards(before: MixState, after: MixState) -> list[Hazard]:
    """What it was before and is not any more, or not as severe."""
    now = {one.kind: one.rank for one in after.hazards}
    return [one for one in before.hazards if now.get(one.kind, one.rank + 1) > one.rank]


def _pictograms(before: MixState, after: MixState) -> list[Finding]:
    """What goes while every class stays or gets worse was only replaced: a skull takes an exclamation mark's
    place.
    """
    gone = before.pictograms if _eased_hazards(before, after) else ()
    return _marks(gone, before.pictograms, after.pictograms, after, "pictogram", _picture)


def _picture(code: str) -> str:
    return f"the pictogram {code} ({PICTOGRAM_WORDS.get(code, 'not named')})"


def _statements(before: MixState, after: MixState) -> list[Finding]:
    """The statement of a class that got worse was replaced by the new one and is not told as gone."""
    was, now = ([_line(one) for one in side.statements] for side in (before, after))
    codes = {one.code for one in after.statements}
    eased = {one.code for one in _eased_hazards(before, after)}
    gone = [_line(one) for one in before.statements if one.code in eased and one.code not in codes]
    return _marks(gone, was, now, after, "statement", lambda line: f"“{line}”")


def _line(one: Statement) -> str:
    return f"{one.code} {one.text}".strip()


def _marks(
    may_go: Sequence[str], was: Sequence[str], now: Sequence[str], after: MixState, what: str,
    say: Callable[[str], str],
) -> list[Finding]:  # fmt: skip
    came = [warn(f"{what}-came", f"Its label gets {say(one)}.") for one in now if one not in was]
    went = [
        _eased(after, f"{what}-went", f"Its label would not carry {say(one)} any more.", "keep it")
        for one in may_go
        if one not in now
    ]
    return came + went


def _flash(before: MixState, after: MixState) -> list[Finding]:
    if before.empty or before.flash_c == after.flash_c:
        return []
    if after.flash_c is None:
        return [unknown("flash-not-known", "Its flash point is not known any more.")]
    now = f"{'about ' if after.flash_calculated else ''}{after.flash_c:f} °C"
    if before.flash_c is None:
        return [warn("flash-known", f"Its flash point is {now} now; before it was not known.")]
    words = f"Its flash point is {now} now; before it was {before.flash_c:f} °C."
    if after.flash_c < before.flash_c:
        return [warn("flash-lower", words)]
    return [_eased(after, "flash-higher", words, "reckon with the lower one")]


def _held(before: MixState, after: MixState) -> list[Finding]:
    if before.empty or before.held == after.held:
        return []
    if after.held is None:
        return [unknown("binder-not-known", "How its binder holds the pigment is not known any more.")]
    return [warn("binder-changed", f"Pigment and binder: {after.held}; before {before.held or 'not known'}.")]
