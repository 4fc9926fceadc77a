"""POST /api/calc/oxygen: the oxygen shut in above an oil, and how much oil it can skin. An estimate."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Final

from fastapi import APIRouter
from pydantic import BaseModel, Field, field_validator

from service.core.film_ranges import Span
from service.core.findings import Finding, Invalid, Verdict, note, unknown
from service.core.headspace import FASTER_BY_10_C, UPTAKE_RANGE, UPTAKES, faster_when_warm, skin_um
from service.core.second_clock import SecondClock, head_space_ul, reckon
from service.core.solvents.properties import GIVEN, DataUsed
from service.web.api.film_figures import Figure, span_of, told
from service.web.api.hazard_answers import FindingOut, finding_out
from service.web.api.hazard_mix import Span as SpanIn
from service.web.api.hazard_mix import span_or_sentence
from service.web.api.solvent_components import DataUsedOut, data_used_out
from service.web.api_model import ApiModel

router = APIRouter(prefix="/api/calc", tags=["calculators"])

LITRES = (0.0, 1_000_000.0)
MOST_OPENINGS = 1000


class OpeningIn(ApiModel):
    """One closing of the lid: the air above it then, or what was left in it. Neither: not known."""

    head_space_l: SpanIn | None = None
    left_l: SpanIn | None = None

    @field_validator("head_space_l", "left_l", mode="before")
    @classmethod
    def _range(cls, value: Any) -> Any:
        return value if value is None else span_or_sentence(value)


_COMMON_ROOM_C: Final = Decimal(20)


class OxygenIn(ApiModel):
    """The air above the oil, or ``capacity_l`` and ``left_l``. Each opening lets in fresh air.

    ``openings`` counts closings over the same air; ``each_opening`` tells each one by itself in their place.
    """

    head_space_l: Annotated[Decimal | None, Field(ge=0, le=1_000_000)] = None
    capacity_l: Annotated[
        Decimal | None, Field(gt=0, le=1_000_000, description="what it holds when full")
    ] = None
    left_l: Annotated[SpanIn | None, Field(description="what is in it, a number or a range")] = None
    temperature_c: Annotated[
        Decimal, Field(ge=-60, le=200, description="of the air shut in; how warm it stands is kept_at_c")
    ] = _COMMON_ROOM_C
    pressure_pa: Annotated[Decimal, Field(ge=1000, le=10_000_000)] = Decimal(101325)
    openings: Annotated[int, Field(ge=1, le=100_000)] = 1
    each_opening: Annotated[list[OpeningIn] | None, Field(min_length=1, max_length=MOST_OPENINGS)] = None
    uptake_fraction: Annotated[
        Decimal | None, Field(gt=0, le=1, ge=Decimal("0.001"), description="one uptake, in place of a range")
    ] = None
    uptake_range: Annotated[
        SpanIn | None, Field(description="least and most; missing: 0.12 to 0.16")
    ] = None
    free_surface_cm2: Annotated[Decimal | None, Field(ge=Decimal("0.01"), le=1_000_000)] = None
    oil_g: Annotated[SpanIn | None, Field(description="oil that is in it now, for the share")] = None
    kept_at_c: Annotated[
        Decimal | None, Field(ge=-60, le=60, description="where it stands; changes how soon, not how much")
    ] = None

    @field_validator("left_l", "uptake_range", "oil_g", mode="before")
    @classmethod
    def _range(cls, value: Any) -> Any:
        return value if value is None else span_or_sentence(value)


class OpeningOut(BaseModel):
    """One closing, in the order asked; null where its air is not known."""

    head_space_l: Figure
    oxygen_g: Figure
    oil_spent_g: Figure


class OxygenOut(BaseModel):
    """What the air shut in can spend, and no date.

    ``oxygen_g``, ``oil_spent_g`` and ``skin_um`` are the worse ends: by the most air and the least uptake,
    and null where some air is not known; the ranges are least and most over ``uptake_range``.
    ``known_oil_spent_g`` adds up what is known.
    ``times_as_fast``: at ``kept_at_c`` against 20 °C, by rules of thumb, never less than 1.
    """

    oxygen_g: float | None
    oil_spent_g: float | None
    skin_um: float | None
    oil_spent_range_g: Figure
    skin_range_um: Figure
    known_oil_spent_g: Figure | None
    share_of_oil: Figure
    share_left: Figure
    times_as_fast: Figure
    each_opening: list[OpeningOut]
    findings: list[FindingOut]
    complete: bool
    data_used: list[DataUsedOut]


@router.post("/oxygen", summary="Oxygen shut in above an oil in a closed can, and the skin it can make")
def oxygen(asked: OxygenIn) -> OxygenOut:
    """By the gas law; an estimate that never makes a date later. Touches no stock."""
    celsius, pascal = float(asked.temperature_c), float(asked.pressure_pa)
    surface = None if asked.free_surface_cm2 is None else float(asked.free_surface_cm2)
    uptake = span_of(asked.uptake_range, "uptake_range", (0.001, 1))
    one = None if asked.uptake_fraction is None else float(asked.uptake_fraction)
    if uptake is not None and one is not None and not uptake[0] <= one <= uptake[1]:
        raise _wrong("uptake_range", "The range does not hold the uptake that was given. Check both figures.")
    wide = uptake or (UPTAKE_RANGE if one is None else (one, one))
    heads, times = _heads(asked), 1 if asked.each_opening else asked.openings
    oil = span_of(asked.oil_g, "oil_g", (1e-6, 1e12))
    # So many closings over the same air are one over so many times the air.
    air = [None if head is None else (head[0] * times, head[1] * times) for head in heads]
    clock = reckon(air, uptake=wide, oil_now_g=oil, surface_cm2=surface, celsius=celsius, pascal=pascal)
    held = None if clock.oxygen_g is None else clock.oxygen_g[1]
    spent = None if clock.oil_g is None else clock.oil_g[1]
    verdict = _verdict(asked, clock)
    return OxygenOut(
        oxygen_g=_shown(held),
        oil_spent_g=_shown(spent),
        skin_um=None if surface is None or spent is None else _shown(skin_um(spent, surface)),
        oil_spent_range_g=told(clock.oil_g),
        skin_range_um=told(clock.skin_um),
        known_oil_spent_g=told(clock.known_oil_g) if clock.known or not clock.openings else None,
        share_of_oil=told(clock.share),
        share_left=told(clock.share_left),
        times_as_fast=None if asked.kept_at_c is None else told(faster_when_warm(float(asked.kept_at_c))),
        each_opening=[
            OpeningOut(head_space_l=told(o.air_l), oxygen_g=told(o.oxygen_g), oil_spent_g=told(o.oil_g))
            for o in reckon(heads, uptake=wide, celsius=celsius, pascal=pascal).each
        ],
        findings=[finding_out(f) for f in verdict],
        complete=verdict.complete,
        data_used=data_used_out(_used(asked)),
    )


def _heads(asked: OxygenIn) -> list[Span | None]:
    """The air of each closing in litres. Raises Invalid where it is told twice, or not told at all."""
    if asked.each_opening is not None:
        if asked.head_space_l is not None or asked.left_l is not None or asked.openings != 1:
            raise _wrong("each_opening", "Tell the openings one by one, or all alike, not both.")
        return [_one(asked, opening, f"each_opening.{n}") for n, opening in enumerate(asked.each_opening)]
    if asked.head_space_l is not None:
        if asked.capacity_l is not None or asked.left_l is not None:
            raise _wrong("head_space_l", "Give the head space, or what it holds and what is left, not both.")
        return [(float(asked.head_space_l), float(asked.head_space_l))]
    if asked.capacity_l is None and asked.left_l is None:
        raise _wrong("head_space_l", "Give the head space in litres, or what it holds and what is left.")
    return [_room(asked, span_of(asked.left_l, "left_l", LITRES), "left_l")]


def _one(asked: OxygenIn, opening: OpeningIn, field: str) -> Span | None:
    told_air = span_of(opening.head_space_l, f"{field}.head_space_l", LITRES)
    left = span_of(opening.left_l, f"{field}.left_l", LITRES)
    if told_air is not None and left is not None:
        raise _wrong(field, "Give the head space of an opening, or what was left, not both.")
    if told_air is not None and asked.capacity_l is not None and told_air[1] > float(asked.capacity_l):
        words = "There cannot be more air in it than it holds. Check both figures."
        raise _wrong(f"{field}.head_space_l", words)
    return told_air if left is None else _room(asked, left, f"{field}.left_l")


def _room(asked: OxygenIn, left: Span | None, field: str) -> Span | None:
    if asked.capacity_l is None or left is None:
        return None
    holds = float(asked.capacity_l)
    if left[1] > holds:
        raise _wrong(field, "There cannot be more in it than it holds. Check both figures.")
    return head_space_ul((holds, holds), left)


def _wrong(field: str, words: str) -> Invalid:
    return Invalid(words, {field: words})


def _verdict(asked: OxygenIn, clock: SecondClock) -> Verdict:
    words = (
        "An estimate: it never makes a date later. It counts the air shut in, not what comes in while the "
        "lid is off. Cut a skin out, strain the rest, and look at it."
    )
    found: list[Finding] = [note("oxygen-estimate", words)]
    if clock.known < clock.openings:
        words = "The air of an opening is not known: give its head space, or what it holds and what was left."
        found.append(unknown("air-not-known", words))
    if asked.kept_at_c is None and asked.temperature_c > _COMMON_ROOM_C:
        words = (
            "temperature_c is of the air shut in: warm air holds less oxygen, and nothing here says that it "
            "lasts longer. Where it stands in a warm room, give kept_at_c: there it goes faster."
        )
        found.append(note("warm-air-is-no-shelf-life", words))
    if asked.kept_at_c is not None:
        words = "Warm it goes faster by a rule of thumb; a cool shelf is not counted as slower."
        found.append(note("warmth-by-rule-of-thumb", words, FASTER_BY_10_C[0].source))
    return Verdict.of(found)


def _used(asked: OxygenIn) -> list[DataUsed]:
    used = []
    if asked.uptake_fraction is not None:
        by = float(asked.uptake_fraction)
        used = [DataUsed("the oil", "oxygen uptake", by, "share", GIVEN, GIVEN)]
    elif asked.uptake_range is None:
        used = [DataUsed("the oil", f.name, f.value, f.unit, f.source, f.grade) for f in UPTAKES]
    if asked.kept_at_c is not None:
        used += [DataUsed("the oil", f.name, f.value, f.unit, f.source, f.grade) for f in FASTER_BY_10_C]
    return used


def _shown(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.9g}")
