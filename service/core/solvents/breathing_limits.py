"""Limits of the air people breathe: of several bodies the lowest counts, and shares of limits add up.

Doors: core/solvents/vapour_of_mix.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from service.core.findings import Finding, unknown, warn
from service.core.solvents.properties import Component, DataUsed, ExposureLimit, LimitKind, LimitUnit
from service.core.solvents.vapour import mg_per_m3, molar_volume_l, ppm_of

MEMORY: Final = "memory"
KIND_WORDS: Final = {
    LimitKind.TWA: "8-hour limit",
    LimitKind.STEL: "short-time limit",
    LimitKind.CEILING: "ceiling",
}


@dataclass(frozen=True)
class Lowest:
    """The lowest limit of one kind and what it is in mg/m3 at 25 C (in ppm where no molar mass is known)."""

    limit: ExposureLimit
    compared: float


@dataclass(frozen=True)
class BreathingLimits:
    """What limits one component: the lowest of each kind, whether one is missing, and what to say of it."""

    lowest: dict[LimitKind, Lowest]
    complete: bool
    findings: tuple[Finding, ...]

    @property
    def strictest(self) -> ExposureLimit | None:
        """The lowest of all kinds: what a moment's level is held against. ``None``: no limit is known."""
        found = min(self.lowest.values(), key=lambda one: one.compared, default=None)
        return found.limit if found else None


def limits_of(component: Component) -> BreathingLimits:
    """The lowest limit per kind over all bodies held. Petroleum cuts keep mg/m3, in which theirs are set.

    Complete only with an 8-hour limit or a ceiling: a short-time limit alone says nothing of the whole day.
    """
    molar = component.molar_mass.value if component.molar_mass else None
    units = {one.unit for one in component.limits}
    lowest: dict[LimitKind, Lowest] = {}
    for one in component.limits:
        compared = _compared(one, molar, units)
        held = lowest.get(one.kind)
        if compared is not None and (held is None or compared < held.compared):
            lowest[one.kind] = Lowest(one, compared)
    comparable = molar is not None or len(units) < 2
    complete = comparable and bool({LimitKind.TWA, LimitKind.CEILING} & set(lowest))
    return BreathingLimits(lowest, complete, tuple(_findings(component, lowest, comparable, complete)))


def share_of_limit_per_ppm(component: Component, limit: ExposureLimit, celsius: float) -> float | None:
    """What one ppm of a component is of its limit; ``None`` where mg/m3 cannot be told without molar mass."""
    if limit.unit is LimitUnit.PPM:
        return 1 / limit.value
    if component.molar_mass is None:
        return None
    return component.molar_mass.value / molar_volume_l(celsius) / limit.value


def limit_in_ppm(component: Component, limit: ExposureLimit) -> float | None:
    """A limit in ppm at 25 C; ``None`` where that needs a molar mass nobody knows."""
    if limit.unit is LimitUnit.PPM:
        return limit.value
    return ppm_of(limit.value, component.molar_mass.value) if component.molar_mass else None


def limits_used(component: Component, limits: BreathingLimits) -> list[DataUsed]:
    """The lowest limit of each kind as figures that went into the answer, with body and edition."""
    return [
        DataUsed(
            component.name,
            f"exposure_limit_{kind.value}",
            one.limit.value,
            one.limit.unit.value,
            ", ".join(part for part in (one.limit.body, one.limit.edition, one.limit.source) if part),
            one.limit.grade,
        )
        for kind, one in limits.lowest.items()
    ]


def _compared(limit: ExposureLimit, molar: float | None, units: set[LimitUnit]) -> float | None:
    if molar is None:
        # Without a molar mass ppm and mg/m3 stand apart: those in ppm are compared, and it is said.
        return limit.value if len(units) == 1 or limit.unit is LimitUnit.PPM else None
    return limit.value if limit.unit is LimitUnit.MG_M3 else mg_per_m3(limit.value, molar)


def _findings(
    component: Component, lowest: dict[LimitKind, Lowest], comparable: bool, complete: bool
) -> list[Finding]:
    name = component.name
    found = [
        warn(
            "limit-not-checked",
            f"The {KIND_WORDS[kind]} of {name} ({one.limit.body}) was written down from memory and not "
            "checked against its source. Look it up before you rely on it.",
            about=name,
        )
        for kind, one in lowest.items()
        if one.limit.grade == MEMORY
    ]
    if not lowest:
        sentence = f"No exposure limit is known of {name}. That does not make it harmless to breathe."
        found.append(unknown("limit-not-known", sentence, about=name))
    elif not comparable:
        sentence = f"Some limits of {name} are in ppm, some in mg/m3. Give its molar mass to compare them."
        found.append(unknown("limits-not-comparable", sentence, about=name))
    elif not complete:
        sentence = f"Only a short-time limit is known of {name}. Give its 8-hour limit."
        found.append(unknown("limit-not-known", sentence, about=name))
    return found
