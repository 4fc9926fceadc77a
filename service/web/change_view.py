"""What an addition changed, in words and figures for a page and for a call."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from service.core.additions import Span
from service.core.findings import Finding, Severity, Verdict
from service.core.hazards.label import PICTOGRAM_WORDS
from service.core.materials import Basis
from service.core.mix_change import AN_ADDITION, MixChange, MixState
from service.core.quantities import show_amount
from service.web.hazard_view import class_words, plain_class
from service.web.render import number

_GETS: Final = "Its label gets "


@dataclass(frozen=True)
class Group:
    """Lines of one weight under one heading."""

    severity: Severity
    heading: str
    lines: tuple[str, ...]

    @property
    def of_label(self) -> bool:
        """Whether it only says what the label gets."""
        return self.heading == _GETS.strip()


@dataclass(frozen=True)
class ChangeView:
    """``stops``: what is never put together; ``groups``: what came and went, under few headings;
    ``open``: what is newly not known; ``before_open``: how much already was; ``figures`` and ``label`` are
    (what, now, before) for lists of facts.
    """

    stops: Verdict
    groups: list[Group]
    open: Verdict
    before_open: int
    figures: list[tuple[str, Any, str]]
    label: list[tuple[str, Any, str]]
    complete: bool


def view_change(change: MixChange) -> ChangeView:
    """A change as a page shows it."""
    now, before = change.after, change.before
    rows = [
        (name, say(now), "" if before.empty else f"before: {_flat(say(before))}")
        for name, say in (
            ("Weighs", _mass), ("Volume", _volume), ("Pigment by weight", _pigment), ("Binder", _held),
            ("Flash point", _flash), ("Hazard classes", _classes), ("Signal word", _signal),
            ("Pictograms", _pictures),
        )
    ]  # fmt: skip
    stops = Verdict.of(one for one in change.verdict if one.severity is Severity.STOP)
    new = Verdict.of(change.new_unknowns)
    return ChangeView(
        stops, groups_of(change.verdict, change.what), new, change.open_before, rows[:5], rows[5:],
        change.after.complete,
    )  # fmt: skip




def groups_of(verdict: Verdict, what: str = AN_ADDITION) -> list[Group]:
    """What changed under few headings: classes, the label, the rest, what is not known, what eased.

    >>> from service.core.findings import warn
    >>> told = [warn("hazard-came", "This addition makes it Flam. Liq. 2 H225.")]
    >>> [(one.heading, one.lines) for one in groups_of(Verdict.of(told))]
    [('This addition makes it', ('Flam. Liq. 2 H225.',))]
    """
    rest = [one for one in verdict if one.severity is not Severity.STOP]
    found: list[Group] = []
    makes = f"{what} makes it "
    for opening, heading in ((makes, makes.strip()), (_GETS, _GETS.strip())):
        lines = [plain_class(one.sentence.removeprefix(opening)) for one in rest if _opens(one, opening)]
        if lines:
            found.append(Group(Severity.WARN, heading, tuple(lines)))
    for severity, heading in (
        (Severity.WARN, "Besides"),
        (Severity.UNKNOWN, "Not everything is known"),
        (Severity.NOTE, "What else it does"),
    ):
        lines = [
            plain_class(one.sentence)
            for one in rest
            if one.severity is severity and not (_opens(one, makes) or _opens(one, _GETS))
        ]
        if lines:
            found.append(Group(severity, heading, tuple(lines)))
    return found


def _opens(finding: Finding, words: str) -> bool:
    return finding.severity is Severity.WARN and finding.sentence.startswith(words)


def span_words(span: Span, basis: Basis) -> str:
    """An amount from least to most, rounded to be read.

    >>> span_words(Span(612_345, 612_345), Basis.MASS), span_words(Span(5000, None), Basis.VOLUME)
    ('612.3 g', 'at least 5 ml')
    >>> span_words(Span(0, 900_000), Basis.MASS)
    'at most 900 g'
    """
    low = _short(span.low, basis)
    if span.high is None:
        return f"at least {low}" if span.low else "not known"
    high = _short(span.high, basis)
    if low == high:
        return high
    return f"{low} to {high}" if span.low else f"at most {high}"


def _short(smallest: int, basis: Basis) -> str:
    """Four figures are read at a glance; the book keeps them all."""
    step = 10 ** max(len(str(smallest)) - 4, 0)
    return show_amount((smallest + step // 2) // step * step, basis)


def _mass(state: MixState) -> str:
    return span_words(state.mass, Basis.MASS)


def _volume(state: MixState) -> str:
    if state.volume is None:
        return f"not known: no density of {', '.join(state.volume_lacks)}"
    return f"about {span_words(state.volume, Basis.VOLUME)}".replace("about not", "not")


def _pigment(state: MixState) -> str | None:
    if state.pigment_percent is None:
        return None
    low, high = (round(one, 2) for one in state.pigment_percent)
    return f"{number(low)} %" if low == high else f"{number(low)} to {number(high)} %"


def _held(state: MixState) -> str | None:
    return state.held


def _flash(state: MixState) -> str | None:
    if state.flash_c is None:
        return "none worked out" if state.complete else None
    return f"{'about ' if state.flash_calculated else ''}{number(state.flash_c)} °C"


def _classes(state: MixState) -> dict[str, Any] | str | None:
    if state.hazards:
        return {"lines": [class_words(one) for one in state.hazards]}
    return "none" if state.complete else None


def _signal(state: MixState) -> str | None:
    if state.signal is not None:
        return state.signal.value
    return "none" if state.complete else None


def _pictures(state: MixState) -> dict[str, Any] | str | None:
    if state.pictograms:
        return {"lines": [f"{PICTOGRAM_WORDS.get(one, one)} ({one})" for one in state.pictograms]}
    return "none" if state.complete else None


def _flat(said: Any) -> str:
    if said is None:
        return "not known"
    return ", ".join(said["lines"]) if isinstance(said, dict) else str(said)


