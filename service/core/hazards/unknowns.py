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
from service.core.hazards.regimes import CUT_OFF_PERCENT, Regime, Rules
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
                f"{gap.normalize():f} % of the mix is not told. It may hold anything: add what it "
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
                    f"The hazard classes of {line.name} ({line.share.normalize():f} %) are not "
                    "known. Copy them from section 2 or 3 "
                    "of its sheet; “examined, none” is an answer too.",
                    about=line.name,
                )
            )
        found += _of_line(line, mix, rules, classes)
    return found


def _of_line(line: Line, mix: Mix, rules: Rules, classes: Sequence[Hazard]) -> list[Finding]:
    found: list[Finding] = _derogations(line, rules)
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
                f"How poisonous {line.name} ({line.share.normalize():f} %) is by these ways is not "
                f"known: {', '.join(unknown_routes)}.",
                rules.acute_paragraph,
                line.name,
            )
        )
    return found


def _derogations(line: Line, rules: Rules) -> list[Finding]:
    """What makes an ingredient count for less than its classes alone: each is said."""
    one, found = line.ingredient, []
    if rules.own_limits_bind and one.limits:
        words = f"{line.name} was judged by limits of its own, as given."
        found.append(note("own-limits-used", words, "CLP Annex VI; CLP Article 10", line.name))
    if rules.percent_as_metal and one.metal_fraction is not None:
        share = line.counted.normalize()
        if one.metal:
            words = f"Of {line.name} only its {one.metal} counts, {share:f} % (Note 1)."
            found.append(note("metal-share-used", words, "CLP Annex VI, Note 1", line.name))
        else:
            words = f"Of {line.name} only a metal counts, {share:f} %, and which one is not told. Name it."
            found.append(unknown("metal-not-named", words, "CLP Annex VI, Note 1", line.name))
    if line.note_p_used:
        words = (
            f"{line.name} holds less than 0.1 % benzene as given, so Carc. 1B and Muta. 1B do not apply "
            "(Note P)."
        )
        found.append(note("note-p-used", words, "CLP Annex VI, Note P", line.name))
    if not rules.aquatic and any(family in AQUATIC for family in line.classes):
        words = f"{line.name} is dangerous to water. US hazard communication does not judge that."
        found.append(note("water-not-judged", words, about=line.name))
    return found


def statements_open(lines: Sequence[Line], rules: Rules, said: Sequence[Supplement]) -> list[Finding]:
    """Supplemental statements of ingredients whose meaning for the mix is not worked out here."""
    if not rules.supplements:
        return []
    return [
        unknown(
            "statement-not-worked-out",
            f"{line.name} ({line.share.normalize():f} %) carries {code}. What that means for the mix is not "
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


def share_unknown_note(route: Route, percent: Decimal, rules: Rules) -> Finding | None:
    """The sentence for a share of unknown acute toxicity, from 1 %."""
    if percent < STATED_FROM_PERCENT:
        return None
    return warn(
        f"unknown-{route.value}-toxicity",
        f"{percent.normalize():f} % of the mix consists of ingredients of unknown acute "
        f"{route.value} toxicity.",
        rules.acute_paragraph,
    )
