"""A made mix inside another mix, as the materials that went into the batches it can come from.

Two batches of one recipe may differ: each material then counts from the least to the most that any of them
has of it. What cannot be told of a batch stays unknown: such a mix is not expanded, or its materials count as
anything up to the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from sqlmodel import Session, col, select

from service.actions.judge_hazards import Part
from service.actions.read_amount import densities_of
from service.actions.read_recipe import LineRead
from service.core.containers import ContainerState
from service.core.hazards.amount_band import HEAVIEST_SOLID, LIGHTEST_LIQUID
from service.core.ledger import MovementKind
from service.core.materials import Basis, Form
from service.records.materials import Material
from service.records.mixing import Batch, BatchState, Recipe
from service.records.stock import Container, Movement

_SHRINKS: Final = Fraction(105, 100)
"""Liquids shrink a little when mixed: a mix may be so much denser than its parts tell (derived, generous)."""
_SPAN = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class Inside:
    """What one batch is made of: each material's share by mass of it, in per cent; ``open``: those of which
    nobody knows how much it is; ``unmeasured``: those of which some went in unmeasured, but at most so much.
    """

    parts: tuple[Part, ...]
    open: frozenset[int] = frozenset()
    unmeasured: frozenset[int] = frozenset()


def batches_in_container(session: Session, box: Container) -> list[int] | None:
    """The batches whose mix stands in a container, those poured in from other jars too.

    None where something is in it that no batch of ours made.
    """
    found: list[int] = []
    seen: set[int] = set()
    waiting = [box]
    while waiting:
        one = waiting.pop()
        if one.id is None or one.id in seen:
            continue
        seen.add(one.id)
        if one.made_by_batch_id is None:
            return None
        found.append(one.made_by_batch_id)
        poured = select(Movement.other_container_id).where(
            col(Movement.container_id) == one.id, col(Movement.kind) == MovementKind.DECANT_IN
        )
        numbers = [number for number in session.exec(poured).all() if number is not None]
        waiting += session.exec(select(Container).where(col(Container.id).in_(numbers))).all()
    return sorted(set(found))


def batches_of_material(session: Session, material: Material) -> list[int] | None:
    """The batches a made mix off the shelf can come from: those with a jar in the store, else every finished
    one. None where a jar of it came from elsewhere, or none was ever made.
    """
    mine = col(Container.material_id) == material.id
    boxes = session.exec(select(Container).where(mine, col(Container.state) != ContainerState.GONE)).all()
    found: set[int] = set()
    for box in boxes:
        batches = batches_in_container(session, box)
        if batches is None:
            return None
        found |= set(batches)
    if not found:
        of_it = select(Batch.id).join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        done = of_it.where(
            col(Recipe.material_id) == material.id, col(Batch.state) == BatchState.FINISHED
        )
        found = {number for number in session.exec(done).all() if number is not None}
    return sorted(found) or None


def expanded(line: LineRead, insides: Sequence[Inside]) -> list[LineRead]:
    """A line of a made mix as lines of its materials, by mass; itself where that cannot be told.

    Classes that somebody wrote down of the mix itself stay in as one more line, from nothing to all of it.
    """
    spans = _together(insides)
    if not spans or line.basis is Basis.PIECES:
        return [line]
    by = line.basis if line.share is None else line.share_by
    density = _density(line.material, insides) if by is Basis.VOLUME else (Fraction(1), Fraction(1))
    guessed = {number for inside in insides for number in inside.unmeasured}
    lines = [
        replace(one, not_measured=line.not_measured or one.material.id in guessed)
        for one in (_scaled(line, material, span, density) for material, span in spans)
    ]
    if line.material.hazards:
        lines.append(replace(_scaled(line, line.material, (Fraction(100),) * 2, density), low=0))
    return lines


def _together(insides: Sequence[Inside]) -> list[tuple[Material, _SPAN | None]]:
    """Each material with its least and most over all batches; None = nobody knows."""
    materials = {part.material.id: part.material for inside in insides for part in inside.parts}
    found: list[tuple[Material, _SPAN | None]] = []
    for number, material in materials.items():
        if any(number in inside.open for inside in insides):
            found.append((material, None))
            continue
        shares = [
            [part for part in inside.parts if part.material.id == number] for inside in insides
        ]
        low = min(sum((Fraction(part.low) for part in own), Fraction(0)) for own in shares)
        high = max(sum((Fraction(part.high) for part in own), Fraction(0)) for own in shares)
        found.append((material, (low, min(high, Fraction(100)))))
    return found


def _scaled(line: LineRead, material: Material, span: _SPAN | None, density: _SPAN) -> LineRead:
    written = f"in {line.written} of {line.material.name}"
    bare = replace(line, material=material, written=written, unit_key="", findings=())
    if span is None:
        return replace(bare, low=None, high=None, basis=Basis.MASS, share=None, share_by=None, percent=False)
    low, high = (edge * by / 100 for edge, by in zip(span, density, strict=True))
    if line.share is not None:
        share = _decimal(Fraction(line.share[0]) * low, up=False), _decimal(Fraction(line.share[1]) * high)
        return replace(bare, share=share, share_by=Basis.MASS)
    return replace(
        bare,
        low=None if line.low is None else floor(line.low * low),
        high=None if line.high is None else ceil(line.high * high),
        basis=Basis.MASS,
    )


def _decimal(value: Fraction, *, up: bool = True) -> Decimal:
    whole = ceil(value * 10**8) if up else floor(value * 10**8)
    return Decimal(whole).scaleb(-8)


def _density(mix: Material, insides: Sequence[Inside]) -> _SPAN:
    """What a millilitre of the mix weighs in g, least and most: as measured, else by what is in it."""
    if mix.density_g_ml is not None:
        return (Fraction(mix.density_g_ml),) * 2
    spans = [_density_of(inside) for inside in insides]
    return min(low for low, _ in spans), max(high for _, high in spans)


def _density_of(inside: Inside) -> _SPAN:
    """The volumes of the parts added up; what shares leave open counts as the lightest and the heaviest."""
    known = [(part, _of_part(part.material)) for part in inside.parts if part.high > 0]
    lightest, heaviest = min(low for _, (low, _) in known), max(high for _, (_, high) in known)
    least = [Fraction(part.low) / 100 for part, _ in known]
    rest = max(1 - sum(least), Fraction(0))
    least_volume = sum(
        (share / high for share, (_, (_, high)) in zip(least, known, strict=True)), rest / heaviest
    )
    most_volume = sum(
        (share / low for share, (_, (low, _)) in zip(least, known, strict=True)), rest / lightest
    )
    return 1 / most_volume, _SHRINKS / least_volume


def _of_part(material: Material) -> _SPAN:
    """The density of grains or liquid, without air between them; wide where nobody wrote it down."""
    facts = densities_of(material)
    if facts.density_g_ml is not None:
        return (Fraction(facts.density_g_ml),) * 2
    least = Fraction(str(LIGHTEST_LIQUID))
    if material.form not in (Form.LIQUID, Form.PASTE) and facts.bulk_g_ml is not None:
        least = Fraction(facts.bulk_g_ml[0])
    return least, Fraction(str(HEAVIEST_SOLID))
