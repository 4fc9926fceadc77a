"""The liquids of a question as JSON, common to the calculators of solvents and air.

What is given beats the tables and is marked "given"; what is not given is looked up by CAS number, then by
``substance``, then by ``name``; what is not held either stays not known.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated, Any, Final

from pydantic import Field, field_validator

from service.core.component_lines import read_cas
from service.core.findings import Finding, Invalid
from service.core.solvents.given_figures import doubted
from service.core.solvents.properties import (
    GIVEN,
    Component,
    DataUsed,
    ExposureLimit,
    Known,
    LimitKind,
    LimitUnit,
    Share,
    ShareKind,
    SolventFamily,
)
from service.core.solvents.shares import MOST_RANGES
from service.records.find_solvent import find_solvent
from service.records.solvent_facts import curve_from_points
from service.web.api.hazard_mix import Span, Temperature, span_or_sentence
from service.web.api_model import ApiModel

MOST_COMPONENTS: Final = 40
Positive = Annotated[Decimal, Field(gt=0, le=1_000_000)]
Percent = Annotated[Decimal, Field(gt=0, le=100)]


class ExposureLimitIn(ApiModel):
    """A limit of the air people breathe, in the unit its body gives it in."""

    value: Positive
    unit: LimitUnit
    kind: LimitKind = LimitKind.TWA
    body: Annotated[str, Field(max_length=120)] = ""
    edition: Annotated[str, Field(max_length=120)] = ""


class ComponentIn(ApiModel):
    """One component. Exactly one amount: a number, or a range low end first. ``percent`` is by mass."""

    name: Annotated[str, Field(max_length=120)] = ""
    substance: Annotated[str, Field(max_length=120)] = ""
    cas: Annotated[str, Field(max_length=20)] = ""
    mole_fraction: Span | None = None
    mass_fraction: Span | None = None
    volume_fraction: Span | None = None
    percent: Span | None = None
    mass_g: Span | None = None
    volume_ml: Span | None = None
    molar_mass_g_mol: Positive | None = None
    density_g_ml: Annotated[Decimal, Field(gt=0, le=25)] | None = None
    boiling_point_c: Temperature | None = None
    vapour_pressure_kpa: Positive | None = None
    at_c: Annotated[Temperature | None, Field(description="temperature of vapour_pressure_kpa")] = None
    flash_point_c: Temperature | None = None
    does_not_flash: Annotated[bool, Field(description="examined: no flash point up to boiling")] = False
    lel_vol_percent: Percent | None = None
    uel_vol_percent: Percent | None = None
    kinematic_viscosity_40c: Annotated[Decimal, Field(gt=0, le=1_000_000_000)] | None = None
    volatile: bool | None = None
    water: bool | None = None
    voc_exempt: bool | None = None
    voc_g_l: Annotated[Decimal, Field(ge=0, le=25_000)] | None = None
    exposure_limits: Annotated[list[ExposureLimitIn], Field(max_length=20)] = Field(default_factory=list)

    @field_validator(*(kind.value for kind in ShareKind), mode="before")
    @classmethod
    def _amount(cls, value: Any) -> Any:
        """Before the plain guard of numbers, whose sentence knows nothing of ranges."""
        return value if value is None else span_or_sentence(value)


class DataUsedOut(ApiModel):
    """A figure that went into the answer."""

    ingredient: str
    property: str
    value: float | str
    unit: str
    source: str
    grade: str


@dataclass(frozen=True)
class ReadComponents:
    """The liquids of a question, and what was found while looking them up."""

    components: tuple[Component, ...]
    findings: tuple[Finding, ...]


def components_of(asked: Sequence[ComponentIn]) -> ReadComponents:
    """The liquids that the rules judge. Raises Invalid, naming the component, for what cannot be."""
    _refuse_ranges(asked)
    components: list[Component] = []
    findings: list[Finding] = []
    for number, one in enumerate(asked, 1):
        name = one.name or one.substance or one.cas or f"component {number}"
        found = find_solvent(_cas(one.cas, name), one.substance, one.name)
        findings += [replace(finding, about=name) for finding in found.findings]
        held = found.component or Component(name, None)
        made = _given_first(one, held, name)
        made, doubts = doubted(made, held, name)
        components.append(made)
        findings += doubts
    return ReadComponents(tuple(components), tuple(findings))


def data_used_out(used: Sequence[DataUsed]) -> list[DataUsedOut]:
    """Figures as JSON, each once, in the order they were used."""
    return [DataUsedOut(**vars(one)) for one in dict.fromkeys(used)]


def _given_first(asked: ComponentIn, held: Component, name: str) -> Component:
    share = _share(asked, name)
    flash = _told(asked.flash_point_c, "C", held.flash_point)
    if asked.does_not_flash and asked.flash_point_c is not None:
        raise _about(name, "it is said to have a flash point and to have none. Keep the one that is right.")
    _refuse_limits(asked, name)
    if asked.water and held.family not in (None, SolventFamily.WATER):
        raise _about(name, "it is held here as a solvent, not as water. Take water out, or correct its name.")
    made = replace(
        held,
        name=name,
        share=share,
        cas=_cas(asked.cas, name) or held.cas,
        molar_mass=_told(asked.molar_mass_g_mol, "g/mol", held.molar_mass),
        density=_told(asked.density_g_ml, "g/ml", held.density),
        boiling_point=_told(asked.boiling_point_c, "C", held.boiling_point),
        flash_point=None if asked.does_not_flash else flash,
        no_flash_because="given: it does not flash" if asked.does_not_flash else held.no_flash_because,
        lower_limit=_told(asked.lel_vol_percent, "vol%", held.lower_limit),
        upper_limit=_told(asked.uel_vol_percent, "vol%", held.upper_limit),
        viscosity=_told(asked.kinematic_viscosity_40c, "mm2/s", held.viscosity),
        volatile=held.volatile if asked.volatile is None else asked.volatile,
        water=held.water if asked.water is None else asked.water,
        voc_exempt=asked.voc_exempt,
        voc_content=_told(asked.voc_g_l, "g/l", held.voc_content),
        limits=_limits(asked) or held.limits,
    )
    return _with_pressure(asked, made, name)


def _with_pressure(asked: ComponentIn, made: Component, name: str) -> Component:
    """A given vapour pressure beats the tables; with the boiling point it gives a curve of its own."""
    if asked.vapour_pressure_kpa is None:
        if asked.at_c is not None:
            raise _about(name, "at_c belongs to vapour_pressure_kpa. Give both or neither.")
        return made
    if asked.at_c is None:
        raise _about(name, "a vapour pressure holds at one temperature. Give it as at_c.")
    point = (Known(float(asked.vapour_pressure_kpa), "kPa"), float(asked.at_c))
    made = replace(made, vapour_pressures=(point,))
    return replace(made, curve=curve_from_points(made))


def _share(asked: ComponentIn, name: str) -> Share:
    told = [
        (kind, getattr(asked, kind.value)) for kind in ShareKind if getattr(asked, kind.value) is not None
    ]
    if len(told) != 1:
        said = ", ".join(kind.value for kind, _ in told) or "none"
        raise _about(
            name,
            "give exactly one amount of mole_fraction, mass_fraction, volume_fraction, percent, mass_g, "
            f"volume_ml; it has {said}.",
        )
    kind, value = told[0]
    low, high = (value[0], value[1]) if isinstance(value, list) else (value, value)
    if low < 0 or low > high:
        raise _about(name, "an amount is zero or more; a range is written low end first, like [3, 7].")
    return Share(kind, float(low), float(high))


def _told(value: Decimal | None, unit: str, held: Known | None) -> Known | None:
    return held if value is None else Known(float(value), unit)


def _limits(asked: ComponentIn) -> tuple[ExposureLimit, ...]:
    return tuple(
        ExposureLimit(float(one.value), one.unit, one.kind, one.body or GIVEN, one.edition)
        for one in asked.exposure_limits
    )


def _refuse_ranges(asked: Sequence[ComponentIn]) -> None:
    amounts = [getattr(one, kind.value) for one in asked for kind in ShareKind]
    if sum(isinstance(value, list) for value in amounts) > MOST_RANGES:
        sentence = f"At most {MOST_RANGES} amounts may be ranges. Give single figures for the others."
        raise Invalid(sentence, {"components": sentence})


def _refuse_limits(asked: ComponentIn, name: str) -> None:
    low, high = asked.lel_vol_percent, asked.uel_vol_percent
    if low is not None and high is not None and low >= high:
        raise _about(name, "the lower limit of flammability is below the upper one. Correct one of them.")


def _cas(text: str, name: str) -> str:
    if not text.strip():
        return ""
    try:
        return read_cas(re.sub(r"\s", "", re.sub(r"[\u2010-\u2015\u2212]", "-", text)))
    except Invalid as wrong:
        raise _about(name, wrong.sentence) from None


def _about(name: str, sentence: str) -> Invalid:
    return Invalid(f"{name}: {sentence}", {"components": f"{name}: {sentence}"})
