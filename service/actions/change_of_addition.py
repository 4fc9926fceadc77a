"""What one addition changed in a batch, or would change: the mix before and after, by the same rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from math import ceil, floor

from sqlmodel import Session

from service.actions.add_to_batch import AddAsked
from service.actions.film_part import density_of, read_material
from service.actions.judge_film import judge_film
from service.actions.judge_hazards import JudgedHazards
from service.actions.judge_never_with import answered, judge_pot
from service.actions.label_judged import label_of_judged
from service.actions.mix_of_materials import (
    MixShares,
    judge_lines,
    lines_of_additions,
    lines_of_batch,
    weights_of,
    with_more,
)
from service.actions.rag_duty import blocked_by
from service.actions.read_addition import read_addition
from service.actions.read_recipe import LineRead
from service.core.access import Actor
from service.core.additions import HowAdded, Span
from service.core.findings import Invalid, Severity, Verdict
from service.core.hazards.label import LabelFor
from service.core.hazards.mix import Audience
from service.core.hazards.regimes import Regime
from service.core.materials import Basis
from service.core.mix_change import NOTHING, TAKING_BACK, MixChange, MixState, compare
from service.core.never_with import without_answered
from service.records.material_queries import counts_self_heating, the_material
from service.records.mixing_queries import Added, additions_of, returns_of
from service.records.stock_queries import Held, container_by_code, material_of


@dataclass(frozen=True)
class Changed:
    """What one act of adding changed: its additions of one material, and the change; None where they were
    all taken back and count for nothing.
    """

    additions: tuple[Added, ...]
    change: MixChange | None


def change_of_addition(
    session: Session, batch_id: int, addition_id: int, regime: Regime, today: date
) -> Changed:
    """What one addition changed, with those of the same material booked with it; what was taken back since
    counts in neither.

    ``addition_id`` is one of the batch's.
    """
    every = additions_of(session, batch_id)
    at = next(n for n, one in enumerate(every) if one.row.id == addition_id)
    together = [one for one in every if _same_act(one, every[at])]
    standing = [one for one in together if not one.reversed]
    if not standing:
        return Changed(tuple(together), None)
    first = min(one.row.id or 0 for one in together)
    earlier = [one for one in every if (one.row.id or 0) < first and not one.reversed]
    back = returns_of(session, batch_id)
    if any((one.row.id or 0) > first and one not in together and not one.reversed for one in every):
        until = max((one.movement.id or 0 for one in [*earlier, *standing] if one.movement), default=0)
        back = [row for row in back if (row[0].id or 0) < until]
    before, after = (
        state_of(session, lines_of_additions(session, side, back), _heats(session, side), regime, today)
        for side in (earlier, [*earlier, *standing])
    )
    return Changed(tuple(together), compare(before, after))


def change_of_undo(
    session: Session, batch_id: int, addition_id: int, regime: Regime, today: date
) -> MixChange:
    """What taking one addition back made of the batch, or would: with it and without it, as things stand.

    ``addition_id`` is one of the batch's.
    """
    every = additions_of(session, batch_id)
    back = returns_of(session, batch_id)
    without = [one for one in every if not one.reversed and one.row.id != addition_id]
    with_it = [one for one in every if not one.reversed or one.row.id == addition_id]
    before, after = (
        state_of(session, lines_of_additions(session, side, back), _heats(session, side), regime, today)
        for side in (with_it, without)
    )
    return compare(before, after, TAKING_BACK)


def change_if_added(
    session: Session, actor: Actor, now: datetime, today: date, asked: AddAsked, regime: Regime
) -> MixChange:
    """What an addition would change; books nothing and asks nobody whether it may be drawn.

    Raises:
        NotFound, Ambiguous, CannotMeet, Invalid: as adding it would.
    """
    held: Held | None = None
    if asked.code.strip():
        box = container_by_code(session, asked.code)
        held = Held(box, material_of(session, box))
    elif asked.material_id is None:
        words = "Scan the container, or choose the material."
        raise Invalid(words, {"code": words})
    material = held.material if held is not None else the_material(session, asked.material_id or 0)
    read = read_addition(session, actor, material, held, asked, judged_at=now)
    span = Span(read.amount, read.amount) if read.amount is not None else Span(0, read.at_most)
    line = LineRead(
        material, read.written, low=span.low if span.high is not None else None, high=span.high,
        basis=read.basis, not_measured=read.how is HowAdded.NOT_MEASURED,
    )  # fmt: skip
    lines = lines_of_batch(session, asked.batch_id)
    went_in = [one for one in additions_of(session, asked.batch_id) if not one.reversed]
    heats = _heats(session, went_in)
    before = state_of(session, lines, heats, regime, today)
    grown = [with_more(one, line) if one.material.id == material.id else one for one in lines]
    if not any(one.material.id == material.id for one in lines):
        grown.append(line)
    of_it = counts_self_heating(session, material, held.container if held else None)
    blocked = blocked_by(session, now) if of_it else Verdict()
    heats = heats or of_it
    change = compare(before, state_of(session, grown, heats, regime, today))
    met = judge_pot(session, asked.batch_id, material, [held.container] if held else ())
    never = without_answered(met, answered(session, asked.batch_id))
    return replace(change, verdict=change.verdict + never + blocked)


def state_of(
    session: Session, lines: Sequence[LineRead], rags_heat: bool, regime: Regime, today: date
) -> MixState:
    """A mix of these lines at one moment, its hazards judged."""
    if not lines:
        return NOTHING
    volume, lacks = volume_of_lines(lines)
    mass = mass_of_lines(lines)
    try:
        judged, shares = judge_lines(session, lines, regime, today)
    except Invalid as wrong:
        return MixState(
            mass=mass, volume=volume, volume_lacks=lacks, rags_heat=rags_heat, why_not=wrong.sentence
        )
    film = judge_film(session, lines)
    return replace(
        _judged(judged, shares, mass, (volume, lacks), rags_heat),
        pigment_percent=film.film.pigment_mass_percent,
        held=film.reading,
    )


def _judged(
    judged: JudgedHazards, shares: MixShares, mass: Span, volume: tuple[Span | None, tuple[str, ...]],
    rags_heat: bool,
) -> MixState:  # fmt: skip
    label = label_of_judged(judged, volume_ml=None, audience=Audience.PUBLIC, label_for=LabelFor.SUPPLY)
    whole = shares.whole
    return MixState(
        mass=mass,
        volume=volume[0],
        volume_lacks=volume[1],
        rags_heat=rags_heat,
        flash_c=whole.flash_point_c if whole else None,
        flash_calculated=whole.flash_point_is_calculated if whole else False,
        hazards=judged.hazards,
        pictograms=label.pictograms,
        signal=label.signal_word,
        statements=label.hazard_statements,
        unknowns=tuple(one for one in judged.verdict if one.severity is Severity.UNKNOWN),
    )


def _same_act(one: Added, other: Added) -> bool:
    if one.row.id == other.row.id:
        return True
    if one.movement is None or other.movement is None or one.material.id != other.material.id:
        return False
    return one.movement.posting_id == other.movement.posting_id


def _heats(session: Session, added: Sequence[Added]) -> bool:
    return any(counts_self_heating(session, one.material, one.container) for one in added)


def mass_of_lines(lines: Sequence[LineRead]) -> Span:
    """All of it in mg; what nobody knows is nothing at least, and leaves the most open."""
    weights, _ = weights_of(lines)
    told = [span for span in weights if span is not None]
    low = floor(sum((one[0] for one in told), Fraction(0)))
    if len(told) < len(weights):
        return Span(low, None)
    return Span(low, ceil(sum((one[1] for one in told), Fraction(0))))


def volume_of_lines(lines: Sequence[LineRead]) -> tuple[Span | None, tuple[str, ...]]:
    """All of it in microlitres, as if volumes added up; or the names of what has no density.

    A powder takes the room of its grains, not that of the heap it lies in.
    """
    weights, _ = weights_of(lines)
    low, high, open_ended, lacks = Fraction(0), Fraction(0), False, []
    for line, weight in zip(lines, weights, strict=True):
        density = density_of(read_material(line.material))
        liquid = line.material.form.value in ("liquid", "paste")
        if line.basis is Basis.VOLUME and liquid:
            least, most = line.low if line.low is not None else line.high or 0, line.high
            low += least
            high += most or 0
            open_ended |= most is None
        elif density is None:
            lacks.append(line.material.name)
        elif weight is None:
            open_ended = True
        else:
            low += weight[0] / Fraction(density[1])
            high += weight[1] / Fraction(density[0])
    if lacks:
        return None, tuple(dict.fromkeys(lacks))
    return Span(floor(low), None if open_ended else ceil(high)), ()
