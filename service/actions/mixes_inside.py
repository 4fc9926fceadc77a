"""What is in a batch, a recipe or a jar, where a made mix counts as what went into the batch it came from.

``lines_of_batch`` and ``lines_of_recipe`` say what people put in; these say what is in it, for whoever judges
hazards. What cannot be traced stays a made mix of which nothing is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal

from sqlmodel import Session

from service.actions.expand_mixes import Inside, batches_in_container, batches_of_material, expanded
from service.actions.judge_hazards import JudgedHazards, judge_material, more_severe_of, with_what_went_in
from service.actions.mix_of_materials import (
    MixShares,
    judge_lines,
    lines_of_batch,
    lines_of_recipe,
    shares_by_mass,
)
from service.actions.read_recipe import LineRead
from service.core.findings import Invalid
from service.core.hazards.mix import HUNDRED
from service.core.hazards.regimes import Regime
from service.core.materials import Basis, MaterialKind
from service.records.materials import Material
from service.records.mixing import RecipeVersion
from service.records.mixing_queries import Added, additions_of
from service.records.stock import Container


def what_is_in_lines(session: Session, lines: Sequence[LineRead]) -> list[LineRead]:
    """Lines that name a made mix, as any batch of it that may be meant; the others as they are."""
    return _all(session, lines, {}, frozenset())


def what_is_in_recipe(session: Session, version: RecipeVersion) -> list[LineRead]:
    """One version of a recipe, as ``what_is_in_lines``."""
    return what_is_in_lines(session, lines_of_recipe(session, version))


def what_is_in_batch(session: Session, batch_id: int) -> list[LineRead]:
    """What really went into a batch; a made mix by the very jars it was taken from."""
    return _of_batch(session, batch_id, frozenset())


def what_is_in_container(session: Session, box: Container) -> list[LineRead]:
    """What stands in a container that was made here, as lines; empty where nobody can tell.

    Where several batches were poured together, each material counts from the least to the most any has.
    """
    if box.made_by_batch_id is None:
        return []
    batches = batches_in_container(session, box)
    if batches is not None and len(batches) == 1:
        return what_is_in_batch(session, batches[0])
    mix = session.get(Material, box.material_id)
    assert mix is not None
    whole = LineRead(mix, "all of it", low=10**9, high=10**9, basis=Basis.MASS)
    found = _one(session, whole, batches, frozenset())
    return [] if found == [whole] else found


def judge_container(
    session: Session, box: Container, material: Material, regime: Regime, today: date
) -> tuple[JudgedHazards, MixShares | None]:
    """The hazards of what stands in a container: if it was made here by what went in, else as it was bought.

    The classes it took over from what was poured in count beside, and those somebody wrote down of the mix.

    The shares are those of what went in; None where it was bought, or nobody can tell.

    Raises Invalid where the shares cannot be added up.
    """
    lines = what_is_in_container(session, box)
    if not lines:
        return with_what_went_in(judge_material(session, material, regime, today), box), None
    judged, shares = judge_lines(session, lines, regime, today)
    return with_what_went_in(more_severe_of(judged, material), box), shares


def _of_batch(session: Session, batch_id: int, above: frozenset[int]) -> list[LineRead]:
    used = _jars_used(session, [one for one in additions_of(session, batch_id) if not one.reversed])
    return _all(session, lines_of_batch(session, batch_id), used, above | {batch_id})


def _jars_used(session: Session, went_in: Iterable[Added]) -> dict[int, list[int] | None]:
    """The batches from whose jars each made mix was taken; None where one of them cannot be told."""
    used: dict[int, list[int] | None] = {}
    for one in went_in:
        if one.material.kind is not MaterialKind.MADE_MIX:
            continue
        number, box = one.row.material_id, one.container
        batches = batches_in_container(session, box) if box is not None else None
        held = used.get(number, [])
        used[number] = None if held is None or batches is None else sorted({*held, *batches})
    return used


def _all(
    session: Session,
    lines: Sequence[LineRead],
    used: dict[int, list[int] | None],
    above: frozenset[int],
) -> list[LineRead]:
    found: list[LineRead] = []
    for line in lines:
        number = line.material.id
        if line.material.kind is not MaterialKind.MADE_MIX or number is None:
            found.append(line)
            continue
        batches = used[number] if number in used else batches_of_material(session, line.material)
        found += _one(session, line, batches, above)
    return found


def _one(
    session: Session, line: LineRead, batches: Sequence[int] | None, above: frozenset[int]
) -> list[LineRead]:
    """``above``: the batches that are being looked into; one that comes back to itself is not told."""
    if not batches or above & set(batches):
        return [line]
    insides = [_inside(session, batch, above) for batch in batches]
    told = [inside for inside in insides if inside is not None]
    return expanded(line, told) if len(told) == len(insides) else [line]


def _inside(session: Session, batch_id: int, above: frozenset[int]) -> Inside | None:
    lines = _of_batch(session, batch_id, above)
    try:
        shares = shares_by_mass(lines)
    except Invalid:
        return None
    whole = (Decimal(0), HUNDRED)
    untold = {part.material.id or 0 for part in shares.parts if (part.low, part.high) == whole}
    untold |= {line.material.id or 0 for line in lines if line.high is None}
    guessed = {line.material.id or 0 for line in lines if line.not_measured}
    return Inside(shares.parts, frozenset(untold), frozenset(guessed))
