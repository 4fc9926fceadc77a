"""Shares by mass of the materials of a mix, from amounts as the bench writes them, and its hazards.

What is not known of an amount makes that material anything from nothing to the whole: the worse end counts,
and the answer is not complete.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from sqlmodel import Session

from service.actions.addition_amounts import span_of
from service.actions.describe_material import published_entry
from service.actions.judge_hazards import JudgedHazards, Part, judge_mix
from service.actions.mix_components import components_of_mix
from service.actions.read_amount import densities_of
from service.actions.read_recipe import LineRead
from service.core.additions import HowAdded, Span
from service.core.findings import Finding, Invalid, Verdict, note, unknown, warn
from service.core.hazards.classes import Family
from service.core.hazards.mix import HUNDRED, Ingredient, Mix, MixForm
from service.core.hazards.regimes import Regime
from service.core.material_entry import columns
from service.core.materials import Basis, Form
from service.core.quantities import CannotMeet, meeting_density, show_amount
from service.core.solvents.flash_judgement import judge_flash
from service.records.knowledge import known
from service.records.materials import Material
from service.records.mixing import RecipeLineRow, RecipeVersion
from service.records.mixing_queries import Added, additions_of, lines_of, returns_of
from service.records.stock import Movement

# Shares are rounded to so many places of a per cent, the upper end up, the lower end down.
_PLACES: Final = 4
_Span = tuple[Fraction, Fraction]


@dataclass(frozen=True)
class MixShares:
    """Each line's share of the whole, in the order of the lines, and what could not be worked out."""

    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]
    grams: tuple[Fraction, Fraction] | None = None
    """What all of it weighs, least and most; None where shares were written, or an amount is not known."""
    whole: Mix | None = None
    """What is known of the whole: its flash point, measured or calculated. Set by `judge_lines`."""


def shares_by_mass(lines: Sequence[LineRead], shares_by: Basis | None = None) -> MixShares:
    """The share by mass of each line, lowest and highest.

    Args:
        shares_by: how parts and per cent are measured where a line does not say it; None = by mass.

    Raises Invalid where per cent add up to more than 100, or there is no line.
    """
    if not lines:
        raise Invalid("Name at least one material with its amount.")
    weights, found = weights_of(lines, shares_by)
    in_shares = any(line.share is not None for line in lines)
    in_percent = in_shares and all(line.percent for line in lines if line.share is not None)
    by_mass = all((line.share_by or shares_by) in (None, Basis.MASS) for line in lines if line.share)
    spans = _of_hundred(weights) if in_percent and by_mass else _of_each_other(weights)
    parts = tuple(
        Part(line.material, _percent(low, up=low == high), min(_percent(high, up=True), HUNDRED))
        for line, (low, high) in zip(lines, spans, strict=True)
    )
    return MixShares(parts, tuple(found), None if in_shares else _grams(weights))


def weights_of(
    lines: Sequence[LineRead], shares_by: Basis | None = None
) -> tuple[list[tuple[Fraction, Fraction] | None], list[Finding]]:
    """What each line weighs, least and most: mg, or parts where shares were written; None = not known."""
    found: list[Finding] = []
    in_shares = any(line.share is not None for line in lines)
    in_percent = in_shares and all(line.percent for line in lines if line.share is not None)
    return [_weight(line, in_shares, in_percent, shares_by, found) for line in lines], found


def _grams(milligrams: Sequence[_Span | None]) -> tuple[Fraction, Fraction] | None:
    told = [span for span in milligrams if span is not None]
    if len(told) < len(milligrams):
        return None
    return sum((low for low, _ in told), Fraction(0)) / 1000, sum((h for _, h in told), Fraction(0)) / 1000


def judge_lines(
    session: Session, lines: Sequence[LineRead], regime: Regime, today: date, *,
    shares_by: Basis | None = None, measured: Mix | None = None,
) -> tuple[JudgedHazards, MixShares]:  # fmt: skip
    """The hazards of a mix of these lines.

    Args:
        measured: what is known of the whole; its ingredients and its form are not looked at.

    Raises Invalid.
    """
    shares = shares_by_mass(lines, shares_by)
    nothing = Mix((Ingredient("the mix", HUNDRED, HUNDRED, None),))
    whole = replace(measured or nothing, form=form_of(lines))
    whole, calculated = _with_calculated_flash(session, shares, regime, whole)
    judged = judge_mix(session, shares.parts, regime, whole, today)
    said = _said_not_to_flash(judged) if whole.does_not_flash else []
    verdict = Verdict.of([*judged.verdict, *shares.findings, *said, *calculated])
    return replace(judged, verdict=verdict), replace(shares, whole=whole)


