"""What a calculated flash point may be used for: it may always make a category more severe, seldom milder.

Doors: web/api/calc_flash_point.py, actions/judge_air.py.

Source: UN GHS 2.6.4.2 and CLP Annex I 2.6.4.2 (from memory); which families count as validated is our own
reading of the measured points kept in ``tests/published/flash_examples.json``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.findings import Finding
from service.core.hazards.classes import Family, Hazard
from service.core.hazards.flammable import BOILING_C, Flammability, flammability, flash_category
from service.core.hazards.lines import lines_of
from service.core.hazards.mix import Ingredient, Mix, MixForm
from service.core.hazards.reasons import Because
from service.core.hazards.regimes import RULES, Regime
from service.core.solvents.properties import GIVEN, Component, SolventFamily

MOST_VOLATILES: Final = 6
VALIDATED: Final = (
    frozenset({SolventFamily.ALKANE}),
    frozenset({SolventFamily.ALKANE, SolventFamily.ALCOHOL}),
    frozenset({SolventFamily.ALCOHOL, SolventFamily.WATER}),
)
"""Families for which measured points agree with both variants: alkanes, alkanes with an alcohol, alcohol with
water. Ketones, esters, glycol ethers, aromatics and terpenes with thinner have no measured points here."""


@dataclass(frozen=True)
class FlashCategory:
    """The category of one law.

    Args:
        category: "1" to "4", "" for none of them.
        may_be_used: whether the calculated value (or the measured one) decided it; False: the most flammable
            ingredient did.
        because: sentences, in order.
        findings: what is not known.
    """

    regime: Regime
    category: str
    may_be_used: bool
    because: tuple[str, ...]
    findings: tuple[Finding, ...]


def why_not_milder(components: Sequence[Component], *, complete: bool, separates: bool) -> tuple[str, ...]:
    """The conditions of the standard that these liquids do not meet, as sentences; none: all are met.

    Args:
        components: everything in the liquid, what stays in the film too.
        complete: the composition is told whole and every figure is known.
        separates: by one of the variants it may form two liquids.
    """
    volatile = [one for one in components if one.volatile is not False]
    families = frozenset(_counts_as(one) for one in volatile)
    found = []
    if not complete:
        found.append("The composition or a figure of it is not known whole.")
    if len(volatile) > MOST_VOLATILES:
        found.append(f"It has {len(volatile)} volatile liquids; the standard allows {MOST_VOLATILES}.")
    if len(volatile) < len(components):
        found.append("It holds things that stay in the film, for which the calculation was not validated.")
    if separates:
        found.append("It may separate into two liquids.")
    if not any(families <= held for held in VALIDATED):
        words = ", ".join(sorted("not known" if one is None else one.value for one in families))
        found.append(f"The calculation was never compared with tests for such a mix ({words}).")
    if any(one.lower_limit is None and not one.water for one in volatile):
        found.append("A lower limit of flammability is not known.")
    return tuple(found)


def _counts_as(component: Component) -> SolventFamily | None:
    """A petroleum thinner counts with the alkanes once its own flash point is told."""
    own = component.flash_point is not None and component.flash_point.source == GIVEN
    if component.family is SolventFamily.PETROLEUM_CUT and own:
        return SolventFamily.ALKANE
    return component.family


def flash_category_of(
    components: Sequence[Component],
    flash_c: float | None,
    regime: Regime,
    *,
    measured: bool = False,
    confirmed: bool = True,
    why_not: tuple[str, ...] = (),
) -> FlashCategory:
    """The category of a mix under one law.

    Args:
        components: those that are volatile.
        flash_c: calculated or measured closed-cup flash point of the whole in °C; ``None``: not known.
        measured: it was measured on this product, and then wins.
        confirmed: where it is milder than the most flammable ingredient, it wins only when confirmed.
        why_not: what forbids the calculation to make it milder; see ``why_not_milder``.
    """
    rules = RULES[regime]
    boiling = [one.boiling_point.value for one in components if one.boiling_point is not None]
    burning = [one for one in components if not one.water]
    lowest = min(boiling) if boiling and all(one.boiling_point for one in burning) else None
    mix = Mix(
        tuple(_as_ingredient(one) for one in burning),
        form=MixForm.LIQUID,
        flash_point_c=None if flash_c is None else Decimal(repr(round(flash_c, 6))),
        flash_point_is_calculated=not measured,
        flash_point_confirmed=measured and confirmed,
        calculation_allowed=not why_not,
        initial_boiling_point_c=None if lowest is None else Decimal(repr(lowest)),
    )
    found = flammability(lines_of(mix.ingredients, rules), mix, rules)
    codes = {one.code for one in found.findings}
    used = flash_c is not None and not codes & {"calculation-not-validated", "flash-point-to-confirm"}
    return FlashCategory(regime, _category(found), used, _because(found, why_not, codes), found.findings)


def _as_ingredient(component: Component) -> Ingredient:
    """A liquid with the category of its own flash point: 1 part each, for only the worst of them counts."""
    if component.flash_point is None:
        return Ingredient(component.name, Decimal(1), Decimal(1), ())
    flash = Decimal(repr(component.flash_point.value))
    boils_low = component.boiling_point is not None and component.boiling_point.value <= BOILING_C
    category = flash_category(flash)
    if category == "2" and boils_low:
        category = "1"
    hazards = (Hazard(Family.FLAMMABLE_LIQUID, category),) if category else ()
    return Ingredient(component.name, Decimal(1), Decimal(1), hazards)


def _category(found: Flammability) -> str:
    return found.reached[0].hazard.category if found.reached else ""


def _reason(because: Because) -> str:
    """A comparison with its figures, as somebody with a pencil needs it."""
    if because.sum is None or because.limit is None:
        return f"{because.rule} ({because.paragraph})"
    figure = because.sum.quantize(Decimal("0.1"))
    return f"{because.rule}: {figure:f} °C against {because.limit:f} °C ({because.paragraph})"


def _because(found: Flammability, why_not: tuple[str, ...], codes: set[str]) -> tuple[str, ...]:
    rules = tuple(_reason(one.because) for one in found.reached)
    told = tuple(one.sentence for one in found.findings)
    return (*rules, *told, *(why_not if "calculation-not-validated" in codes else ()))
