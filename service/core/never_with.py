"""What is never mixed with what: rows of two sides, and which materials of a mix stand on which side.

Doors: records/knowledge_never_with.py, actions/judge_never_with.py, web/pages/check_mix.py.

A row *stops* or *warns*. A stop that names a condition may be answered in writing by the role it names; one
without is never answered. What nobody can tell is a finding of its own and never silent.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from service.core.access import Role
from service.core.findings import Finding, Severity, Verdict, unknown, warn
from service.core.hazards.classes import Family, Hazard
from service.core.materials import MaterialKind

CODE: Final = "never-"
"""What the codes of these findings begin with."""
CONFIRMED: Final = "never-confirmed"
_ORGANIC_KINDS: Final = frozenset(
    {
        MaterialKind.COLOUR_IN_OIL,
        MaterialKind.COLOUR_IN_JAPAN,
        MaterialKind.DYE,
        MaterialKind.BINDER,
        MaterialKind.DRIER,
        MaterialKind.SOLVENT,
        MaterialKind.RESIN,
        MaterialKind.GLUE_OR_SIZE,
        MaterialKind.READY_MADE_FINISH,
    }
)
_COLOURS: Final = frozenset(
    {MaterialKind.DRY_PIGMENT, MaterialKind.COLOUR_IN_OIL, MaterialKind.COLOUR_IN_JAPAN}
)
_UNTOLD_KINDS: Final = frozenset(
    {
        MaterialKind.OTHER_CHEMICAL,
        MaterialKind.DRY_PIGMENT,
        MaterialKind.MADE_MIX,
        MaterialKind.SOLVENT,
        MaterialKind.DRIER,
        MaterialKind.READY_MADE_FINISH,
    }
)
_STRONG: Final = frozenset({"acid", "alkali", "hypochlorite"})


class ByFact(StrEnum):
    """A side that a fact of the material decides, not a list of names."""

    OIL = "oil"
    ORGANIC = "organic"
    ANY = "any"


@dataclass(frozen=True)
class Names:
    """What a thing is called: keys of the published tables, CAS numbers, Colour Index names, plain names."""

    keys: frozenset[str] = frozenset()
    cas: frozenset[str] = frozenset()
    ci: frozenset[str] = frozenset()
    called: tuple[str, ...] = ()

    @property
    def told(self) -> bool:
        """Whether anything but its name says what it is."""
        return bool(self.keys or self.cas or self.ci)


@dataclass(frozen=True)
class MixedThing:
    """One material of a mix as these rules look at it.

    ``parts``: what stands in its composition. ``hazards`` None = not known. ``statements``: H- and EUH-codes.
    ``metals`` None = not known. ``oily``: what counts as self-heating, not known among it. ``kinds_inside``:
    what went into a made mix; none = nobody knows. ``inside``: the materials of a made mix, each by itself.
    """

    name: str
    kind: MaterialKind
    itself: Names
    parts: Names = field(default_factory=Names)
    hazards: tuple[Hazard, ...] | None = None
    statements: frozenset[str] = frozenset()
    metals: frozenset[str] | None = None
    oily: bool = False
    kinds_inside: frozenset[MaterialKind] = frozenset()
    inside: tuple[MixedThing, ...] = ()

    @property
    def untold(self) -> bool:
        """Nobody can tell what it does: no number, no row, no parts, no classes.

        Of an other chemical a number alone tells nothing where no list gives its classes.
        """
        nothing = not self.itself.told and not self.parts.told and not self.parts.called
        nothing = nothing or self.kind is MaterialKind.OTHER_CHEMICAL
        return nothing and self.hazards is None and self.kind in _UNTOLD_KINDS


@dataclass(frozen=True)
class Side:
    """One side of a row. It is met by a fact, or by any of the names, classes, codes, kinds or metals.

    ``only_kinds`` narrows it. ``doubtful``: words that count only where no better name tells what it is; a
    trade name such as "chrome green" is then read as the worse of its meanings. ``of_itself``: what stands in
    the composition does not count.
    """

    key: str
    words: str
    names: Names = field(default_factory=Names)
    families: frozenset[Family] = frozenset()
    statements: frozenset[str] = frozenset()
    kinds: frozenset[MaterialKind] = frozenset()
    only_kinds: frozenset[MaterialKind] = frozenset()
    metals: frozenset[str] = frozenset()
    named: re.Pattern[str] | None = None
    doubtful: re.Pattern[str] | None = None
    fact: ByFact | None = None
    of_itself: bool = False


@dataclass(frozen=True)
class NeverWith:
    """One row: ``a`` never with ``b``. ``answered_by`` None: nobody may answer it."""

    key: str
    a: Side
    b: Side
    severity: Severity
    sentence: str
    source: str
    condition: str = ""
    answered_by: Role | None = None

    @property
    def code(self) -> str:
        return f"{CODE}{self.key}"


@dataclass(frozen=True)
class Met:
    """A row that two materials of a mix meet."""

    row: NeverWith
    one: str
    other: str

    @property
    def finding(self) -> Finding:
        said = f"{self.one} with {self.other}: {self.row.sentence}"
        if self.row.answered_by is not None:
            said += f" Only if a {_who(self.row.answered_by)} confirms in writing: {self.row.condition}"
        about = f"{self.one}, {self.other}"
        return Finding(self.row.severity, self.row.code, said, self.row.source, about)


def is_on(side: Side, thing: MixedThing) -> bool:
    """Whether a material stands on a side. What is not known counts where it would be the worse.

    >>> water = Side("water", "water", Names(cas=frozenset({"7732-18-5"})))
    >>> is_on(water, MixedThing("tap", MaterialKind.OTHER_CHEMICAL, Names(cas=frozenset({"7732-18-5"}))))
    True
    """
    # In a made mix every material is looked at by itself, by its own name and kind; dry colour that has been
    # ground into it is dry no more.
    if not side.of_itself and side.fact is None and any(is_on(side, one) for one in thing.inside):
        return True
    if side.only_kinds and thing.kind not in side.only_kinds:
        return False
    if side.fact is not None:
        return _by_fact(side.fact, thing)
    held = (thing.itself,) if side.of_itself else (thing.itself, thing.parts)
    return (
        any(_called(side, names) for names in held)
        or thing.kind in side.kinds
        or bool(side.families & {hazard.family for hazard in thing.hazards or ()})
        or bool(side.statements & thing.statements)
        or bool(side.metals & {metal.casefold() for metal in thing.metals or ()})
        or _by_doubtful_name(side, thing)
    )


def _by_fact(fact: ByFact, thing: MixedThing) -> bool:
    if fact is ByFact.ANY:
        return True
    oily = thing.oily and thing.kind is not MaterialKind.DRY_PIGMENT
    if fact is ByFact.OIL:
        return oily
    if thing.kind is MaterialKind.MADE_MIX:
        return oily or not thing.kinds_inside or bool(thing.kinds_inside & _ORGANIC_KINDS)
    return oily or (thing.kind in _ORGANIC_KINDS and not _is_water(thing))


def _is_water(thing: MixedThing) -> bool:
    return "water" in thing.itself.keys or thing.itself.cas == frozenset({"7732-18-5"})


def _called(side: Side, names: Names) -> bool:
    ours = side.names
    if ours.keys & names.keys or ours.cas & names.cas or ours.ci & names.ci:
        return True
    return side.named is not None and any(side.named.search(name) for name in names.called)


def _by_doubtful_name(side: Side, thing: MixedThing) -> bool:
    own = thing.itself
    if side.doubtful is None or own.keys or own.ci or (own.cas and thing.kind not in _COLOURS):
        return False
    return any(side.doubtful.search(name) for name in own.called)


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
        found += [Met(row, things[one].name, things[other].name) for one, other in sorted(pairs)]
    return tuple(dict.fromkeys(found))


def judge_together(rows: Sequence[NeverWith], things: Sequence[MixedThing]) -> Verdict:
    """The findings of a mix: rows that are met, and what nobody can tell of it.

    >>> judge_together((), ()).complete
    True
    """
    return Verdict.of([*(met.finding for met in met_rows(rows, things)), *not_told(rows, things)])


def not_told(rows: Sequence[NeverWith], things: Sequence[MixedThing]) -> list[Finding]:
    """One ``unknown`` for each material of which nobody can tell whether it goes with the others."""
    if len(things) < 2:
        return []
    sides = {side.key: side for row in rows for side in (row.a, row.b)}
    found: list[Finding] = []
    for thing in things:
        rest = [other for other in things if other is not thing]
        # What is not known of one part of a made mix is not made known by its other parts.
        for one in (thing, *thing.inside):
            name = one.name if one is thing else f"{one.name} in {thing.name}"
            told = _nobody_can_tell(sides, one, name, rest)
            if told is not None:
                code, words = told
                found.append(unknown(f"{CODE}{code}", words, about=thing.name))
    return list(dict.fromkeys(found))


def _nobody_can_tell(
    sides: dict[str, Side], thing: MixedThing, name: str, rest: Sequence[MixedThing]
) -> tuple[str, str] | None:
    """The code and the words of what is not known of one material beside the rest."""
    on = {key for key, side in sides.items() if side.fact is None and is_on(side, thing)}
    if _untold_solvent(thing) and not on and any(_on(sides, "water", other) for other in rest):
        return "solvent-not-known", f"Whether {name} takes water is not known. Enter its CAS number."
    if thing.untold and not on:
        words = (
            f"What {name} is or does is not known, so nobody can tell whether it goes with the "
            "others. Enter its CAS number or Colour Index name, and copy sections 2 and 3 of its sheet."
        )
        return "identity-not-known", words
    if _burns_skin(thing) and not on & _STRONG and any(_may_clash(sides, other) for other in rest):
        words = (
            f"{name} is corrosive and nobody said whether it is an acid or an alkali, so it may "
            "react with the others. Copy section 3 of its sheet."
        )
        return "corrosive-not-known", words
    return None


def _burns_skin(thing: MixedThing) -> bool:
    return any(
        (hazard.family is Family.SKIN and hazard.category.startswith("1"))
        or hazard.family is Family.CORROSIVE_TO_METALS
        for hazard in thing.hazards or ()
    )


def _may_clash(sides: dict[str, Side], thing: MixedThing) -> bool:
    return _burns_skin(thing) or any(_on(sides, key, thing) for key in ("acid", "alkali", "hypochlorite"))


def _on(sides: dict[str, Side], key: str, thing: MixedThing) -> bool:
    return key in sides and is_on(sides[key], thing)


def _untold_solvent(thing: MixedThing) -> bool:
    nothing = not thing.itself.told and not thing.parts.told
    return thing.kind is MaterialKind.SOLVENT and nothing


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


def answerable(rows: Iterable[NeverWith]) -> dict[str, NeverWith]:
    """Rows that somebody may answer, by the code of their findings."""
    return {row.code: row for row in rows if row.answered_by is not None and row.severity is Severity.STOP}


def without_answered(verdict: Iterable[Finding], answered: Collection[str]) -> Verdict:
    """The same findings, those whose code was answered being no stop but a warning that says so.

    >>> from service.core.findings import stop
    >>> without_answered([stop("never-x", "No.")], {"never-x"}).blocking
    False
    """
    return Verdict.of(
        warn(CONFIRMED, f"Confirmed in writing. {one.sentence}", one.source, one.about)
        if one.code in answered and one.severity is Severity.STOP
        else one
        for one in verdict
    )


def _who(role: Role) -> str:
    return "keeper" if role is Role.KEEPER else "finisher or keeper"