def _with_calculated_flash(
    session: Session, shares: MixShares, regime: Regime, whole: Mix
) -> tuple[Mix, list[Finding]]:
    """A liquid whose flash point nobody told gets the calculated one, where it can be calculated at all.

    It may make the category more severe at any time; the rules let it make it milder where the standard does.
    """
    if whole.flash_point_c is not None or whole.does_not_flash or whole.form is MixForm.SOLID:
        return whole, []
    mix = components_of_mix(session, shares.parts, regime)
    judged = judge_flash(mix.components, (*shares.findings, *mix.findings))
    if judged.flash_c is None:
        return whole, []
    flash = Decimal(str(round(judged.flash_c, 1)))
    boiling = whole.initial_boiling_point_c
    if boiling is None and judged.initial_boiling_c is not None:
        boiling = Decimal(str(judged.initial_boiling_c))
    words = f"Its flash point was calculated: about {flash:f} °C. The page Air shows how; a closed-cup test "
    said = note("flash-calculated", words + "counts before it.", "UN GHS 2.6.4.2")
    calculated = replace(
        whole,
        flash_point_c=flash,
        flash_point_is_calculated=True,
        calculation_allowed=not judged.why_not,
        initial_boiling_point_c=boiling,
    )
    return calculated, [said]


def form_of(lines: Sequence[LineRead]) -> MixForm:
    """Dry only where everything in it is: one liquid, and the rules for liquids hold."""
    dry = all(line.material.form in (Form.POWDER, Form.SOLID, Form.PIECES) for line in lines)
    return MixForm.SOLID if dry else MixForm.LIQUID


def _said_not_to_flash(judged: JudgedHazards) -> list[Finding]:
    burning = [
        one.name
        for one in judged.composition.ingredients
        if any(hazard.family is Family.FLAMMABLE_LIQUID for hazard in one.hazards or ())
    ]
    words = "It was said that the mix has no flash point. These in it are flammable, so have it tested: "
    names = ", ".join(dict.fromkeys(burning))
    return [warn("said-not-to-flash", f"{words}{names}.", "UN GHS 2.6")] if burning else []


def lines_of_recipe(session: Session, version: RecipeVersion) -> list[LineRead]:
    """The lines of one version of a recipe as they were written."""
    return [_of_row(row, material, version) for row, material in lines_of(session, version.id or 0)]


def lines_of_batch(session: Session, batch_id: int) -> list[LineRead]:
    """What really went into a batch, material by material, less what was put back."""
    went_in = [one for one in additions_of(session, batch_id) if not one.reversed]
    return lines_of_additions(session, went_in, returns_of(session, batch_id))


def lines_of_additions(
    session: Session, went_in: Sequence[Added], came_back: Sequence[tuple[Movement, Material]]
) -> list[LineRead]:
    """Some additions of a batch material by material, less what of them was put back."""
    together: dict[int, LineRead] = {}
    for one in went_in:
        line = line_of_addition(one, span_of(session, one))
        held = together.get(one.row.material_id)
        together[one.row.material_id] = line if held is None else with_more(held, line)
    for movement, material in came_back:
        held = together.get(material.id or 0)
        if held is not None and held.high is not None:
            left = Span(held.low or 0, held.high).less(movement.change)
            written = f"{held.written}, less what came back"
            together[material.id or 0] = replace(held, low=left.low, high=left.high, written=written)
    return [line for line in together.values() if line.high != 0]


def line_of_addition(added: Added, span: Span) -> LineRead:
    """One addition as a line of the mix: of what nobody measured, anything from nothing to the most."""
    low = span.low if span.high is not None else None
    unmeasured = added.row.how == HowAdded.NOT_MEASURED and not span.known
    return LineRead(
        added.material, added.row.written, low=low, high=span.high, basis=added.row.basis,
        not_measured=unmeasured,
    )  # fmt: skip


def material_of_published(key: str) -> Material:
    """A published row as a material that is in no book.

    Raises Invalid for a key that is not published.
    """
    row = known(key)
    if row is None:
        raise Invalid("Choose a material from the list.")
    cas = "; ".join(row.cas)
    return Material(
        name=row.name,
        kind=row.kind,
        form=row.form,
        known_key=row.key,
        cas=cas,
        **columns(published_entry(row)),
    )


def _of_row(row: RecipeLineRow, material: Material, version: RecipeVersion) -> LineRead:
    share = None
    if row.share_low is not None and row.share_high is not None:
        share = row.share_low, row.share_high
    return LineRead(
        material,
        row.written,
        low=row.low,
        high=row.high,
        basis=row.basis,
        share=share,
        share_by=version.shares_by,
        percent=row.unit_key == "percent",
        to_suit=row.to_suit,
    )


