"""What is missing in a mix before anybody may rely on its classes: never counted as harmless.

Doors: core/hazards/classify.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, note, unknown, warn
from service.core.hazards.classes import AQUATIC, Family, Hazard, Route
from service.core.hazards.lines import BENZENE_PERCENT, Line
from service.core.hazards.mix import HUNDRED, Mix, MixForm
from service.core.hazards.reasons import in_words
from service.core.hazards.regimes import AQUATIC_CUT_OFF_PERCENT, CUT_OFF_PERCENT, Regime, Rules
from service.core.hazards.reliefs import reliefs
from service.core.hazards.supplements import Supplement, not_worked_out

# A gap of this many per cent and less is a rounding of the shares.
_ROUNDING_GAP: Final = Decimal("0.05")
STATED_FROM_PERCENT: Final = CUT_OFF_PERCENT


def not_told_percent(mix: Mix) -> Decimal:
    """Per cent of the mix that no ingredient accounts for; 0 within rounding.

    >>> from service.core.hazards.mix import Ingredient
    >>> not_told_percent(Mix((Ingredient("water", Decimal(90), Decimal(90), ()),)))
    Decimal('10')
    """
    gap = HUNDRED - sum((one.high for one in mix.ingredients), Decimal(0))
    return gap if gap > _ROUNDING_GAP else Decimal(0)


def missing(lines: Sequence[Line], mix: Mix, rules: Rules, classes: Sequence[Hazard]) -> list[Finding]:
    """One finding for each thing that is not known and could make the mix more dangerous than it is shown."""
    found: list[Finding] = []
    gap = not_told_percent(mix)
    if gap:
        found.append(
            unknown(
                "remainder-not-told",
                f"{in_words(gap)} % of the mix is not told. It may hold anything: add what it "
                "is, or ask for the composition.",
            )
        )
    if rules.regime is Regime.US_HCS and mix.form is MixForm.SOLID and mix.combustible_dust is None:
        found.append(
            note(
                "burning-dust-not-examined",
                "Whether its dust burns in air was not examined. Organic pigments, resins, carbon "
                "black and wood dust "
                "do; US law wants it on the label.",
                "29 CFR 1910.1200(c), combustible dust",
            )
        )
    total = sum((one.low for one in mix.ingredients), Decimal(0))
    if total > HUNDRED:
        found.append(
            note("shares-over-100", f"The shares add up to {total.normalize():f} %; taken for a rounding.")
        )
    for line in lines:
        if not line.known:
            found.append(
                unknown(
                    "hazards-not-known",
                    f"The hazard classes of {line.name} ({in_words(line.share)} %) are not "
                    "known. Copy them from section 2 or 3 "
                    "of its sheet; “examined, none” is an answer too.",
                    about=line.name,
                )
            )
        if line.differs:
            words = (
                f"{line.name} stands there more than once, with classes that are not the same. Of each kind "
                "the most severe counts; look at the sheets, one of them is wrong or old."
            )
            found.append(warn("classes-differ", words, about=line.name))
        found += _of_line(line, mix, rules, classes)
    return found


def _of_line(line: Line, mix: Mix, rules: Rules, classes: Sequence[Hazard]) -> list[Finding]:
    found: list[Finding] = reliefs(line, rules)
    one = line.ingredient
    if rules.aquatic and _m_could_matter(line, classes):
        found.append(
            unknown(
                "m-factor-not-known",
                f"{line.name} is very toxic in water and its M-factor is not given; 1 was taken. "
                "With a larger one the mix may be "
                "more dangerous to water.",
                "CLP Article 10(2), table 4.1.3",
                line.name,
            )
        )
    if rules.benzene_note and one.benzene_percent is None and _looks_like_note_p(line):
        found.append(
            note(
                "benzene-share-not-known",
                f"{line.name} counts as carcinogenic because its benzene share is not given. Below "
                f"{BENZENE_PERCENT} % those two "
                "classes need not apply (Note P): see section 3 of the sheet.",
                "CLP Annex VI, Note P",
                line.name,
            )
        )
    unknown_routes = sorted(route.value for route in one.unknown_acute)
    if line.known and unknown_routes and line.share >= CUT_OFF_PERCENT:
        found.append(
            unknown(
                "acute-toxicity-not-known",
                f"How poisonous {line.name} ({in_words(line.share)} %) is by these ways is not "
                f"known: {', '.join(unknown_routes)}.",
                rules.acute_paragraph,
                line.name,
            )
        )
    return found


def statements_open(lines: Sequence[Line], rules: Rules, said: Sequence[Supplement]) -> list[Finding]:
    """Supplemental statements of ingredients whose meaning for the mix is not worked out here."""
    if not rules.supplements:
        return []
    return [
        unknown(
            "statement-not-worked-out",
            f"{line.name} ({in_words(line.share)} %) carries {code}. What that means for the mix is not "
            "worked out here; see its sheet.",
            "CLP Annex I and II",
            line.name,
        )
        for line in lines
        for code in not_worked_out(line, said)
    ]


def _m_could_matter(line: Line, classes: Sequence[Hazard]) -> bool:
    one = line.ingredient
    if one.m_acute is not None or one.m_chronic is not None:
        return False
    for family in AQUATIC:
        severe = any(hazard.category == "1" for hazard in line.classes.get(family, ()))
        reached = any(hazard.family is family and hazard.category == "1" for hazard in classes)
        if severe and not reached:
            return True
    return False


def _looks_like_note_p(line: Line) -> bool:
    both = (Family.CARCINOGEN, Family.MUTAGEN)
    oily = Family.ASPIRATION in line.classes
    return oily and all(any(h.category == "1B" for h in line.classes.get(family, ())) for family in both)


def unknown_aquatic_percent(lines: Sequence[Line], not_told: Decimal, rules: Rules) -> Decimal:
    """Per cent of the mix of which nobody says what it does in water; 0 where a law does not judge that."""
    if not rules.aquatic:
        return Decimal(0)
    share = sum((line.share for line in lines if not line.known), not_told)
    return min(share, HUNDRED) if share >= AQUATIC_CUT_OFF_PERCENT else Decimal(0)


def aquatic_unknown_note(percent: Decimal) -> list[Finding]:
    """The sentence for a share of unknown danger to water (CLP Annex I 4.1.3.6.1)."""
    if not percent:
        return []
    return [
        warn(
            "unknown-aquatic-hazard",
            f"The mix contains {in_words(percent)} % of components with unknown hazards to the aquatic "
            "environment.",
            "UN GHS and CLP Annex I 4.1.3.6.1",
        )
    ]


def share_unknown_note(route: Route, percent: Decimal, rules: Rules) -> Finding | None:
    """The sentence for a share of unknown acute toxicity, from 1 %."""
    if percent < STATED_FROM_PERCENT:
        return None
    return warn(
        f"unknown-{route.value}-toxicity",
        f"{in_words(percent)} % of the mix consists of ingredients of unknown acute "
        f"{route.value} toxicity.",
        rules.acute_paragraph,
    )
