"""What a mix gives into the air: which vapours in which shares, and what one ppm of them together weighs.

Doors: core/solvents/room_judgement.py.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.findings import Finding, note, unknown
from service.core.solvents.breathing_limits import limits_of, limits_used, share_of_limit_per_ppm
from service.core.solvents.burning_limits import ESTIMATED, limit_at, limit_of_mix
from service.core.solvents.properties import Component, DataUsed, SolventFamily, used
from service.core.solvents.shares import Amount, moles_of
from service.core.solvents.vapour import LITRES_PER_MOLE_25C, molar_volume_l
from service.core.solvents.vapour_pressure import ATMOSPHERE_KPA

_PPM: Final = 1_000_000.0
Gammas = Callable[[Sequence[Component], Sequence[float], float], Sequence[float] | None]
"""Activity coefficients of liquids (components, mole fractions, C); ``None``: not known."""


class Basis(StrEnum):
    """What of the liquid is in the air: all of it in the end, or what stands above it in the beginning."""

    ALL_EVAPORATES = "all_evaporates"
    SATURATED = "saturated"


@dataclass(frozen=True)
class Blend:
    """The vapours of one reading of a mix on one basis.

    ``shares`` are mole fractions among the vapours without water; ``carried`` is their part of all that
    evaporates. Per ppm of them together: ``mg`` (mg/m3), ``index`` (of the exposure limits),
    ``known_burning`` (of the lower limits that are known). ``lower_limit`` (vol%) and ``mg`` are ``None``
    where one part is not known.
    """

    basis: Basis
    shares: tuple[tuple[Component, float], ...]
    carried: float
    mg: float | None
    lower_limit: float | None
    known_burning: float
    index: float | None
    index_is_at_least: bool
    grams_per_mole: float | None
    ml_per_mole: float | None


@dataclass(frozen=True)
class Above:
    """The air just above the open liquid: each vapour's ppm, and the sums."""

    ppm: tuple[tuple[Component, float], ...]

    @property
    def total_ppm(self) -> float:
        return min(_PPM, sum(ppm for _, ppm in self.ppm))


def evaporating(amounts: Sequence[Amount]) -> list[Amount]:
    """What goes into the air. What nobody called volatile or not is taken to go."""
    return [one for one in amounts if one.component.volatile is not False and one.moles != 0]


def blend_of(
    amounts: Sequence[Amount], basis: Basis, celsius: float, gammas: Gammas | None
) -> tuple[Blend | None, list[Finding]]:
    """The vapours of one reading; ``None`` with findings where their shares cannot be told."""
    gone = evaporating(amounts)
    findings = [_taken_to_go(one.component) for one in gone if _volatile_untold(one.component)]
    if all(one.component.water for one in gone):
        sentence = "Nothing but water is known to evaporate from this, so no vapour is worked out."
        return None, [*findings, note("nothing-evaporates", sentence)]
    split, missing = _split(gone, basis, celsius, gammas)
    if split is None:
        return None, findings + missing
    made, more = _blend(gone, split, basis, celsius)
    return made, findings + missing + more


def above_liquid(amounts: Sequence[Amount], celsius: float, gammas: Gammas | None) -> Above | None:
    """The saturated air above one reading. Resin and oil are left out of the liquid, which gives more."""
    gone = evaporating(amounts)
    partial = _partial_pressures(gone, celsius, gammas)[0]
    if not partial:
        return None
    return Above(
        tuple(
            (one.component, min(_PPM, _PPM * kpa / ATMOSPHERE_KPA))
            for one, kpa in zip(gone, partial, strict=True)
            if not one.component.water
        )
    )


def vapour_per_litre(amounts: Sequence[Amount]) -> float | None:
    """Litres of vapour at 25 C from one litre of the whole liquid, water left out; ``None`` if not known."""
    volumes = [one.millilitres for one in amounts]
    moles = [one.moles for one in evaporating(amounts) if not one.component.water]
    if any(one is None for one in (*volumes, *moles)):
        return None
    litres = math.fsum(volume or 0.0 for volume in volumes) / 1000
    return LITRES_PER_MOLE_25C * math.fsum(mole or 0.0 for mole in moles) / litres


