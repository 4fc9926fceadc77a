"""Skin and eye where sums do not apply: extreme pH of the mix, and ingredients that act otherwise.

Doors: core/hazards/classify.py.

Sources: CLP Annex I 3.2.3.1.2 and 3.3.3.1.2 (pH), tables 3.2.4 and 3.3.4 (from memory); HCS A.2.4, A.3.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, unknown
from service.core.hazards.classes import CORROSIVE, Family, Hazard
from service.core.hazards.lines import Line
from service.core.hazards.mix import Mix
from service.core.hazards.reasons import Because, Reached, in_words
from service.core.hazards.regimes import CUT_OFF_PERCENT, PH_ACID, PH_BASE, Rules
from service.core.sources import Provenance

IRRITANT_PERCENT: Final = Decimal(3)
# So much of a strong base alone makes water corrosive by its pH; less is no question.
TRACE_PERCENT: Final = Decimal("0.01")
_TABLES: Final = ((Family.SKIN, "3.2.4"), (Family.EYE, "3.3.4"))


def extreme(ph: Decimal | None) -> bool:
    """Whether a pH alone makes it corrosive: 2 and less, 11.5 and more.

    >>> extreme(Decimal("11.5")), extreme(Decimal("2.1")), extreme(None)
    (True, False, False)
    """
    return ph is not None and (ph <= PH_ACID or ph >= PH_BASE)


def by_ph(mix: Mix, rules: Rules) -> list[Reached]:
    """Corrosive to skin and eye by the pH of the whole; a buffer test that says otherwise is a keeper's to
    record.
    """
    if not extreme(mix.ph):
        return []
    limit = PH_ACID if mix.ph is not None and mix.ph <= PH_ACID else PH_BASE
    because = Because("pH of the mix", rules.ph_paragraph, mix.ph, limit, (), "pH")
    return [Reached(Hazard(Family.SKIN, "1"), because), Reached(Hazard(Family.EYE, "1"), because)]


def ph_open(
    lines: Sequence[Line], mix: Mix, rules: Rules, classes: Sequence[Hazard]
) -> list[Finding]:
    """Something corrosive of which nobody said whether it is an acid or base, in a mix of unknown pH.

    The sums count it as one that adds up, the milder reading. Of a substance with limits of its own the law
    has said what counts; in a mix that is corrosive anyway the pH changes nothing.
    """
    if mix.ph is not None or any(one.family is Family.SKIN and one.category in CORROSIVE for one in classes):
        return []
    sharp = [
        line
        for line in lines
        if line.share >= TRACE_PERCENT
        and line.ingredient.additive is None
        and line.ingredient.ph is None
        and not (rules.own_limits_bind and Family.SKIN in line.limits)
        and any(hazard.category in CORROSIVE for hazard in line.classes.get(Family.SKIN, ()))
    ]
    if not sharp:
        return []
    names = ", ".join(f"{line.name} ({in_words(line.share)} %)" for line in sharp)
    words = (
        f"The pH of the mix is not known, and it holds something corrosive: {names}. An acid or base does "
        "not add up as the sums do: at pH 2 and less or 11.5 and more the mix burns skin and eyes, whatever "
        "they say. Measure it, or say that the sums apply to it."
    )
    return [unknown("ph-not-known", words, rules.ph_paragraph, sharp[0].name)]


def by_single_ingredient(lines: Sequence[Line], rules: Rules) -> list[Reached]:
    """Ingredients to which the sums do not apply, each against 1 % (corrosive) or 3 % (irritant)."""
    found: list[Reached] = []
    for line in lines:
        one = line.ingredient
        sharp = extreme(one.ph) and one.additive is not True
        if one.additive is not False and not sharp:
            continue
        for family, table in _TABLES:
            paragraph = (
                f"UN GHS and CLP table {table}" if rules.regime != "us-hcs" else f"HCS, as GHS table {table}"
            )
            categories = {hazard.category for hazard in line.classes.get(family, ())}
            severe = bool(categories & CORROSIVE) or sharp
            if severe and line.share >= CUT_OFF_PERCENT:
                limit, category = CUT_OFF_PERCENT, "1"
            elif (categories - CORROSIVE or severe) and line.share >= IRRITANT_PERCENT:
                limit, category = IRRITANT_PERCENT, "2"
            else:
                continue
            rule = "an acid or base of extreme pH" if sharp else "an ingredient that does not add up"
            because = Because(rule, paragraph, line.share, limit, (line.name,), provenance=Provenance.MEMORY)
            found.append(Reached(Hazard(family, category), because))
    return found
