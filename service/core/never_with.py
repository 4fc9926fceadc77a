"""What is never mixed with what: rows of two sides, and who may answer one in writing.

Doors: records/knowledge_never_with.py, core/judge_together.py, actions/judge_never_with.py,
web/pages/check_mix.py.

A row *stops* or *warns*. A stop that names a condition may be answered in writing by the role it names; one
without is never answered.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from service.core.access import Role
from service.core.findings import Finding, Severity, Verdict, warn
from service.core.mixed_things import ByFact, MixedThing, Side, is_on

CODE: Final = "never-"
"""What the codes of these findings begin with."""
CONFIRMED: Final = "never-confirmed"
CONFIRMED_FIELD: Final = "never with: "
"""How the field of a change begins by which somebody confirmed a condition; the code of its row follows."""


@dataclass(frozen=True)
class NeverWith:
    """One row: ``a`` never with ``b``. ``answered_by`` None: nobody may answer it. ``no_jar``: what was
    answered holds for use at once; it is never kept in a closed jar.
    """

    key: str
    a: Side
    b: Side
    severity: Severity
    sentence: str
    source: str
    condition: str = ""
    answered_by: Role | None = None
    no_jar: bool = False

    @property
    def is_rest(self) -> bool:
        """Whether it speaks of every pair that no other row stops."""
        return ByFact.BUT_WATER in (self.a.fact, self.b.fact)

    @property
    def code(self) -> str:
        return f"{CODE}{self.key}"


@dataclass(frozen=True)
class Met:
    """A row that two materials of a mix meet."""

    row: NeverWith
    one: str
    other: str
    guessed: str = ""
    """The chemical that is on its side only because nobody said whether its rags heat; empty: none is."""

    @property
    def finding(self) -> Finding:
        said = f"{self.one} with {self.other}: {self.row.sentence}"
        if self.guessed:
            said += f" Nobody said whether {self.guessed} holds oil, so it counts as if it did."
        if self.row.answered_by is not None:
            said += f" Only if a {who_may(self.row.answered_by)} confirms in writing: {self.row.condition}"
        about = f"{self.one}, {self.other}"
        return Finding(self.row.severity, self.row.code, said, self.row.source, about)


def met_rows(rows: Iterable[NeverWith], things: Sequence[MixedThing]) -> tuple[Met, ...]:
    """Every row that two different materials meet, in the order of the rows.

    >>> met_rows((), ())
    ()
    """
    found: list[Met] = []
    for row in rows:
        ones = [at for at, thing in enumerate(things) if is_on(row.a, thing)]
        others = [at for at, thing in enumerate(things) if is_on(row.b, thing)]
        pairs = {(one, other) for one in ones for other in others if one != other}
        # Two that stand on both sides are one pair.
        pairs -= {(one, other) for one, other in pairs if one > other and (other, one) in pairs}
        found += [
            Met(row, a.name, b.name, _guess(row.a, a) or _guess(row.b, b))
            for a, b in ((things[one], things[other]) for one, other in sorted(pairs))
        ]
    return tuple(dict.fromkeys(found))


def _guess(side: Side, thing: MixedThing) -> str:
    return thing.name if thing.oil_guessed and side.fact in (ByFact.OIL, ByFact.ORGANIC) else ""


def rest_last(met: Sequence[Met]) -> tuple[Met, ...]:
    """The same rows less those for the rest, where another row stops the same two for what they are.

    >>> rest_last(())
    ()
    """
    told = {
        frozenset((one.one, one.other))
        for one in met
        if one.row.severity is Severity.STOP and not one.row.is_rest
    }
    return tuple(one for one in met if not one.row.is_rest or frozenset((one.one, one.other)) not in told)


def without_idle_questions(met: Sequence[Met]) -> tuple[Met, ...]:
    """The same rows; a stop that somebody might answer asks for no answer where the same two meet one that
    nobody may: an answer would open nothing.

    >>> without_idle_questions(())
    ()
    """
    final = {
        frozenset((one.one, one.other))
        for one in met
        if one.row.severity is Severity.STOP and one.row.answered_by is None
    }
    return tuple(
        replace(one, row=replace(one.row, answered_by=None, condition=""))
        if one.row.severity is Severity.STOP and frozenset((one.one, one.other)) in final
        else one
        for one in met
    )


def without_guesses(met: Sequence[Met]) -> tuple[Met, ...]:
    """The same rows less those met by a guess of oil where the same two meet a row for what they are, which
    is as grave and which nobody may answer either: quicklime and water are not oil and water.

    >>> without_guesses(())
    ()
    """
    known = [one for one in met if not one.guessed and one.row.severity is Severity.STOP]
    sure = {frozenset((one.one, one.other)) for one in known}
    final = {frozenset((one.one, one.other)) for one in known if one.row.answered_by is None}
    return tuple(
        one
        for one in met
        if not one.guessed
        or frozenset((one.one, one.other)) not in (final if one.row.severity is Severity.STOP else sure)
    )


def may_answer(row: NeverWith, role: Role) -> bool:
    """Whether this role may confirm the condition of a row in writing.

    >>> side = Side("x", "x")
    >>> row = NeverWith("x", side, side, Severity.STOP, "", "", "done at once", Role.FINISHER)
    >>> may_answer(row, Role.KEEPER)
    True
    """
    if row.answered_by is None or row.severity is not Severity.STOP:
        return False
    return role is Role.KEEPER or role is row.answered_by


NOT_IDENTIFIED: Final = NeverWith(
    "unidentified",
    Side("unidentified", "something nobody can tell what it is"),
    Side("partner", "anything that some row stops"),
    Severity.STOP,
    "nothing can be said about what it must not meet.",
    "The shop's own rule: what is not known is never taken for harmless",
    "What it is, how you know it, and that it may meet the other.",
    Role.FINISHER,
)
"""The stop of what nobody can identify. An answer holds for the two things it was given for alone."""


def answerable(rows: Iterable[NeverWith]) -> dict[str, NeverWith]:
    """Rows that somebody may answer, by the code of their findings; `NOT_IDENTIFIED` is always among them."""
    every = (*rows, NOT_IDENTIFIED)
    return {row.code: row for row in every if row.answered_by is not None and row.severity is Severity.STOP}


def answer_key(finding: Finding) -> str:
    """What an answer to a stop is kept under: its code, and of something not identified the two names too.

    >>> answer_key(Finding(Severity.STOP, "never-x", "No.", about="a, b"))
    'never-x'
    >>> answer_key(Finding(Severity.STOP, NOT_IDENTIFIED.code, "No.", about="a, b"))
    'never-unidentified: a, b'
    """
    return key_of(finding.code, finding.about)


def key_of(code: str, about: str) -> str:
    """`answer_key` of a finding with this code about these two."""
    return f"{code}: {about}" if code == NOT_IDENTIFIED.code else code


def keys_to_answer(rows: Iterable[NeverWith], verdict: Iterable[Finding]) -> frozenset[str]:
    """The keys of those stops of a verdict that somebody may answer."""
    may_be = answerable(rows)
    return frozenset(answer_key(f) for f in verdict if f.severity is Severity.STOP and f.code in may_be)


def without_answered(verdict: Iterable[Finding], answered: Collection[str]) -> Verdict:
    """The same findings, those whose `answer_key` was answered being no stop but a warning that says so.

    >>> from service.core.findings import stop
    >>> without_answered([stop("never-x", "No.")], {"never-x"}).blocking
    False
    """
    return Verdict.of(
        warn(CONFIRMED, f"Confirmed in writing. {one.sentence}", one.source, one.about)
        if one.severity is Severity.STOP and answer_key(one) in answered
        else one
        for one in verdict
    )


def who_may(role: Role | None) -> str:
    """Who confirms, in words."""
    return "keeper" if role is Role.KEEPER else "finisher or keeper"