def pressure_kpa(component: Component, celsius: float) -> float | None:
    """Vapour pressure of the pure liquid where a source vouches for it at that temperature, else ``None``."""
    if component.curve is not None and component.curve.covers(celsius):
        try:
            kpa = component.curve.kpa(celsius)
        except (OverflowError, ValueError, ZeroDivisionError):
            return None
        return kpa if 0 < kpa < math.inf else None
    points = [figure.value for figure, at in component.vapour_pressures if abs(at - celsius) < 0.01]
    return max(points, default=None)


def data_used(amounts: Sequence[Amount], celsius: float) -> list[DataUsed]:
    """Every figure of the components that the answer was made from."""
    found: list[DataUsed] = []
    for one in amounts:
        found += used(one.component, "molar_mass", "density")
    for one in evaporating(amounts):
        if one.component.water:
            continue
        warm = ("heat_of_combustion",) if celsius > 25 and one.component.lower_limit else ()
        found += used(one.component, "lower_limit", *warm)
        found += limits_used(one.component, limits_of(one.component))
    for one in evaporating(amounts):
        kpa = pressure_kpa(one.component, celsius)
        if kpa is not None:
            found.append(_pressure_used(one.component, kpa, celsius))
    return found


def _pressure_used(component: Component, kpa: float, celsius: float) -> DataUsed:
    curve = component.curve if component.curve and component.curve.covers(celsius) else None
    first = component.vapour_pressures[0][0] if component.vapour_pressures else None
    source = curve.source if curve else first.source if first else ""
    grade = curve.grade if curve else first.grade if first else ""
    return DataUsed(component.name, f"vapour_pressure at {celsius:g} C", kpa, "kPa", source, grade)


def _split(
    gone: Sequence[Amount], basis: Basis, celsius: float, gammas: Gammas | None
) -> tuple[list[float] | None, list[Finding]]:
    """Mole fractions of what evaporates. One liquid alone needs no figure for that."""
    if len(gone) == 1:
        return [1.0], []
    if basis is Basis.SATURATED:
        partial, findings = _partial_pressures(gone, celsius, gammas)
        return (_whole(partial) if partial is not None else None), findings
    moles, missing = moles_of(gone)
    return (_whole(moles) if moles is not None else None), missing


def _partial_pressures(
    gone: Sequence[Amount], celsius: float, gammas: Gammas | None
) -> tuple[list[float] | None, list[Finding]]:
    moles, findings = ([1.0], []) if len(gone) == 1 else moles_of(gone)
    pure = [pressure_kpa(one.component, celsius) for one in gone]
    findings = list(findings)
    for one, kpa in zip(gone, pure, strict=True):
        if kpa is None:
            sentence = (
                f"No vapour pressure of {one.component.name} at {celsius:g} C is known, so the air above the "
                "liquid is not known. Take one with its temperature, and the boiling point, from section 9."
            )
            findings.append(unknown("vapour-pressure-not-known", sentence, about=one.component.name))
    if moles is None or any(kpa is None for kpa in pure):
        return None, findings
    liquid = _whole(moles)
    factors: Sequence[float] = [1.0] * len(gone)
    if len(gone) > 1 and gammas is not None:
        told = gammas([one.component for one in gone], liquid, celsius)
        if told is None:
            sentence = "How these liquids influence each other is not known; the air above them is not known."
            return None, [*findings, unknown("activity-not-known", sentence)]
        factors = told
    elif len(gone) > 1:
        findings.append(IDEAL)
    return [x * f * (kpa or 0.0) for x, f, kpa in zip(liquid, factors, pure, strict=True)], findings


