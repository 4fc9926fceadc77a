"""Materials of the book as the rules of never-with look at them: what each is, and what is in it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from service.core.findings import Invalid
from service.core.hazards.classes import Hazard
from service.core.hazards.read_class import read_class
from service.core.hazards.regimes import Regime
from service.core.material_facts import facts_self_heating
from service.core.materials import Form, MaterialKind, SelfHeating
from service.core.mixed_things import MixedThing, Names, plain_name
from service.core.written_numbers import cas_numbers, ci_names
from service.records.components import MaterialComponent, components_of_all
from service.records.knowledge import known, named_exactly
from service.records.knowledge_compositions import Role as PartRole
from service.records.knowledge_compositions import composition_of
from service.records.known_identities import known_cas, known_ci, known_trade_name
from service.records.material_queries import own_facts
from service.records.materials import Material
from service.records.mixing_queries import additions_of, materials_behind
from service.records.substance_facts import listed

_DEEPEST: Final = 4
_GUESSED: Final = frozenset(
    {MaterialKind.OTHER_CHEMICAL, MaterialKind.SOLVENT, MaterialKind.GLUE_OR_SIZE, MaterialKind.DYE}
)
"""Kinds that hold no oil as a rule, and count as if they did while nobody said."""
_SHARE_COUNTS: Final = Decimal("0.1")
"""Parts of less, in per cent, are left out: the lowest general cut-off of the hazard rules."""
_FORM_WORDS: Final = re.compile(r"\b(dry|powder|powdered|pigment|pure|fine|genuine)\b|[(),]")
_FINISH_NAMES: Final = re.compile(
    r"\b(varnish|lacquer|stain|paint|enamel|primer|polish|wax|glaze|shellac|polyurethane|"
    r"(danish|teak|tung|linseed|hardwax|wax|boiled|finishing) oil)\b"
)


@dataclass(frozen=True)
class InPot:
    """One material of a pot. ``batches``: of a made mix, those its jar may hold; None = any of it."""

    material: Material
    batches: tuple[int, ...] | None = None
    jar: str = ""


def read_mixed_things(session: Session, pot: Sequence[InPot]) -> list[MixedThing]:
    """One thing for each of a pot, in their order; a made mix holds what went into it, mixes in mixes too.

    Two jars of one mix are two things: something else may have gone into the batch of each.
    """
    behind = [_behind_of(session, one) for one in pot]
    every = [*(one.material for one in pot), *(m for inner in behind for m in inner)]
    own = components_of_all(session, sorted({m.id for m in every if m.id is not None}))
    found = []
    for one, inside in zip(pot, behind, strict=True):
        in_it = [(m, own.get(m.id or 0, ())) for m in inside]
        thing = _thing(one.material, own.get(one.material.id or 0, ()), in_it)
        twice = sum(other.material.id == one.material.id for other in pot) > 1
        found.append(replace(thing, name=f"{thing.name} in {one.jar}") if twice and one.jar else thing)
    return found


def _behind_of(session: Session, one: InPot) -> list[Material]:
    material = one.material
    if material.kind is not MaterialKind.MADE_MIX or material.id is None:
        return []
    if one.batches is None:
        return _behind(session, material.id, 1)
    put_in = [a.material for batch in one.batches for a in additions_of(session, batch) if not a.reversed]
    found: dict[int, Material] = {}
    for inner in put_in:
        if inner.id is None or inner.id == material.id:
            continue
        found[inner.id] = inner
        if inner.kind is MaterialKind.MADE_MIX:
            found |= {m.id: m for m in _behind(session, inner.id, 2) if m.id is not None}
    # A mix that was poured into a batch of itself may be any that there ever was.
    if any(inner.id == material.id for inner in put_in):
        found |= {m.id: m for m in _behind(session, material.id, 1) if m.id is not None}
    return list(found.values())


def _behind(session: Session, material_id: int, depth: int) -> list[Material]:
    """What goes into a made mix, and into the mixes in it: by its recipe and by all its batches."""
    found: dict[int, Material] = {}
    for material in materials_behind(session, material_id):
        if material.id is None or material.id == material_id:
            continue
        found[material.id] = material
        if material.kind is MaterialKind.MADE_MIX and depth < _DEEPEST:
            found |= {m.id: m for m in _behind(session, material.id, depth + 1) if m.id is not None}
    return list(found.values())


def _thing(
    material: Material,
    own: Sequence[MaterialComponent],
    inside: Sequence[tuple[Material, Sequence[MaterialComponent]]],
) -> MixedThing:
    hazards, statements = _classes(material)
    parts = [_parts(material, own), *(names for m, rows in inside for names in (_itself(m), _parts(m, rows)))]
    for other, _ in inside:
        more, said = _classes(other)
        hazards = None if hazards is None and more is None else (*(hazards or ()), *(more or ()))
        statements |= said
    metals = [m.toxic_metals for m in (material, *(m for m, _ in inside)) if m.toxic_metals is not None]
    published = known(material.known_key) if material.known_key else None
    kinds = frozenset(m.kind for m, _ in inside)
    oily = any(facts_self_heating(own_facts(m)) for m in (material, *(m for m, _ in inside)))
    guessed = material.kind in _GUESSED and material.self_heating is not SelfHeating.YES
    if oily and not inside and _published_without_oil(material):
        oily = False
    return MixedThing(
        name=material.name,
        kind=_kind(material, kinds),
        itself=_itself(material),
        parts=_together(parts),
        hazards=hazards,
        statements=statements,
        metals=frozenset(str(metal) for row in metals for metal in row)
        | frozenset(published.toxic_metals or () if published else ()),
        oily=oily,
        kinds_inside=kinds,
        inside=tuple(_thing(m, rows, ()) for m, rows in inside),
        named=_is_named(material),
        oil_guessed=oily and guessed and not inside and not material.binder.strip(),
    )


def _published_without_oil(material: Material) -> bool:
    """Whether a published row says that it holds no oil, and nobody says that this one does."""
    found = known(material.known_key) if material.known_key else None
    row = found or next(iter(named_exactly(material.name)), None)
    if row is None or row.self_heating is not SelfHeating.NO or material.self_heating is SelfHeating.YES:
        return False
    if material.kind not in (row.kind, MaterialKind.BINDER):
        return False
    return not material.binder.strip() or material.binder == row.binder


def _is_named(material: Material) -> bool:
    """Whether its name means one thing in the tables or the trade, or somebody wrote what its binder is.

    That is an identity only; sides of the rows are never read from it.
    """
    if material.cas.strip() and not material.known_key and not known_cas(material.cas):
        return False  # Name and number contradict, or nobody can tell: chalk with the number of a cyanide.
    name = plain_name(material.name)
    bare = " ".join(_FORM_WORDS.sub(" ", name).split())
    if any(len(named_exactly(text)) == 1 or known_trade_name(text) for text in (material.name, bare)):
        return True
    finish = material.kind is MaterialKind.READY_MADE_FINISH
    return finish and bool(material.binder.strip() or _FINISH_NAMES.search(name))


def _kind(material: Material, inside: frozenset[MaterialKind]) -> MaterialKind:
    """A mix of dry colours that is still a powder is a dry colour."""
    dry = material.form is Form.POWDER and MaterialKind.DRY_PIGMENT in inside
    return MaterialKind.DRY_PIGMENT if dry and material.kind is MaterialKind.MADE_MIX else material.kind


def _itself(material: Material) -> Names:
    published = known(material.known_key) if material.known_key else None
    # A number that no table has, or that cannot be right, tells nobody what the thing is.
    cas = known_cas(material.cas) | known_cas(material.name)
    ci = known_ci(material.ci_name) | known_ci(material.name, is_name=True)
    called = [material.name]
    if material.ci_name.strip() and not ci:
        called.append(material.ci_name)
    if published is not None:
        cas |= frozenset(published.cas)
        ci |= frozenset(name for one in published.ci_generic for name in ci_names(one))
        called.append(published.name)
    keys = frozenset({published.key}) if published else frozenset()
    return Names(keys, cas, ci, tuple(dict.fromkeys(called)))


def _parts(material: Material, own: Sequence[MaterialComponent]) -> Names:
    if own:
        counted = [row for row in own if row.high is None or row.high >= _SHARE_COUNTS]
        return Names(
            cas=frozenset(row.cas for row in counted if row.cas), called=tuple(row.name for row in counted)
        )
    lines = [
        line
        for line in composition_of(material.known_key or "")
        if line.role is not PartRole.NOT_KNOWN and (line.high is None or line.high >= _SHARE_COUNTS)
    ]
    return Names(
        cas=frozenset(line.cas for line in lines if line.cas), called=tuple(line.substance for line in lines)
    )


def _together(names: Sequence[Names]) -> Names:
    return Names(
        frozenset().union(*(one.keys for one in names)),
        frozenset().union(*(one.cas for one in names)),
        frozenset().union(*(one.ci for one in names)),
        tuple(dict.fromkeys(name for one in names for name in one.called)),
    )


def _classes(material: Material) -> tuple[tuple[Hazard, ...] | None, frozenset[str]]:
    """The supplier's classes and statements; a line that cannot be read tells nothing here.

    Of an other chemical whose classes nobody copied, those that the published lists give for its number.
    Not of a colour: a list that calls an ore an oxidiser would stop every umber in oil.
    """
    if material.hazards is None:
        rows = [listed(cas, Regime.UN_GHS).hazards for cas in cas_numbers(material.cas)]
        told = [hazard for row in rows for hazard in row or ()]
        if material.kind is not MaterialKind.OTHER_CHEMICAL or not any(row is not None for row in rows):
            return None, frozenset()
        return tuple(told), frozenset(hazard.code for hazard in told)
    hazards: list[Hazard] = []
    statements: set[str] = set()
    for written in material.hazards:
        try:
            read = read_class(str(written))
        except Invalid:
            continue
        hazards += read.hazards
        statements |= {*read.supplements, *(hazard.code for hazard in read.hazards)}
    return tuple(hazards), frozenset(statements)
