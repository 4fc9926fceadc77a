"""Classes that one ingredient alone gives the mix: sensitisers, CMR, and organ damage of categories 1 and 2.

Doors: core/hazards/classify.py.

Sources: UN GHS 3.4 to 3.9, CLP Annex I 3.4 to 3.9, HCS A.4 to A.9; the limits are rows of ``regimes.py``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from decimal import Decimal
from functools import cache

from service.core.hazards.classes import Family, Hazard, Route, join_effects
from service.core.hazards.lines import Line
from service.core.hazards.mix import OwnLimit
from service.core.hazards.reasons import Because, Reached
from service.core.hazards.regimes import RULES, Regime, Rules, SingleLimit

SINGLE_FAMILIES = (
    Family.RESPIRATORY_SENSITISER,
    Family.SKIN_SENSITISER,
    Family.MUTAGEN,
    Family.CARCINOGEN,
    Family.REPRODUCTIVE,
    Family.LACTATION,
    Family.STOT_SINGLE,
    Family.STOT_REPEATED,
    Family.OZONE,
)


def singly(lines: Sequence[Line], rules: Rules) -> list[Reached]:
    """Every class that an ingredient brings by itself, one entry for each ingredient and limit it reaches."""
    found: list[Reached] = []
    for line in lines:
        for family, hazards in line.classes.items():
            if family not in SINGLE_FAMILIES:
                continue
            for hazard in hazards:
                found += _of_one(line, hazard, rules)
            found += _of_own(line, family, hazards, rules)
    return found


@cache
def rows_of(regime: Regime, family: Family, category: str) -> tuple[SingleLimit, ...]:
    """The rows of a law by which an ingredient of this category classifies the mix alone."""
    return tuple(row for row in RULES[regime].single if row.family is family and category in row.ingredient)


def _of_one(line: Line, hazard: Hazard, rules: Rules) -> Iterator[Reached]:
    """By the limits of the law; of the EU's own limits one for the same category takes a row's place."""
    own = line.limits.get(hazard.family, ()) if rules.own_limits_bind else ()
    taken = {limit.hazard.category for limit in own}
    for row in rows_of(rules.regime, hazard.family, hazard.category):
        if row.mix not in taken and _within(line.counted, row.at_least, row.below):
            brought = Hazard(row.family, row.mix, hazard.route, hazard.effect, hazard.organs)
            because = Because(
                f"{hazard.text}: one ingredient alone, from {row.at_least:f} %",
                row.paragraph,
                line.counted,
                row.at_least,
                (line.name,),
                provenance=row.provenance,
            )
            yield Reached(brought, because)


def _of_own(line: Line, family: Family, hazards: tuple[Hazard, ...], rules: Rules) -> Iterator[Reached]:
    organs = tuple(dict.fromkeys(organ for hazard in hazards for organ in hazard.organs))
    for limit in line.limits.get(family, ()):
        if limit.hazard.family is Family.STOT_SINGLE and limit.hazard.category == "3":
            continue
        if (family, limit.hazard.category) in rules.categories_left_out:
            continue
        if _within(line.counted, limit.at_least, limit.below):
            effect = limit.hazard.effect or _effect_of(hazards, limit)
            brought = Hazard(family, limit.hazard.category, None, effect, limit.hazard.organs or organs)
            because = Because(
                f"own limit of {line.name}: {brought.text} from {limit.at_least:f} %",
                "CLP Annex I 1.1.2.2, Annex VI" if rules.own_limits_bind else "known to act below the limit",
                line.counted,
                limit.at_least,
                (line.name,),
            )
            yield Reached(brought, because)


def _effect_of(hazards: tuple[Hazard, ...], limit: OwnLimit) -> str:
    return next((h.effect for h in hazards if h.category == limit.hazard.category), "")


def _within(share: Decimal, at_least: Decimal, below: Decimal | None) -> bool:
    return share >= at_least and (below is None or share < below)


def join_reached(reached: Sequence[Reached], rules: Rules) -> list[tuple[Hazard, tuple[Because, ...]]]:
    """One class of each family with its reasons: the most severe; organs and effects of all its ingredients
    joined.

    The letters of a suspected effect (Repr. 2) are kept beside a known one: D and f make H360Df.
    """
    by_family: dict[tuple[Family, str], list[Reached]] = defaultdict(list)
    for one in reached:
        by_family[one.hazard.kind].append(one)
    joined = []
    for same in by_family.values():
        # Of two names for the same severity the one with a letter says more, whoever came first.
        best = min(same, key=lambda one: (one.hazard.rank, -len(one.hazard.category), one.hazard.text)).hazard
        equals = [one for one in same if one.hazard.rank == best.rank]
        organs = tuple(sorted({organ for one in equals for organ in one.hazard.organs}))
        effect = ""
        if rules.effect_letters or best.family is Family.STOT_SINGLE:
            effects = [one.hazard.effect for one in (same if best.family is Family.REPRODUCTIVE else equals)]
            effect = effects[0]
            for more in effects[1:]:
                effect = join_effects(effect, more)
        route = _only_route(equals, best)
        joined.append(
            (Hazard(best.family, best.category, route, effect, organs), tuple(one.because for one in equals))
        )
    return joined


def _only_route(equals: list[Reached], best: Hazard) -> Route | None:
    routes = {one.hazard.route for one in equals}
    if len(routes) == 1:
        return best.route
    # As vapour and as dust in the same category: breathed, in whatever form.
    return Route.INHALATION if best.family is Family.ACUTE_TOXICITY else None
