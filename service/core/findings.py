"""The only shape in which a rule answers, and the five errors an impossible request raises.

Doors: web/errors.py (status codes), web/templates/parts/verdict.html (how reasons are shown).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs: ``stop`` refuses, ``unknown`` is never counted as good."""

    STOP = "stop"
    WARN = "warn"
    UNKNOWN = "unknown"
    NOTE = "note"


_ORDER = {Severity.STOP: 0, Severity.UNKNOWN: 1, Severity.WARN: 2, Severity.NOTE: 3}


@dataclass(frozen=True)
class Finding:
    """One reason: how heavy, which rule (`code`), the sentence a person reads, and where it comes from.

    ``code`` is a stable lower-case word with hyphens ("rags-overdue"); ``source`` cites a rule or is empty
    for a plain fact of the shop's own books; ``about`` names the thing (a container code, a material).
    """

    severity: Severity
    code: str
    sentence: str
    source: str = ""
    about: str = ""

    def as_dict(self) -> dict[str, str]:
        """The finding as plain data for JSON.

        >>> stop("past", "K7Q F2B is past its date.").as_dict()["severity"]
        'stop'
        """
        return {
            "severity": self.severity.value,
            "code": self.code,
            "sentence": self.sentence,
            "source": self.source,
            "about": self.about,
        }


def stop(code: str, sentence: str, source: str = "", about: str = "") -> Finding:
    """A finding that refuses the act."""
    return Finding(Severity.STOP, code, sentence, source, about)


def warn(code: str, sentence: str, source: str = "", about: str = "") -> Finding:
    """A finding to read before going on."""
    return Finding(Severity.WARN, code, sentence, source, about)


def unknown(code: str, sentence: str, source: str = "", about: str = "") -> Finding:
    """A fact that is missing; never counted as zero, good or harmless."""
    return Finding(Severity.UNKNOWN, code, sentence, source, about)


def note(code: str, sentence: str, source: str = "", about: str = "") -> Finding:
    """A finding for information only."""
    return Finding(Severity.NOTE, code, sentence, source, about)


@dataclass(frozen=True)
class Verdict:
    """An ordered set of findings: stops first, then what is not known, warnings, notes; no duplicates.

    >>> v = Verdict.of([note("a", "A."), stop("b", "B."), note("a", "A.")])
    >>> [f.code for f in v], v.blocking, v.complete
    (['b', 'a'], True, True)
    """

    findings: tuple[Finding, ...] = ()

    @staticmethod
    def of(findings: Iterable[Finding]) -> Verdict:
        unique = list(dict.fromkeys(findings))
        return Verdict(tuple(sorted(unique, key=lambda f: _ORDER[f.severity])))

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.findings)

    def __add__(self, other: Verdict | Iterable[Finding]) -> Verdict:
        return Verdict.of([*self.findings, *other])

    @property
    def blocking(self) -> bool:
        """True when at least one finding is a stop."""
        return any(f.severity is Severity.STOP for f in self.findings)

    @property
    def complete(self) -> bool:
        """True only without an ``unknown``."""
        return not any(f.severity is Severity.UNKNOWN for f in self.findings)

    @property
    def codes(self) -> frozenset[str]:
        return frozenset(f.code for f in self.findings)

    def as_list(self) -> list[dict[str, str]]:
        return [f.as_dict() for f in self.findings]


class RequestError(Exception):
    """Base of the five errors of an impossible request; ``sentence`` is shown to the person as it stands."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class NotFound(RequestError):  # noqa: N818 - the five errors are named by what they say
    """No such thing (for this person): 404. ``field`` names the field of a form that asked for it."""

    def __init__(self, sentence: str, field: str = "") -> None:
        super().__init__(sentence)
        self.field = field


class NotAllowed(RequestError):  # noqa: N818
    """The person's role may not do this: 403."""


@dataclass(frozen=True)
class Reading:
    """One of several ways to read what was written ("1,000" is one, or one thousand)."""

    text: str
    words: str


class Invalid(RequestError):  # noqa: N818
    """What was typed cannot be used: 422. ``errors`` maps a field name to the sentence to show beside it.

    ``readings`` lists what an ambiguous amount might mean; pages offer them as buttons.
    """

    def __init__(
        self,
        sentence: str,
        errors: Mapping[str, str] | None = None,
        readings: Iterable[Reading] = (),
    ) -> None:
        super().__init__(sentence)
        self.errors: dict[str, str] = dict(errors or {})
        self.readings: tuple[Reading, ...] = tuple(readings)


class Refused(RequestError):  # noqa: N818
    """A rule of the shop says no: 409 with the verdict."""

    def __init__(self, verdict: Verdict, sentence: str = "") -> None:
        first = next((f.sentence for f in verdict if f.severity is Severity.STOP), "This was refused.")
        super().__init__(sentence or first)
        self.verdict = verdict


class StaleKind(StrEnum):
    """Why what was sent no longer fits: changed meanwhile, or its ``once`` key was used for another body."""

    STALE = "stale"
    ONCE_REUSED = "once-reused"


class Stale(RequestError):  # noqa: N818
    """Somebody else changed it meanwhile, or a ``once`` key came back with another body: 409.

    ``verdict`` lists what changed, where a rule found it out.
    """

    def __init__(
        self, sentence: str, kind: StaleKind = StaleKind.STALE, verdict: Verdict | None = None
    ) -> None:
        super().__init__(sentence)
        self.kind = kind
        self.verdict = verdict


@dataclass
class Findings:
    """A small collector used inside rules: ``add`` as you go, ``verdict()`` at the end."""

    items: list[Finding] = field(default_factory=list)

    def add(self, *findings: Finding) -> None:
        self.items.extend(findings)

    def verdict(self) -> Verdict:
        return Verdict.of(self.items)
