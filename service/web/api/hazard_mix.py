"""The mix of a hazard question as JSON: ingredients with shares, classes and limits, and the whole."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from math import isfinite
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field, field_validator

from service.core.component_lines import read_cas
from service.core.findings import Invalid
from service.core.hazards.classes import Route
from service.core.hazards.mix import Audience, Ingredient, Mix, MixForm, OwnLimit
from service.core.hazards.read_class import ReadClass, read_class, read_classes
from service.web.api_model import ApiModel
from service.web.text_guard import sentence

MOST_INGREDIENTS: Final = 100
MOST_CLASSES: Final = 60
DEEPEST: Final = 4
ClassText = Annotated[str, Field(max_length=160, examples=["Flam. Liq. 2", "STOT SE 3 H336"])]


def span_or_sentence(value: Any) -> Any:
    numbers = value if isinstance(value, list) else [value]
    fine = all(_is_number(one) for one in numbers)
    text = all(isinstance(one, str) and _NUMBER.fullmatch(one.strip()) for one in numbers)
    if not (fine or text) or (isinstance(value, list) and len(value) != 2):
        raise sentence("Send a number like 12 or 0.5, or a range like [1, 5], its low end first.")
    return value


def _is_number(value: Any) -> bool:
    """A finite number: 1e400 comes in as infinite. Of whole numbers ``isfinite`` cannot judge the longest."""
    if isinstance(value, bool):
        return False
    return isinstance(value, int) or (isinstance(value, float | Decimal) and isfinite(value))


_NUMBER = re.compile(r"-?[0-9]{1,30}(\.[0-9]{1,30})?", re.ASCII)
Span = Annotated[
    Decimal | Annotated[list[Decimal], Field(min_length=2, max_length=2)], BeforeValidator(span_or_sentence)
]
Temperature = Annotated[Decimal, Field(ge=-273, le=2000)]


class LimitIn(ApiModel):
    """A concentration limit of the substance itself."""

    hazard: ClassText
    from_: Annotated[Decimal, Field(alias="from", ge=0, le=100)]
    below: Annotated[Decimal, Field(gt=0, le=100)] | None = None


class AteIn(ApiModel):
    """Acute toxicity estimates: mg/kg; gas in ppmV, the others in mg/l, all for 4 hours. Of a pair the low
    end counts.
    """

    oral: Span | None = None
    dermal: Span | None = None
    gas: Span | None = None
    vapour: Span | None = None
    dust_mist: Span | None = None


class IngredientIn(ApiModel):
    """One ingredient. ``hazards`` null or left out: not known; an empty list: examined, not classified.

    ``ingredients``: it is a mix itself; its parts' shares are of it, and what it is given of its own
    (estimates) counts
    before what its parts say.
    """

    name: Annotated[str, Field(max_length=120)] = ""
    substance: Annotated[str, Field(max_length=120)] = ""
    cas: Annotated[str, Field(max_length=20)] = ""
    percent: Span
    hazards: Annotated[list[ClassText], Field(max_length=MOST_CLASSES)] | None = None
    ate: AteIn = AteIn()
    unknown_acute: Annotated[list[Route], Field(max_length=6)] = Field(default_factory=list)
    not_acutely_toxic: Annotated[list[Route], Field(max_length=6)] = Field(default_factory=list)
    limits: Annotated[list[LimitIn], Field(max_length=40)] = Field(default_factory=list)
    m_acute: Annotated[Decimal, Field(ge=1, le=10_000_000)] | None = None
    m_chronic: Annotated[Decimal, Field(ge=1, le=10_000_000)] | None = None
    metal_fraction: Annotated[Decimal, Field(gt=0, le=1)] | None = None
    metal: Annotated[str, Field(max_length=20)] = ""
    benzene_percent: Annotated[Decimal, Field(ge=0, le=100)] | None = None
    additive: bool | None = None
    ph: Annotated[Decimal, Field(ge=-2, le=16)] | None = None
    ingredients: Annotated[list[IngredientIn], Field(default_factory=list, max_length=MOST_INGREDIENTS)]

    @field_validator("percent", mode="before")
    @classmethod
    def _share(cls, value: Any) -> Any:
        """Before the plain guard of numbers, whose sentence knows nothing of ranges."""
        return span_or_sentence(value)


class MixtureIn(ApiModel):
    """What is known of the whole mix. ``form`` left out: judged as a liquid."""

    form: MixForm | None = None
    flash_point_c: Temperature | None = None
    flash_point_is_calculated: bool = False
    calculation_allowed: Annotated[
        bool, Field(description="the calculated flash point meets every condition of GHS 2.6.4.2")
    ] = False
    flash_point_confirmed: Annotated[
        bool, Field(description="looked at again: in °C, measured in a closed cup on this very mix")
    ] = False
    does_not_flash: Annotated[bool, Field(description="examined: no flash point up to boiling")] = False
    initial_boiling_point_c: Temperature | None = None
    kinematic_viscosity_40c: Annotated[Decimal, Field(gt=0, le=1_000_000_000)] | None = None
    viscosity_confirmed: Annotated[
        bool, Field(description="looked at again: in mm2/s, at 40 °C, of this very mix")
    ] = False
    ph: Annotated[Decimal, Field(ge=-2, le=16)] | None = None
    sprayed: bool = False
    combustible_dust: bool | None = None
    audience: Audience = Audience.PUBLIC


def mix_of(ingredients: Sequence[IngredientIn], mixture: MixtureIn) -> Mix:
    """The mix that the rules judge. Raises Invalid, naming the ingredient, for what cannot be."""
    flat = [
        one
        for number, asked in enumerate(ingredients, 1)
        for one in _read(asked, number, (Decimal(1), Decimal(1)), 1)
    ]
    if len(flat) > MOST_INGREDIENTS * 3:
        raise Invalid(f"Together at most {MOST_INGREDIENTS * 3} ingredients.", {"ingredients": "Too many."})
    return Mix(
        ingredients=tuple(flat),
        form=mixture.form,
        flash_point_c=mixture.flash_point_c,
        flash_point_is_calculated=mixture.flash_point_is_calculated,
        calculation_allowed=mixture.calculation_allowed,
        flash_point_confirmed=mixture.flash_point_confirmed,
        does_not_flash=mixture.does_not_flash,
        initial_boiling_point_c=mixture.initial_boiling_point_c,
        viscosity_mm2_s=mixture.kinematic_viscosity_40c,
        viscosity_confirmed=mixture.viscosity_confirmed,
        ph=mixture.ph,
        sprayed=mixture.sprayed,
        combustible_dust=mixture.combustible_dust,
        audience=mixture.audience,
    )


def _read(asked: IngredientIn, number: int, part: tuple[Decimal, Decimal], depth: int) -> list[Ingredient]:
    name = asked.name or asked.substance or asked.cas or f"ingredient {number}"
    low, high = _span(asked.percent, name, "share")
    if high > 100 or low < 0:
        raise _about(name, "a share lies between 0 and 100 %. Correct it, or leave the ingredient out.")
    ate = {
        route: _span(value, name, f"estimate for {route.value}")
        for route in (Route.ORAL, Route.DERMAL, Route.GAS, Route.VAPOUR, Route.DUST_MIST)
        if (value := getattr(asked.ate, route.value)) is not None
    }
    read = _classes(asked.hazards, name)
    whole = Ingredient(
        name=name,
        low=low * part[0],
        high=high * part[1],
        hazards=read.hazards if asked.hazards is not None else None,
        cas=_cas(asked.cas, name),
        substance=asked.substance,
        supplements=read.supplements,
        ate=ate,
        unknown_acute=frozenset(asked.unknown_acute),
        not_acutely_toxic=frozenset(asked.not_acutely_toxic),
        limits=tuple(limit for one in asked.limits for limit in _limits(one, name)),
        m_acute=asked.m_acute,
        m_chronic=asked.m_chronic,
        metal_fraction=asked.metal_fraction,
        metal=asked.metal,
        benzene_percent=asked.benzene_percent,
        additive=asked.additive,
        ph=asked.ph,
    )
    if not asked.ingredients:
        return [whole]
    if depth >= DEEPEST:
        raise _about(name, f"mixes in mixes go {DEEPEST} deep at most. Write its parts out.")
    return _with_parts(whole, asked, (whole.low / 100, whole.high / 100), depth)


def _with_parts(
    whole: Ingredient, asked: IngredientIn, part: tuple[Decimal, Decimal], depth: int
) -> list[Ingredient]:
    """The parts of an ingredient that is a mix, and what of it no part accounts for."""
    parts = [one for n, inner in enumerate(asked.ingredients, 1) for one in _read(inner, n, part, depth + 1)]
    told = sum((one.high for one in parts), Decimal(0))
    if sum((one.low for one in parts), Decimal(0)) > whole.high * Decimal("1.005"):
        raise _about(
            whole.name, "its parts add up to more than 100 % of it. Their shares are of it, not of the mix."
        )
    if whole.hazards or whole.ate:
        raise _about(
            whole.name,
            "give its parts, or its classes and estimates, not both: what the sheet says of the "
            "whole and what its parts "
            "say are two answers. Ask twice and take the more severe.",
        )
    gap = whole.high - told
    if gap > Decimal("0.0005") * max(whole.high, Decimal(1)):
        parts.append(Ingredient(f"what is not told of {whole.name}", gap, gap, None))
    return parts


def _span(value: Decimal | list[Decimal], name: str, what: str) -> tuple[Decimal, Decimal]:
    low, high = (value[0], value[1]) if isinstance(value, list) else (value, value)
    if low > high:
        raise _about(name, f"the {what} is written low end first, like [3, 7].")
    return low, high


def _cas(text: str, name: str) -> str:
    """A CAS number with its check digit, blanks and dashes of any kind put right; empty stays empty."""
    if not text.strip():
        return ""
    try:
        return read_cas(re.sub(r"\s", "", re.sub(r"[\u2010-\u2015\u2212]", "-", text)))
    except Invalid as wrong:
        raise _about(name, wrong.sentence) from None


def _classes(written: list[str] | None, name: str) -> ReadClass:
    try:
        return read_classes(written or [])
    except Invalid as wrong:
        raise _about(name, wrong.sentence) from None


def _limits(limit: LimitIn, name: str) -> list[OwnLimit]:
    try:
        hazards = read_class(limit.hazard).hazards
    except Invalid as wrong:
        raise _about(name, wrong.sentence) from None
    return [OwnLimit(hazard, limit.from_, limit.below) for hazard in hazards]


def _about(name: str, sentence: str) -> Invalid:
    return Invalid(f"{name}: {sentence}", {"ingredients": f"{name}: {sentence}"})
