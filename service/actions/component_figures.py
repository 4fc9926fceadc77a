"""What a sheet says of one component by figures, joined with the lists: of each the more severe counts.

Limits nobody has written down and no list holds are not known: they may lie below the law's general ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from service.core.findings import Finding, unknown, warn
from service.core.hazards.classes import Family, Hazard, Route
from service.core.hazards.mix import Ingredient, OwnLimit
from service.core.hazards.regimes import RULES, Regime
from service.core.own_figures import limits_of
from service.records.knowledge_compositions import CompositionLine
from service.records.substance_facts import families_with_limits

_FROM_CATEGORY_1: Final = frozenset(
    {Family.SKIN, Family.EYE, Family.RESPIRATORY_SENSITISER, Family.SKIN_SENSITISER}
)
_CMR: Final = frozenset({Family.MUTAGEN, Family.CARCINOGEN, Family.REPRODUCTIVE})


def with_figures(one: Ingredient, line: CompositionLine, regime: Regime) -> tuple[Ingredient, list[Finding]]:
    """The ingredient with what its sheet gives: the larger factor, the lower estimate, every limit.

    A limit milder than the law's for a class that one ingredient brings alone is not used; that is said.
    """
    limits: list[OwnLimit] = []
    findings: list[Finding] = []
    for limit in (limit for written in line.limits or () for limit in limits_of(written)):
        general = _general(limit, regime)
        if general is not None and limit.at_least > general:
            words = (
                f"{one.name}: its limit for {limit.hazard.text}, {limit.at_least:f} %, is milder than "
                f"the law's {general:f} %. It was not used: look at the sheet again."
            )
            findings.append(warn("limit-milder-than-law", words, about=one.name))
        else:
            limits.append(limit)
    ate = dict(one.ate)
    for route, value in line.ate:
        lowest = min(value, ate[route][0]) if route in ate else value
        ate[route] = (lowest, lowest)
    joined = replace(
        one,
        limits=tuple(dict.fromkeys((*one.limits, *limits))),
        ate=ate,
        not_acutely_toxic=one.not_acutely_toxic - ate.keys(),
        m_acute=_larger(one.m_acute, line.m_acute),
        m_chronic=_larger(one.m_chronic, line.m_chronic),
    )
    return joined, findings


def open_limits(one: Ingredient, line: CompositionLine) -> tuple[Hazard, ...]:
    """The classes of an ingredient for which it may have lower limits that nobody has told."""
    if line.limits is not None or not one.high:
        return ()
    held = families_with_limits(line.cas) if line.cas else frozenset()
    return tuple(h for h in one.hazards or () if h.family not in held and _acts_in_traces(h))


def limits_not_known(open_ones: Iterable[tuple[str, Hazard]], classes: Sequence[Hazard]) -> list[Finding]:
    """One finding for each ingredient whose own limit could still bring a class that is not there."""
    by_name: dict[str, list[Hazard]] = {}
    for name, hazard in open_ones:
        if not any(_settles(found, hazard) for found in classes):
            by_name.setdefault(name, []).append(hazard)
    return [
        unknown(
            "own-limits-not-known",
            f"Own limits of {name} are not known: it may count from a lower share than the law's general "
            f"one ({', '.join(dict.fromkeys(hazard.abbreviation for hazard in hazards))}). Copy them from "
            "section 3 of the sheet, or say there that it gives none.",
            "the sheet, section 3",
            name,
        )
        for name, hazards in by_name.items()
    ]


def one_estimate(ingredients: Sequence[Ingredient]) -> tuple[Ingredient, ...]:
    """Two sheets may give two estimates for one substance of a mix: the lower one counts for both."""
    least: dict[tuple[str, Route], Decimal] = {}
    for one in ingredients:
        for route, (low, _) in one.ate.items():
            key = (one.key, route)
            least[key] = min(low, least.get(key, low))
    return tuple(
        replace(one, ate={route: (least[one.key, route],) * 2 for route in one.ate}) if one.ate else one
        for one in ingredients
    )


def _general(limit: OwnLimit, regime: Regime) -> Decimal | None:
    """The lowest share at which the law itself gives this class; None where it goes by sums."""
    found = [
        row.at_least
        for row in RULES[regime].single
        if row.family is limit.family and limit.hazard.category in row.ingredient
    ]
    return min(found, default=None)


def _acts_in_traces(hazard: Hazard) -> bool:
    return hazard.family in _CMR or (hazard.family in _FROM_CATEGORY_1 and hazard.category.startswith("1"))


def _settles(found: Hazard, hazard: Hazard) -> bool:
    """Whether the mix has that class already: then no limit could make it worse."""
    return found.family is hazard.family and found.category[:1] <= hazard.category[:1]


def _larger(one: Decimal | None, other: Decimal | None) -> Decimal | None:
    return max((n for n in (one, other) if n is not None), default=None)
