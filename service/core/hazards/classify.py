"""Classifies a mix: from its ingredients to hazard classes, each with its reasons, under one of three laws.

Doors: actions/judge_hazards.py, web/api/calc_classify.py.

The rules are those for calculation from ingredients. Test data on the whole mix and bridging from a tested
one go before them and
are a keeper's to record. The safety data sheet and the law in force decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from service.core.findings import Finding, Verdict
from service.core.hazards.acute import AcuteToxicity, acute_toxicity
from service.core.hazards.aspiration import thick, thin_enough
from service.core.hazards.burns import by_ph, by_single_ingredient, ph_open
from service.core.hazards.classes import Family, Hazard, Route
from service.core.hazards.cut_offs import small_shares
from service.core.hazards.flammable import flammability
from service.core.hazards.lines import Line, lines_of
from service.core.hazards.mix import Mix
from service.core.hazards.physical import physical
from service.core.hazards.reasons import Because, Reached
from service.core.hazards.regimes import RULES, Regime, Rules
from service.core.hazards.singly import join_reached, singly
from service.core.hazards.sums import Summed, add_up, skin_letter
from service.core.hazards.supplements import Supplement, supplements
from service.core.hazards.unknowns import (
    aquatic_unknown_note,
    missing,
    not_told_percent,
    share_unknown_note,
    statements_open,
    unknown_aquatic_percent,
)


@dataclass(frozen=True)
class Classified:
    """One hazard class of the mix and every reason for it, the first by the strictest sum."""

    hazard: Hazard
    because: tuple[Because, ...]


@dataclass(frozen=True)
class Classification:
    """The answer: classes, what was summed and stayed below its limit, estimates, statements, what is
    missing.
    """

    regime: Regime
    classes: tuple[Classified, ...]
    below: tuple[Because, ...]
    acute: AcuteToxicity
    supplements: tuple[Supplement, ...]
    verdict: Verdict
    not_told_percent: Decimal
    unknown_aquatic_percent: Decimal = Decimal(0)

    @property
    def hazards(self) -> tuple[Hazard, ...]:
        return tuple(one.hazard for one in self.classes)

    @property
    def unknown_acute_percent(self) -> dict[Route, Decimal]:
        return self.acute.unknown_percent


def classify(mix: Mix, regime: Regime) -> Classification:
    """Classifies a mix under one law.

    Shares of one substance are summed before any limit is compared. Of every range the more severe end
    counts. What is not known
    is a finding, and the result is complete only without one.

    Raises Invalid where two lines of one substance contradict each other.

    >>> from service.core.hazards.mix import Ingredient
    >>> from service.core.hazards.read_class import read_class
    >>> lye = Ingredient("lye", Decimal(6), Decimal(6), read_class("Skin Corr. 1A").hazards)
    >>> water = Ingredient("water", Decimal(94), Decimal(94), ())
    >>> [one.hazard.text for one in classify(Mix((lye, water), does_not_flash=True), Regime.EU_CLP).classes]
    ['Skin Corr. 1A H314', 'Eye Dam. 1 H318']
    """
    rules = RULES[regime]
    lines = lines_of(mix.ingredients, rules)
    gap = not_told_percent(mix)
    flammable = flammability(lines, mix, rules)
    other_physical, findings = physical(lines)
    acute = acute_toxicity(lines, mix, rules, gap)
    summed, below, more = _summed(lines, mix, rules)
    alone = [*by_ph(mix, rules), *by_single_ingredient(lines, rules), *singly(lines, rules)]
    reached = [*flammable.reached, *other_physical, *acute.reached, *summed, *alone]
    classes = _in_order(reached, rules)
    hazards = [one.hazard for one in classes]
    findings += [*flammable.findings, *acute.findings, *more, *missing(lines, mix, rules, hazards)]
    findings += [*ph_open(lines, mix, rules, hazards), *_unknown_notes(acute, rules)]
    aquatic = unknown_aquatic_percent(lines, gap, rules)
    findings += aquatic_unknown_note(aquatic)
    said = supplements(lines, mix, rules, hazards)
    findings += statements_open(lines, rules, said)
    return Classification(
        regime,
        tuple(classes),
        tuple(below),
        acute,
        said,
        Verdict.of(findings),
        gap,
        aquatic,
    )


def _summed(
    lines: Sequence[Line], mix: Mix, rules: Rules
) -> tuple[list[Reached], list[Because], list[Finding]]:
    """Every additive family: the first row that is reached, and the sums that were not."""
    reached: list[Reached] = []
    below: list[Because] = []
    findings: list[Finding] = []
    done: set[tuple[Family, str]] = set()
    missed: set[tuple[Family, str]] = set()
    for row in rules.sums:
        if (row.family, row.effect) in done:
            continue
        summed = add_up(lines, row, rules)
        if summed is None:
            continue
        if summed.reached and row.family is Family.ASPIRATION:
            summed, finding = thin_enough(summed, mix)
            findings += [finding] if finding else []
        if summed.missed and (row.family, row.effect) not in missed and not thick(row, mix):
            missed.add((row.family, row.effect))
            below.append(summed.missed.because)
            findings.append(small_shares(summed, summed.missed))
        if not summed.reached:
            below += [summed.because] if summed.lines else []
            continue
        done.add((row.family, row.effect))
        reached.append(summed.as_reached(Hazard(row.family, _category(summed, rules), None, row.effect)))
    return reached, below, findings


def _category(summed: Summed, rules: Rules) -> str:
    row = summed.row
    if row.family is Family.SKIN and row.mix == "1":
        return skin_letter(summed, rules)
    if row.family is Family.EYE and row.mix == "2" and rules.eye_letters:
        return "2B" if _only_mild_to_eyes(summed) else "2A"
    return row.mix


def _only_mild_to_eyes(summed: Summed) -> bool:
    """GHS 3.3.3: 2B only where every counted ingredient is 2B."""
    return all(
        ({h.category for h in line.classes.get(Family.EYE, ())} == {"2B"} and Family.SKIN not in line.classes)
        or (
            {h.category for h in line.classes.get(Family.EYE, ())} == {"2B"}
            and all(not h.category.startswith("1") for h in line.classes.get(Family.SKIN, ()))
        )
        for line in summed.lines
    )


_ORDER = {family: place for place, family in enumerate(Family)}


def _in_order(reached: Sequence[Reached], rules: Rules) -> list[Classified]:
    """The most severe class of each kind in the order of the standard; a corrosive mix is an eye hazard
    too.
    """
    joined = [Classified(hazard, because) for hazard, because in join_reached(reached, rules)]
    burns = next(
        (one for one in joined if one.hazard.family is Family.SKIN and one.hazard.category[0] == "1"), None
    )
    if burns and not any(one.hazard.family is Family.EYE and one.hazard.category == "1" for one in joined):
        joined = [one for one in joined if one.hazard.family is not Family.EYE]
        because = replace(burns.because[0], rule="corrosive to skin, so to the eye as well")
        joined.append(Classified(Hazard(Family.EYE, "1"), (because,)))
    return sorted(joined, key=lambda one: (_ORDER[one.hazard.family], one.hazard.kind[1], one.hazard.code))


def _unknown_notes(acute: AcuteToxicity, rules: Rules) -> list[Finding]:
    notes = [share_unknown_note(route, percent, rules) for route, percent in acute.unknown_percent.items()]
    return [one for one in notes if one is not None]