def with_more(one: LineRead, other: LineRead) -> LineRead:
    """Two amounts of one material as one line."""
    written = ", ".join(words for words in (one.written, other.written) if words)
    both = replace(one, written=written, not_measured=one.not_measured or other.not_measured)
    if one.basis is not other.basis or one.high is None or other.high is None:
        return replace(both, low=None, high=None)
    low = (one.high if one.low is None else one.low) + (other.high if other.low is None else other.low)
    return replace(both, low=low, high=one.high + other.high)


def _weight(
    line: LineRead, in_shares: bool, in_percent: bool, shares_by: Basis | None, found: list[Finding]
) -> _Span | None:
    """What a line weighs beside the others; None = not known, and a finding says why."""
    name = line.material.name
    if in_shares and (line.share is None or (line.percent and not in_percent)):
        if line.to_suit and line.high is None:
            found.append(_to_suit(name))
        else:
            words = f"{name} is not written in the same way as the others: write all lines as amounts, all "
            words += "in parts, or all in per cent. Until then it counts as anything up to the whole."
            found.append(unknown("shares-and-amounts", words, about=name))
        return None
    if line.share is not None:
        low, high = line.share
        measured_by = line.share_by or shares_by or Basis.MASS
        return _by_density(line, measured_by, (Fraction(low), Fraction(high)), found)
    if line.high is None or line.basis is None:
        found.append(_to_suit(name) if line.to_suit else _no_amount(name))
        return None
    if line.not_measured:
        found.append(_not_measured(line))
    low_end = Fraction(0) if line.to_suit else Fraction(line.low if line.low is not None else line.high)
    return _by_density(line, line.basis, (low_end, Fraction(line.high)), found)


def _by_density(line: LineRead, basis: Basis, span: _Span, found: list[Finding]) -> _Span | None:
    if basis is Basis.MASS:
        return span
    material = line.material
    try:
        low, high, _ = meeting_density(
            basis, Basis.MASS, densities_of(material), form=material.form, name=material.name
        )
    except CannotMeet as lack:
        found.append(lack.finding)
        return None
    return span[0] * Fraction(low), span[1] * Fraction(high)


def _of_hundred(percents: Sequence[_Span | None]) -> list[_Span]:
    """Shares in per cent as they are; what is not known is at most what the others leave."""
    least = sum((span[0] for span in percents if span), Fraction(0))
    if least > 100 + Fraction(1, 2):
        words = f"The per cent add up to {_percent(least, up=True):f} or more, more than 100. "
        raise Invalid(words + "Look at the largest first.")
    rest = max(100 - least, Fraction(0))
    return [(min(span[0], Fraction(100)), min(span[1], Fraction(100))) if span else (Fraction(0), rest)
            for span in percents]  # fmt: skip


def _of_each_other(weights: Sequence[_Span | None]) -> list[_Span]:
    """A line is largest when it takes its upper end and all others their lower one."""
    told = [span for span in weights if span]
    least = sum((span[0] for span in told), Fraction(0))
    most = sum((span[1] for span in told), Fraction(0))
    if most == 0 and len(told) == len(weights):
        raise Invalid("The amounts add up to nothing. Write how much of each.")
    all_told = len(told) == len(weights)
    spans: list[_Span] = []
    for span in weights:
        if span is None:
            spans.append((Fraction(0), Fraction(100)))
            continue
        low, high = span
        whole_high, whole_low = high + least - low, low + most - high
        spans.append(
            (
                100 * low / whole_low if all_told and whole_low else Fraction(0),
                100 * high / whole_high if whole_high else Fraction(0),
            )
        )
    return spans


def _percent(share: Fraction, *, up: bool) -> Decimal:
    whole = ceil(share * 10**_PLACES) if up else floor(share * 10**_PLACES)
    return Decimal(whole).scaleb(-_PLACES).normalize()


def _to_suit(name: str) -> Finding:
    words = f"{name} goes in to suit, and nobody wrote the most. It counts as anything up to the whole: "
    return unknown("no-upper-amount", words + "write “to suit, at most …”.", about=name)


def _no_amount(name: str) -> Finding:
    words = f"How much {name} went in is not known. It counts as anything up to the whole: weigh it."
    return unknown("amount-not-known", words, about=name)


def _not_measured(line: LineRead) -> Finding:
    assert line.high is not None and line.basis is not None
    most, least = show_amount(line.high, line.basis), show_amount(line.low or 0, line.basis)
    span = f"from {least} to {most}" if line.low else f"anything up to {most}"
    words = f"How much {line.material.name} went in was not measured. It counts as {span}, whichever is the "
    words += "worse: count what is left in its container."
    return unknown("not-measured", words, about=line.material.name)
