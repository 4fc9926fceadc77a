"""The ingredients as one law counts them: one line a substance, its share, its classes in that law's
categories.

Doors: core/hazards/classify.py.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from service.core.findings import Invalid
from service.core.hazards.classes import Family, Hazard
from service.core.hazards.mix import HUNDRED, Ingredient, OwnLimit
from service.core.hazards.regimes import Rules

# Note P of CLP Annex VI: below this much benzene the harmonised Carc. 1B and Muta. 1B of a petroleum cut
# need not apply.
BENZENE_PERCENT = Decimal("0.1")
_NOTE_P = ((Family.CARCINOGEN, "1B"), (Family.MUTAGEN, "1B"))


@dataclass(frozen=True)
class Line:
    """One substance in the mix. ``share`` and ``counted`` in per cent; ``counted`` is what limits are held
    against
    (the metal alone where the law says so). ``differs``: it was named more than once, with unlike classes.
    """

    ingredient: Ingredient
    share: Decimal
    counted: Decimal
    classes: dict[Family, tuple[Hazard, ...]]
    limits: dict[Family, tuple[OwnLimit, ...]]
    note_p_used: bool = False
    differs: bool = False

    @property
    def name(self) -> str:
        return self.ingredient.name

    @property
    def known(self) -> bool:
        return self.ingredient.hazards is not None


def lines_of(ingredients: tuple[Ingredient, ...], rules: Rules) -> list[Line]:
    """One line a substance, in the order they were first named; shares of the same substance are summed
    first.

    Raises Invalid where two lines of one substance contradict each other.
    """
    merged: dict[str, Ingredient] = {}
    differing: set[str] = set()
    numbers = {one.plain_name: one.key for one in ingredients if one.cas}
    for one in ingredients:
        # "cobalt" with its number in one line and without it in another is one substance.
        key = one.key if one.cas else numbers.get(one.plain_name, one.key)
        held = merged.get(key)
        if held is not None and _contradict(held, one):
            differing.add(key)
        merged[key] = one if held is None else together(held, one)
    return [_line(one, rules, key in differing) for key, one in merged.items() if one.high > 0]


def _contradict(one: Ingredient, other: Ingredient) -> bool:
    """Whether two lines of one substance tell different classes; one that tells nothing contradicts none."""
    if one.hazards is None or other.hazards is None:
        return False
    return set(one.hazards) != set(other.hazards)


def together(one: Ingredient, other: Ingredient) -> Ingredient:
    """Two lines of one substance as one: shares add up, of everything else the more severe counts.

    Raises Invalid where both give an acute toxicity estimate for a route and they differ.
    """
    for route in one.ate.keys() & other.ate.keys():
        if one.ate[route] != other.ate[route]:
            raise Invalid(
                f"{one.name} stands there twice with two estimates for {route.value}. Keep the "
                "right one of them."
            )
    hazards = one.hazards
    if other.hazards is not None:
        hazards = tuple(dict.fromkeys((*(one.hazards or ()), *other.hazards)))
    ate = {**one.ate, **other.ate}
    return replace(
        one,
        low=min(one.low + other.low, HUNDRED),
        high=min(one.high + other.high, HUNDRED),
        hazards=hazards,
        supplements=tuple(dict.fromkeys((*one.supplements, *other.supplements))),
        ate=ate,
        unknown_acute=(one.unknown_acute | other.unknown_acute) - ate.keys(),
        not_acutely_toxic=(one.not_acutely_toxic & other.not_acutely_toxic) - ate.keys(),
        limits=tuple(dict.fromkeys((*one.limits, *other.limits))),
        m_acute=_larger(one.m_acute, other.m_acute),
        m_chronic=_larger(one.m_chronic, other.m_chronic),
        metal_fraction=_larger(one.metal_fraction, other.metal_fraction),
        benzene_percent=_larger(one.benzene_percent, other.benzene_percent),
        additive=False if False in (one.additive, other.additive) else one.additive,
        ph=one.ph if one.ph is not None else other.ph,
    )


def _larger(one: Decimal | None, other: Decimal | None) -> Decimal | None:
    return max((n for n in (one, other) if n is not None), default=None)


def _line(one: Ingredient, rules: Rules, differs: bool) -> Line:
    classes: dict[Family, list[Hazard]] = {}
    # Note P is for petroleum and coal cuts, which are all dangerous in the lungs; nothing else is let off
    # by it.
    oily = any(hazard.family is Family.ASPIRATION for hazard in one.hazards or ())
    little = one.benzene_percent is not None and one.benzene_percent < BENZENE_PERCENT
    clean = rules.benzene_note and oily and little
    dropped = False
    for hazard in one.hazards or ():
        if (hazard.family, hazard.category) in rules.categories_left_out:
            continue
        if clean and (hazard.family, hazard.category) in _NOTE_P:
            dropped = True
            continue
        classes.setdefault(hazard.family, []).append(hazard)
    limits: dict[Family, list[OwnLimit]] = {}
    for limit in one.limits:
        limits.setdefault(limit.family, []).append(limit)
        # A limit alone says the substance has that class, where the sheet's list is silent about the family.
        if (
            limit.family not in classes
            and (limit.family, limit.hazard.category) not in rules.categories_left_out
        ):
            classes[limit.family] = [limit.hazard]
    counted = one.high
    if rules.percent_as_metal and one.metal_fraction is not None:
        counted = one.high * one.metal_fraction
    return Line(
        one,
        one.high,
        counted,
        {family: tuple(found) for family, found in classes.items()},
        {family: tuple(found) for family, found in limits.items()},
        dropped,
        differs,
    )
