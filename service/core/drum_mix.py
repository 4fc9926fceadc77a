"""What is found against things that stand in one closed drum: rows of a pot, and what a store keeps apart.

Doors: actions/judge_drum_mix.py.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

from service.core.drum_words import words_left
from service.core.findings import Finding, Severity, Verdict, stop, unknown, warn
from service.core.hazards.classes import Family
from service.core.judge_together import judge_together
from service.core.materials import MaterialKind
from service.core.mixed_things import MixedThing, Names, Side, is_on
from service.core.never_with import CODE, NOT_IDENTIFIED, NeverWith
from service.core.storage_groups import FLAMMABLE
from service.core.storage_pairs import Pair, judge_pair
from service.core.storage_rules import KeptApart

KEPT_APART: Final = "waste-drum-kept-apart"
NOT_JUDGED: Final = "waste-mix-not-judged"
_SPOILS: Final = frozenset({"water-spirits", "cadmium-lead", "lead-sulphide"})
"""Rows of a pot that are about a colour or a film, and harm nobody in a drum."""
_MAY_BE_TOLD: Final = frozenset({"reagent-anything"})
"""Rows whose condition a closed drum can meet: a sheet names both. What asks for use at once, for an open
vessel or for a vented can it never meets, and a new row is taken for one of these until it stands here."""
_FAMILIES: Final = {
    Family.OXIDISING_LIQUID: "oxidizer", Family.OXIDISING_SOLID: "oxidizer", Family.OXIDISING_GAS: "oxidizer",
    Family.WATER_REACTIVE: "water_reactive", Family.CORROSIVE_TO_METALS: "corrosive",
    Family.ORGANIC_PEROXIDE: "energetic", Family.SELF_REACTIVE: "energetic", Family.EXPLOSIVE: "energetic",
    Family.FLAMMABLE_LIQUID: FLAMMABLE,
}  # fmt: skip
_SIDES: Final = {
    "oxidiser": "oxidizer", "organic-peroxide": "energetic", "water-reactive": "water_reactive",
    "nitric": "nitric_acid", "acid": "acid", "sulphuric": "acid",
}  # fmt: skip


@dataclass(frozen=True)
class DrumThing:
    """One thing in a drum. ``by_words``: nobody named a material; ``rags``: it is a load of oily rags.

    ``line``: which line named it, things of one line alike; ``name_only``: the drum is called so and nobody
    wrote that it is in there. ``plain``: a solvent as it is bought, or water, which holds no oil. ``oil``:
    its words name a drying oil, or a solvent that brushes were rinsed in, which holds some.
    """

    thing: MixedThing
    by_words: bool = False
    rags: bool = False
    line: int = 0
    name_only: bool = False
    plain: bool = False
    oil: bool = False


def judge_in_drum(
    rows: Sequence[NeverWith], held: Sequence[KeptApart], things: Sequence[DrumThing]
) -> Verdict:
    """The findings of what stands in one drum, the gravest as they come.

    >>> judge_in_drum((), (), ()).complete
    True
    """
    sides = {side.key: side for row in rows for side in (row.a, row.b)}
    # A name that no rule reads says nothing of what may go in.
    things = [one for one in things if not (one.name_only and _nothing_read(sides, one))]
    unread = [one.thing.name for one in things if one.by_words and _nothing_read(sides, one)]
    in_part = [one.thing.name for one in things if not one.name_only and _words_left(sides, one)]
    whole = [_in_words(one) if one.by_words else one.thing for one in things]
    alike = _alike(sides, things)
    met = [
        _in_a_drum(rows, one)
        for one in judge_together(rows, whole)
        if one.about not in alike
        # What nobody can read is said once for all of it.
        and not (one.code.startswith(CODE) and one.severity is Severity.UNKNOWN and one.about in unread)
        and not (one.code == NOT_IDENTIFIED.code and one.about.split(", ")[0] in unread)
    ]
    stopped = {frozenset(one.about.split(", ")) for one in met if one.severity is Severity.STOP}
    apart = [
        one for one in _kept_apart(sides, held, [one.thing for one in things])
        if frozenset(one.about.split(", ")) not in stopped and one.about not in alike
    ]  # fmt: skip
    put_in = [one for one in things if not one.name_only]
    # One thing alone has nothing to be together with.
    return Verdict.of([*met, *apart, *(_not_judged([*unread, *in_part]) if len(put_in) > 1 else ())])


def _nothing_read(sides: dict[str, Side], one: DrumThing) -> bool:
    """Whether no rule reads the words of a thing."""
    return not (one.rags or one.plain or one.oil or _read(sides, one.thing))


def _words_left(sides: dict[str, Side], one: DrumThing) -> bool:
    """Whether a rule reads some of the words of a thing, and others beside them nobody reads."""
    if not one.by_words or one.rags or one.plain or one.oil:
        return False
    on = [sides[key] for key in _read(sides, one.thing)]
    return bool(on) and words_left(one.thing.name, [_reader(side, one.thing) for side in on])


def _reader(side: Side, thing: MixedThing) -> Callable[[str], bool]:
    """Whether a thing that were called by some words alone stood on a side."""
    return lambda words: is_on(side, replace(thing, itself=Names(called=(words,))))


def _read(sides: dict[str, Side], thing: MixedThing) -> frozenset[str]:
    return frozenset(key for key, side in sides.items() if side.fact is None and is_on(side, thing))


def _in_words(one: DrumThing) -> MixedThing:
    """What is only written: oil is guessed in it, but in a plain solvent, water or the name of a drum."""
    no_oil = one.plain or (one.name_only and not one.rags)
    oily, guessed = one.oil or not no_oil, not (no_oil or one.rags or one.oil)
    named = one.rags or one.plain or one.oil or one.thing.named
    return replace(one.thing, oily=oily, oil_guessed=guessed, named=named)


def _alike(sides: dict[str, Side], things: Sequence[DrumThing]) -> set[str]:
    """The pairs that are one thing twice: two names of one line, and what a drum is called after."""
    found = set()
    for one, other in combinations(things, 2):
        a, b = (_read(sides, each.thing) - {"water", "aqueous"} for each in (one, other))
        twice = one.by_words and other.by_words and one.line == other.line and a == b
        called = (one.name_only and a <= b) or (other.name_only and b <= a)
        if (one.name_only and other.name_only) or (a and b and (twice or called)):
            found |= {f"{one.thing.name}, {other.thing.name}", f"{other.thing.name}, {one.thing.name}"}
    return found


def _not_judged(unread: Sequence[str]) -> list[Finding]:
    if not unread:
        return []
    named = ", ".join(f"“{name}”" for name in unread[:5]) + (" and more" if len(unread) > 5 else "")
    words = (
        f"What is in it was written in words that no rule reads, or not all of them: {named}. Whether it may "
        "be together was not judged. Read sections 7 and 10 of the data sheets before anything more goes in."
    )
    return [unknown(NOT_JUDGED, words)]


def _in_a_drum(rows: Sequence[NeverWith], one: Finding) -> Finding:
    """A finding of a pot as it counts in a drum, which is closed and stands for months."""
    row = next((row for row in rows if row.code == one.code), None)
    if row is None or one.severity is not Severity.STOP:
        return one
    bare = one.sentence.partition(" Only if ")[0]
    if row.key in _SPOILS:
        return warn(one.code, bare, one.source, one.about)
    if row.answered_by is not None and (row.no_jar or row.key not in _MAY_BE_TOLD):
        words = f"{bare} A drum is closed and stands for months: nobody may confirm it."
        return stop(f"{one.code}-shut-in", words, one.source, one.about)
    return one


def _kept_apart(
    sides: dict[str, Side], held: Sequence[KeptApart], things: Sequence[MixedThing]
) -> list[Finding]:
    """What a store keeps apart and stands in one drum, each two once for each rule."""
    told = [(thing, _groups(sides, thing)) for thing in things]
    found: dict[tuple[str, str, str], Finding] = {}
    for (one, of_one), (other, of_other) in combinations(told, 2):
        for a in sorted(of_one):
            for b in sorted(of_other):
                judged = judge_pair(held, Pair(a, b, same_cabinet=True)) if a != b else None
                if judged is not None and judged.ok is False:
                    rule = judged.rules[0]
                    words = f"{one.name} with {other.name} in one drum: {rule.says}"
                    about = f"{one.name}, {other.name}"
                    source = f"{rule.citation}, {rule.edition}"
                    found[one.name, other.name, rule.key] = stop(KEPT_APART, words, source, about)
    return list(found.values())


def _groups(sides: dict[str, Side], thing: MixedThing) -> set[str]:
    """The groups of the storage pairs a thing belongs to; a solvent of unknown classes is flammable."""
    found = {_FAMILIES[one.family] for one in thing.hazards or () if one.family in _FAMILIES}
    if any(one.family is Family.SKIN and one.category.startswith("1") for one in thing.hazards or ()):
        found.add("corrosive")
    if thing.hazards is None and thing.kind is MaterialKind.SOLVENT:
        found.add(FLAMMABLE)
    return found | {group for key, group in _SIDES.items() if key in sides and is_on(sides[key], thing)}