IDEAL: Final = unknown(
    "ideal-mixing",
    "How these liquids influence each other is not known; the air above them is worked out as if they did "
    "not. Alcohol with a hydrocarbon gives off more than that; what all of it gives stands beside it.",
)


def _blend(
    gone: Sequence[Amount], split: Sequence[float], basis: Basis, celsius: float
) -> tuple[Blend, list[Finding]]:
    carried = math.fsum(z for one, z in zip(gone, split, strict=True) if not one.component.water)
    shares = tuple(
        (one.component, z / carried) for one, z in zip(gone, split, strict=True) if not one.component.water
    )
    findings: list[Finding] = []
    limits: list[float | None] = []
    index, told, at_least = 0.0, False, False
    for component, share in shares:
        burning, said = _lower_limit(component, celsius)
        limits.append(burning)
        breath = limits_of(component)
        findings += [*said, *breath.findings]
        strictest = breath.strictest
        part = share_of_limit_per_ppm(component, strictest, celsius) if strictest else None
        told = told or part is not None
        at_least = at_least or part is None or not breath.complete
        index += share * (part or 0.0)
    weights = [share for _, share in shares]
    known = [limit for limit in limits if limit is not None]
    weight = _sum_of(weights, [_grams_per_mole(one) for one, _ in shares])
    made = Blend(
        basis,
        shares,
        carried,
        None if weight is None else weight / molar_volume_l(celsius),
        min(100.0, limit_of_mix(weights, known)) if len(known) == len(limits) else None,
        math.fsum(w / limit for w, limit in zip(weights, limits, strict=True) if limit) / 10_000,
        index if told else None,
        at_least,
        _sum_of(split, [_grams_per_mole(one.component) for one in gone]),
        _sum_of(split, [_ml_per_mole(one.component) for one in gone]),
    )
    return made, findings


def _lower_limit(component: Component, celsius: float) -> tuple[float | None, list[Finding]]:
    name, known = component.name, component.lower_limit
    if known is None:
        if component.family is SolventFamily.HALOGENATED or component.no_flash_because:
            sentence = (
                f"No lower limit is held of {name}. Without a flash point its vapour may still burn in the "
                "right share of air, and in the vapour of others."
            )
        else:
            sentence = f"The lower limit at which vapour of {name} burns is not known. Give lel_vol_percent."
        return None, [unknown("lower-limit-not-known", sentence, about=name)]
    said = []
    if known.grade == ESTIMATED:
        sentence = f"The lower limit of {name} is estimated from its formula; none was measured that is held."
        said.append(unknown("lower-limit-estimated", sentence, about=name))
    return lower_limit_of(component, celsius), said


def _grams_per_mole(component: Component) -> float | None:
    return component.molar_mass.value if component.molar_mass else None


def lower_limit_of(component: Component, celsius: float) -> float | None:
    """The lower limit of one vapour at a temperature, vol%; ``None`` where none is known."""
    if component.lower_limit is None:
        return None
    heat = component.heat_of_combustion.value if component.heat_of_combustion else None
    return limit_at(component.lower_limit.value, celsius, heat)


def _ml_per_mole(component: Component) -> float | None:
    if component.molar_mass is None or component.density is None:
        return None
    return component.molar_mass.value / component.density.value


def _sum_of(weights: Sequence[float], values: Sequence[float | None]) -> float | None:
    if any(value is None for value in values):
        return None
    return math.fsum(w * (value or 0.0) for w, value in zip(weights, values, strict=True))


def _whole(parts: Sequence[float]) -> list[float]:
    total = math.fsum(parts)
    return [part / total for part in parts] if total > 0 else [1 / len(parts) for _ in parts]


def _volatile_untold(component: Component) -> bool:
    return component.volatile is None and not component.water


def _taken_to_go(component: Component) -> Finding:
    sentence = f"Nobody said whether {component.name} evaporates; it is taken to."
    return note("taken-to-evaporate", sentence, about=component.name)
