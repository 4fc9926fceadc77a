"""What a mix is for the hazard rules: its ingredients with their shares, and what was measured on the whole.

Doors: actions/judge_hazards.py, web/api/hazard_mix.py, core/hazards/lines.py.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from service.core.findings import Invalid
from service.core.hazards.classes import Family, Hazard, Route

HUNDRED = Decimal(100)
# Shares are rounded figures: as much over 100 % together is a rounding, more is a slip.
ROUNDING_PERCENT = Decimal("0.5")


class Audience(StrEnum):
    """Who gets the container; the public is the stricter one."""

    PUBLIC = "public"
    WORKPLACE = "workplace"


class MixForm(StrEnum):
    """Whether the mix is poured or lies in grains."""

    LIQUID = "liquid"
    SOLID = "solid"


@dataclass(frozen=True)
class OwnLimit:
    """A concentration limit of the substance itself: this class from ``at_least`` per cent, below
    ``below``.
    """

    hazard: Hazard
    at_least: Decimal
    below: Decimal | None = None

    @property
    def family(self) -> Family:
        return self.hazard.family


@dataclass(frozen=True)
class Ingredient:
    """One ingredient.

    Args:
        low, high: share in per cent by mass; a range gives the more severe end, the upper one.
        substance: its chemical name where ``name`` is a trade name; lines of one substance are summed.
        hazards: None = not known; empty = examined and not classified.
        supplements: EUH statements the ingredient carries.
        ate: acute toxicity estimate by route (mg/kg; gas ppmV; vapour, dust and mist mg/l for 4 h); of a
        range the
            lower end.
        unknown_acute, not_acutely_toxic: routes about which nothing is known, or which were examined and
        are none.
        m_acute, m_chronic: multiplying factors of aquatic category 1.
        metal_fraction: where the EU list counts the metal only (Note 1), its share of the compound, 0 to 1.
        benzene_percent: of a petroleum cut to which Note P applies.
        additive: False where the sums of skin and eye do not apply (acids and bases of extreme pH, phenols,
        ...).

    Raises Invalid, naming the ingredient, for impossible or contradictory figures.
    """

    name: str
    low: Decimal
    high: Decimal
    hazards: tuple[Hazard, ...] | None
    cas: str = ""
    substance: str = ""
    supplements: tuple[str, ...] = ()
    ate: Mapping[Route, tuple[Decimal, Decimal]] = field(default_factory=dict)
    unknown_acute: frozenset[Route] = frozenset()
    not_acutely_toxic: frozenset[Route] = frozenset()
    limits: tuple[OwnLimit, ...] = ()
    m_acute: Decimal | None = None
    m_chronic: Decimal | None = None
    metal_fraction: Decimal | None = None
    metal: str = ""
    benzene_percent: Decimal | None = None
    additive: bool | None = None
    ph: Decimal | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high <= HUNDRED:
            raise Invalid(
                f"{self.name}: a share lies between 0 and 100 %, the low end first. Correct it, or "
                "leave it out."
            )
        for route, (low, high) in self.ate.items():
            if not 0 < low <= high:
                raise Invalid(
                    f"{self.name}: the acute toxicity estimate for {route.value} is more than 0, "
                    "the low end first."
                )
        for routes, words in ((self.unknown_acute, "not known"), (self.not_acutely_toxic, "not toxic")):
            both = sorted(route.value for route in routes if route in self.ate)
            if both:
                raise Invalid(
                    f"{self.name}: an estimate is given for {both[0]}, and it is called {words} there. "
                    "Take one away."
                )
        both = sorted(route.value for route in self.unknown_acute & self.not_acutely_toxic)
        if both:
            raise Invalid(f"{self.name}: {both[0]} is called not known and not toxic. Take one away.")
        for value, word in ((self.m_acute, "M-factor"), (self.m_chronic, "M-factor")):
            if value is not None and value < 1:
                raise Invalid(f"{self.name}: an {word} is 1, 10, 100 and so on.")
        for limit in self.limits:
            if limit.below is not None and limit.below <= limit.at_least:
                raise Invalid(f"{self.name}: the limit for {limit.hazard.text} ends before it begins.")

    @property
    def key(self) -> str:
        """What makes two lines the same substance: the CAS number, else the name."""
        return re.sub(r"\s", "", self.cas) or self.plain_name

    @property
    def plain_name(self) -> str:
        return " ".join((self.substance or self.name).casefold().split())


@dataclass(frozen=True)
class Mix:
    """A mix: its ingredients and what is known of the whole.

    Args:
        form: None = not told; judged as a liquid.
        flash_point_c: of the whole, closed cup. ``calculation_allowed``: a calculated one meets every
        condition of
            GHS 2.6.4.2; only then may it make the category milder than the most flammable ingredient.
        flash_point_confirmed: somebody looked again: in °C, measured in a closed cup on this very mix. Only
            then does a measured one make the mix milder than the most flammable ingredient.
        does_not_flash: examined, no flash point up to boiling.
        viscosity_mm2_s: kinematic, at 40 °C. ``viscosity_confirmed``: somebody looked again at figure, unit
            and temperature.
        sprayed: it is sprayed or sanded: what is breathed is dust or mist.
        combustible_dust: of a powder, whether its dust burns in air (only US law puts it on a label); None
        = not
            examined.

    Raises Invalid for no ingredient at all, for shares that exceed 100 % together, and for impossible
    figures.
    """

    ingredients: tuple[Ingredient, ...]
    form: MixForm | None = None
    flash_point_c: Decimal | None = None
    flash_point_is_calculated: bool = False
    calculation_allowed: bool = False
    flash_point_confirmed: bool = False
    does_not_flash: bool = False
    initial_boiling_point_c: Decimal | None = None
    viscosity_mm2_s: Decimal | None = None
    viscosity_confirmed: bool = False
    ph: Decimal | None = None
    sprayed: bool = False
    combustible_dust: bool | None = None
    audience: Audience = Audience.PUBLIC

    def __post_init__(self) -> None:
        if not self.ingredients:
            raise Invalid("Name at least one ingredient with its share.", {"ingredients": "At least one."})
        least = sum((one.low for one in self.ingredients), Decimal(0))
        if least > HUNDRED + ROUNDING_PERCENT:
            biggest = max(self.ingredients, key=lambda one: one.low)
            raise Invalid(
                f"The shares add up to {least:f} %, more than 100. Look at the largest first, "
                f"{biggest.name} with "
                f"{biggest.low:f} %."
            )
        if self.does_not_flash and self.flash_point_c is not None:
            raise Invalid("Give the flash point, or say that it does not flash, not both.")
        if self.ph is not None and not -2 <= self.ph <= 16:
            raise Invalid("A pH lies between -2 and 16.")
        if self.viscosity_mm2_s is not None and self.viscosity_mm2_s <= 0:
            raise Invalid("A viscosity is more than 0 mm2/s.")
