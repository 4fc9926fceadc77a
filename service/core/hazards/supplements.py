"""What a law adds to a label beside the hazard classes: EUH statements in the EU, burning dust in the US.

Doors: core/hazards/classify.py, core/hazards/label.py.

Sources: CLP Annex II parts 1 and 2 and table 3.4.6, consolidation of 1 September 2025; the share from which
EUH066 passes to a mix has
no figure in the law: 10 % is this program's own, on the strict side of what is common.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from service.core.hazards.classes import Family, Hazard
from service.core.hazards.lines import Line
from service.core.hazards.mix import Audience, Mix, MixForm
from service.core.hazards.named_substances import lead_fraction, statements_of
from service.core.hazards.reasons import in_words
from service.core.hazards.regimes import Regime, Rules

_SENSITISERS: Final = (Family.RESPIRATORY_SENSITISER, Family.SKIN_SENSITISER)
_ELICITS: Final = {"1A": Decimal("0.01"), "1": Decimal("0.1"), "1B": Decimal("0.1")}
_CMR: Final = (Family.REPRODUCTIVE, Family.LACTATION)
LEAD_PERCENT: Final = Decimal("0.15")
DRY_SKIN_PERCENT: Final = Decimal(10)
# No statement of its own: these names stand on the label beside the classes.
NAMED: Final = "contains"
_CARRIED: Final = ("EUH014", "EUH018", "EUH019", "EUH070", "EUH204", "EUH205")
# Annex II 2.4 and 2.5 know no least share: from where a sensitiser has to be named, as a rule.
_NAMED_FROM_PERCENT: Final = {"EUH204": Decimal("0.1"), "EUH205": Decimal("0.1")}


@dataclass(frozen=True)
class Supplement:
    """One supplemental statement (or ``NAMED``), whom it names, and why it stands there."""

    code: str
    names: tuple[str, ...]
    because: str
    paragraph: str


BURNING_DUST: Final = "OSHA-CD"
_US_DUST: Final = Supplement(
    BURNING_DUST, (), "its dust was examined and burns in air", "29 CFR 1910.1200 C.4.30, from memory"
)


def supplements(
    lines: Sequence[Line], mix: Mix, rules: Rules, classes: Sequence[Hazard]
) -> tuple[Supplement, ...]:
    """The EUH statements of a mix in the EU, the statement on burning dust in the US, each with its
    reason.
    """
    if not rules.supplements:
        dusty = rules.regime is Regime.US_HCS and mix.form is MixForm.SOLID and mix.combustible_dust
        return (_US_DUST,) if dusty else ()
    families = {hazard.family for hazard in classes}
    found = [_allergens(lines, families), _lead(lines), *_carried(lines)]
    found.append(_dry_skin(lines, classes))
    if any("EUH071" in line.ingredient.supplements for line in lines) and (
        _corrosive(classes) or Family.ACUTE_TOXICITY in families
    ):
        names = tuple(line.name for line in lines if "EUH071" in line.ingredient.supplements)
        found.append(
            Supplement("EUH071", names, "an ingredient corrodes the airways", "CLP Annex I 3.1.2.3.3")
        )
    if not classes and mix.audience is Audience.WORKPLACE:
        found.append(_sheet_on_request(lines))
    return tuple(one for one in found if one is not None)


def not_worked_out(line: Line, said: Sequence[Supplement]) -> tuple[str, ...]:
    """EUH statements of an ingredient, from 0.1 %, that no rule here carries over to the mix."""
    if line.share < Decimal("0.1"):
        return ()
    passed = {one.code for one in said}
    known = {*_CARRIED, "EUH066", "EUH208", "EUH210"}
    return tuple(code for code in line.ingredient.supplements if code not in known | passed)


def _corrosive(classes: Sequence[Hazard]) -> bool:
    return any(h.family is Family.SKIN and h.category.startswith("1") for h in classes)


def elicits(line: Line) -> bool:
    """Whether a sensitiser has to be named: a tenth of the limit at which it would classify the mix."""
    for family in _SENSITISERS:
        own = [limit.at_least / 10 for limit in line.limits.get(family, ())]
        for hazard in line.classes.get(family, ()):
            if line.counted >= min(own, default=_ELICITS[hazard.category]):
                return True
    return False


def _allergens(lines: Sequence[Line], families: set[Family]) -> Supplement | None:
    names = tuple(line.name for line in lines if elicits(line))
    if not names:
        return None
    if families & set(_SENSITISERS):
        why = "the mix is a sensitiser already: every sensitiser in it is named"
        return Supplement(NAMED, names, why, "CLP Annex II 2.8, Annex I table 3.4.6")
    why = "below the limit that classifies, but enough for someone who is allergic already"
    return Supplement("EUH208", names, why, "CLP Annex II 2.8, Annex I table 3.4.6")


def _lead(lines: Sequence[Line]) -> Supplement | None:
    with_lead = [(line, part) for line in lines if (part := lead_fraction(line)) is not None]
    total = sum((line.share * part for line, part in with_lead), Decimal(0))
    if total <= LEAD_PERCENT:
        return None
    names = tuple(line.name for line, _ in with_lead)
    return Supplement("EUH201", names, f"{in_words(total)} % lead, more than 0.15 %", "CLP Annex II 2.1")


def _carried(lines: Sequence[Line]) -> list[Supplement]:
    found = []
    for code in _CARRIED:
        least = _NAMED_FROM_PERCENT.get(code, Decimal(1))
        names = tuple(line.name for line in lines if _carries(line, code) and line.share >= least)
        if names:
            found.append(Supplement(code, names, "an ingredient carries it", "CLP Annex II"))
    return found


def _carries(line: Line, code: str) -> bool:
    if code in line.ingredient.supplements:
        return True
    return code in _NAMED_FROM_PERCENT and code in statements_of(line)


def _dry_skin(lines: Sequence[Line], classes: Sequence[Hazard]) -> Supplement | None:
    if any(hazard.family is Family.SKIN for hazard in classes):
        return None
    with_it = [line for line in lines if "EUH066" in line.ingredient.supplements]
    total = sum((line.share for line in with_it), Decimal(0))
    if total < DRY_SKIN_PERCENT:
        return None
    names = tuple(line.name for line in with_it)
    return Supplement(
        "EUH066",
        names,
        f"{in_words(total)} % of it dry the skin",
        "CLP Annex II 1.2.4; no figure in the law",
    )


def _sheet_on_request(lines: Sequence[Line]) -> Supplement | None:
    """EUH210 on a mix that is not classified and not for the public (CLP Annex II 2.10)."""
    names = tuple(line.name for line in lines if elicits(line) or _asks_for_sheet(line))
    if not names:
        return None
    return Supplement(
        "EUH210", names, "not classified, but it holds a classified substance", "CLP Annex II 2.10"
    )


def _asks_for_sheet(line: Line) -> bool:
    for family, hazards in line.classes.items():
        from_tenth = family in _CMR or (
            family is Family.CARCINOGEN and any(h.category == "2" for h in hazards)
        )
        least = Decimal("0.1") if from_tenth else Decimal(1)
        if hazards and line.counted >= least and (from_tenth or family not in _SENSITISERS):
            return True
    return False
