"""What is found against a pot of materials: rows that are met, and what nobody can tell of it.

Doors: actions/judge_never_with.py.

What nobody can identify is asked about before it meets anything that some row stops; beside what no row stops
it is said and does not stop. What nobody can tell is never silent.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.core.findings import Finding, Severity, Verdict, unknown
from service.core.hazards.classes import Family
from service.core.materials import MaterialKind
from service.core.mixed_things import ByFact, MixedThing, Side, is_on, no_false_oil
from service.core.never_with import (
    CODE,
    NOT_IDENTIFIED,
    NeverWith,
    met_rows,
    rest_last,
    who_may,
    without_guesses,
    without_idle_questions,
)

_STRONG: Final = frozenset({"acid", "alkali", "hypochlorite"})


def judge_together(rows: Sequence[NeverWith], things: Sequence[MixedThing]) -> Verdict:
    """The findings of a mix: rows that are met, and what nobody can tell of it.

    >>> judge_together((), ()).complete
    True
    """
    sides = {side.key: side for row in rows for side in (row.a, row.b)}.values()
    things = [no_false_oil(sides, thing) for thing in things]
    met = without_idle_questions(rest_last(without_guesses(met_rows(rows, things))))
    return Verdict.of([*(one.finding for one in met), *not_told(rows, things)])


def not_told(rows: Sequence[NeverWith], things: Sequence[MixedThing]) -> list[Finding]:
    """What nobody can tell: one ``unknown`` for each material of which nobody knows whether it goes with the
    others, and a stop for each pair of which one is not identified and the other is no indifferent thing.
    """
    if len(things) < 2:
        return []
    sides = {side.key: side for row in rows for side in (row.a, row.b)}
    grave = {
        side.key: side
        for row in rows
        if row.severity is Severity.STOP
        for side in (row.a, row.b)
        if side.fact not in (ByFact.ANY, ByFact.BUT_WATER)
    }
    clash = _clashing(rows)
    found: list[Finding] = []
    for thing in things:
        rest = [other for other in things if other is not thing]
        # What is not known of one part of a made mix is not made known by its other parts.
        for one in (thing, *thing.inside):
            name = one.name if one is thing else f"{one.name} in {thing.name}"
            told = _nobody_can_tell(sides, clash, one, name, rest)
            if told is not None:
                code, words = told
                found.append(unknown(f"{CODE}{code}", words, about=thing.name))
            found += [
                _not_identified(thing.name, name, other.name, why)
                for other in rest
                if (why := _why_asked(sides, grave, clash, one, other))
            ]
    return list(dict.fromkeys(found))


def _not_identified(thing: str, name: str, other: str, why: str) -> Finding:
    row = NOT_IDENTIFIED
    said = (
        f"{why.format(name=name)}, so nothing can be said about whether it may meet {other}. "
        f"Only if a {who_may(row.answered_by)} confirms in writing: {row.condition}"
    )
    return Finding(row.severity, row.code, said, row.source, f"{thing}, {other}")


def _why_asked(
    sides: dict[str, Side],
    grave: dict[str, Side],
    clash: Sequence[Side],
    thing: MixedThing,
    other: MixedThing,
) -> str:
    """Why somebody has to say what ``thing`` is before it meets ``other``; empty where nobody has to."""
    dark, burns = thing.unidentified, _burns_skin(thing)
    if not dark and not burns:
        return ""
    on = {key for key, side in sides.items() if side.fact is None and is_on(side, thing)}
    if dark and not on:
        if any(is_on(side, other) for side in grave.values()) or _burns_skin(other) or _dark(other):
            return "Nobody has said what {name} is"
    elif burns and not on & _STRONG and _may_clash(clash, other):
        return "{name} is corrosive and nobody said whether it is an acid or an alkali"
    return ""


def _dark(thing: MixedThing) -> bool:
    return thing.unidentified or any(one.unidentified for one in thing.inside)


def _nobody_can_tell(
    sides: dict[str, Side], clash: Sequence[Side], thing: MixedThing, name: str, rest: Sequence[MixedThing]
) -> tuple[str, str] | None:
    """The code and the words of what is not known of one material beside the rest."""
    on = {key for key, side in sides.items() if side.fact is None and is_on(side, thing)}
    if _untold_solvent(thing) and not on and any(_on(sides, "water", other) for other in rest):
        return "solvent-not-known", f"Whether {name} takes water is not known. Enter its CAS number."
    if thing.untold and not on:
        words = (
            f"What {name} is or does is not known, so nobody can tell whether it goes with the others. "
            "Enter its CAS number or Colour Index name where it has none yet, and copy sections 2 and 3 of "
            "its sheet."
        )
        return "identity-not-known", words
    if _burns_skin(thing) and not on & _STRONG and any(_may_clash(clash, other) for other in rest):
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


def _clashing(rows: Sequence[NeverWith]) -> list[Side]:
    """The sides that a strong acid, alkali or bleach is stopped with, and these themselves."""
    found = {
        side.key: side
        for row in rows
        if row.severity is Severity.STOP and {row.a.key, row.b.key} & _STRONG
        for side in (row.a, row.b)
        if side.fact is None
    }
    return list(found.values())


def _may_clash(clash: Sequence[Side], thing: MixedThing) -> bool:
    return _burns_skin(thing) or any(is_on(side, thing) for side in clash)


def _on(sides: dict[str, Side], key: str, thing: MixedThing) -> bool:
    return key in sides and is_on(sides[key], thing)


def _untold_solvent(thing: MixedThing) -> bool:
    nothing = not thing.itself.told and not thing.parts.told
    return thing.kind is MaterialKind.SOLVENT and nothing
