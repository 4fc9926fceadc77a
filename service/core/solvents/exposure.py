"""What somebody breathed over a shift: the average over 8 hours, and the sum of shares of the limits.

Doors: web/api/calc_exposure.py.

Time that nobody measured is not known and never counts as clean air; a missing limit never counts as met.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from service.core.findings import Finding, Invalid, note, unknown, warn
from service.core.solvents.properties import (
    GIVEN,
    Component,
    DataUsed,
    ExposureLimit,
    LimitKind,
    LimitUnit,
    used,
)
from service.core.solvents.vapour import LITRES_PER_MOLE_25C
from service.core.sources import Grade

SHIFT_H: Final = 8.0
DAY_H: Final = 24.0
TWA_SOURCE: Final = "29 CFR 1910.1000(d)(1)"
INDEX_SOURCE: Final = "29 CFR 1910.1000(d)(2)"
_SHORT: Final = frozenset({LimitKind.STEL, LimitKind.CEILING})


@dataclass(frozen=True)
class Measured:
    """One measurement: of what, how much in which unit, over how many hours (``None``: the whole shift)."""

    component: Component
    value: float
    unit: LimitUnit
    hours: float | None = None
    limit: ExposureLimit | None = None


@dataclass(frozen=True)
class Breathed:
    """One substance over the shift. ``share``: of its limit; ``None`` where the limit is not known."""

    name: str
    twa: float
    unit: LimitUnit
    is_at_least: bool
    limit: ExposureLimit | None
    limit_in_unit: float | None
    share: float | None
    checked: bool


@dataclass(frozen=True)
class Exposure:
    """All substances; ``index`` over 1 is over-exposure. ``None``: no substance has a limit that is known."""

    substances: tuple[Breathed, ...]
    index: float | None
    index_is_at_least: bool
    over: bool | None
    findings: tuple[Finding, ...]
    data_used: tuple[DataUsed, ...]


def judge_exposure(measured: Sequence[Measured]) -> Exposure:
    """The averages and the index of one person's shift.

    Hours from 0 to 24 in all for one substance; values from 0 upward. A substance measured once without
    hours was measured over the whole shift. Source: 29 CFR 1910.1000(d)(1) and (2) (read).

    Raises Invalid for no measurement, hours below 0 or over 24, or several without hours.
    """
    if not measured:
        raise _about("Name at least one substance that was measured.")
    substances: list[Breathed] = []
    findings: list[Finding] = []
    data: list[DataUsed] = []
    for group in _by_substance(measured):
        one, found, facts = _substance(group)
        substances.append(one)
        findings += found
        data += facts
    shares = [one.share for one in substances if one.share is not None]
    index = math.fsum(shares) if shares else None
    at_least = any(one.share is None or one.is_at_least for one in substances)
    over = True if index is not None and index > 1 else (None if at_least or index is None else False)
    if over:
        least = "at least " if at_least else ""
        words = (
            f"The shares of the limits add up to {least}{index:.4g}: over 1, that is too much for a shift."
        )
        findings.append(warn("over-exposed", words, INDEX_SOURCE))
    if len(substances) > 1:
        words = "The shares are added up as if all substances harmed the same organs; that is the safe side."
        findings.append(note("shares-added", words, INDEX_SOURCE))
    return Exposure(tuple(substances), index, at_least, over, tuple(findings), tuple(data))


def in_mg_m3(ppm: float, molar_mass: float) -> float:
    """mg/m3 of a vapour in ppm, at 25 C and 101.325 kPa; molar mass in g/mol, above 0.

    >>> round(in_mg_m3(25, 118.174), 1)
    120.8
    """
    return ppm * molar_mass / LITRES_PER_MOLE_25C


def converted(value: float, unit: LimitUnit, to: LimitUnit, component: Component) -> float | None:
    """A concentration in the other unit; ``None`` without a molar mass."""
    if unit is to:
        return value
    if component.molar_mass is None:
        return None
    factor = in_mg_m3(1.0, component.molar_mass.value)
    return value * factor if to is LimitUnit.MG_M3 else value / factor


def _by_substance(measured: Sequence[Measured]) -> list[list[Measured]]:
    """The same CAS number, or without one the same name, is one substance."""
    groups: dict[str, list[Measured]] = {}
    for one in measured:
        key = one.component.key or one.component.cas or " ".join(one.component.name.casefold().split())
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def _substance(group: Sequence[Measured]) -> tuple[Breathed, list[Finding], list[DataUsed]]:
    first = group[0]
    name, unit = first.component.name, first.unit
    hours = _hours(group, name)
    findings: list[Finding] = []
    total, lost = 0.0, False
    for one, h in zip(group, hours, strict=True):
        value = converted(one.value, one.unit, unit, one.component)
        if value is None:
            lost = True
        total += h * (value or 0.0)
        findings += _over_short_limits(one, h)
    if lost:
        findings.append(
            _no_molar_mass(name, "some of its measurements are in the other unit and are left out")
        )
    told = math.fsum(hours)
    if told < SHIFT_H:
        words = (
            f"{name} was measured for {told:g} h of the 8 h. What was breathed in the rest is not known, so "
            "the average is at least what is shown. Write the rest as a measurement too, also if it is 0."
        )
        findings.append(unknown("hours-not-measured", words, TWA_SOURCE, name))
    twa = total / SHIFT_H
    limit, said = _limit(group, unit)
    findings += said
    in_unit = None if limit is None else converted(limit.value, limit.unit, unit, first.component)
    if limit is not None and in_unit is None:
        findings.append(_no_molar_mass(name, f"its limit is in {_in_words(limit.unit)}"))
    converts = any(one.unit is not unit for one in group) or (limit is not None and limit.unit is not unit)
    share = None if in_unit is None else twa / in_unit
    checked = limit is None or limit.grade != Grade.MEMORY.value
    if converts and first.component.is_cut:
        words = f"{name} is a cut and has no molar mass of its own; the one used for it is a convention."
        findings.append(note("molar-mass-of-a-cut", words, about=name))
    made = Breathed(name, twa, unit, lost or told < SHIFT_H, limit, in_unit, share, checked)
    return made, findings, _data(first.component, limit, converts)


def _hours(group: Sequence[Measured], name: str) -> list[float]:
    if len(group) > 1 and any(one.hours is None for one in group):
        raise _about(f"{name}: it was measured {len(group)} times. Give the hours of each.")
    hours = [SHIFT_H if one.hours is None else one.hours for one in group]
    if any(not 0 <= h <= DAY_H for h in hours):
        raise _about(f"{name}: hours lie between 0 and 24.")
    if any(not 0 <= one.value < math.inf for one in group):
        raise _about(f"{name}: a concentration is 0 or more.")
    if math.fsum(hours) > DAY_H:
        raise _about(f"{name}: its hours add up to {math.fsum(hours):g}. A day has 24; correct the longest.")
    return hours


def _limit(group: Sequence[Measured], unit: LimitUnit) -> tuple[ExposureLimit | None, list[Finding]]:
    """The given limit, of several the lowest; else the lowest 8-hour limit that is held."""
    component = group[0].component
    name = component.name
    given = [one.limit for one in group if one.limit is not None and one.limit.kind is LimitKind.TWA]
    pool = given or [one for one in component.limits if one.kind is LimitKind.TWA]
    if not pool:
        short = ", ".join(dict.fromkeys(_said(one) for one in component.limits))
        words = f"No limit over 8 hours is known for {name}, so the index is at least what is shown. "
        words += f"Held are only: {short}. " if short else ""
        words += "Give limit, from section 8 of its data sheet."
        return None, [unknown("limit-not-known", words, about=name)]
    sized = [(converted(one.value, one.unit, unit, component), one) for one in pool]
    known = [(value, one) for value, one in sized if value is not None]
    if not known:
        return pool[0], []
    lowest = min(known, key=lambda pair: (pair[0], pair[1].grade == Grade.MEMORY.value))[1]
    findings: list[Finding] = []
    if len(known) < len(sized):
        findings.append(_no_molar_mass(name, "limits in the other unit could not be compared"))
    if not given:
        checked = ", from memory: not checked" if lowest.grade == Grade.MEMORY.value else ""
        words = f"For {name} the lowest limit held is used: {_said(lowest)} (grade {lowest.grade}{checked})."
        said = warn if checked else note
        findings.append(said("lowest-limit-used", words, lowest.source, name))
    return lowest, findings


def _over_short_limits(one: Measured, hours: float) -> list[Finding]:
    """An average over a whole stretch that is already over a limit of 15 minutes or a ceiling."""
    if hours == 0:
        return []
    short = [limit for limit in one.component.limits if limit.kind in _SHORT]
    short += [one.limit] if one.limit is not None and one.limit.kind in _SHORT else []
    found: list[Finding] = []
    for limit in short:
        edge = converted(limit.value, limit.unit, one.unit, one.component)
        if edge is not None and one.value > edge:
            memory = ", from memory: not checked" if limit.grade == Grade.MEMORY.value else ""
            words = (
                f"{one.component.name}: {one.value:g} {_in_words(one.unit)} is over a limit of a short time: "
                f"{_said(limit)}{memory}."
            )
            found.append(warn("over-short-limit", words, limit.source, one.component.name))
    return found


def _said(limit: ExposureLimit) -> str:
    edition = f" {limit.edition}" if limit.edition else (f", {limit.note}" if limit.note else "")
    body = "given" if limit.body in ("", GIVEN) else limit.body
    return f"{limit.value:g} {_in_words(limit.unit)} {limit.kind.value.upper()}, {body}{edition}"


def _in_words(unit: LimitUnit) -> str:
    return "ppm" if unit is LimitUnit.PPM else "mg/m³"


def _no_molar_mass(name: str, what: str) -> Finding:
    words = f"The molar mass of {name} is not known, and {what}. Give molar_mass_g_mol."
    return unknown("molar-mass-not-known", words, about=name)


def _data(component: Component, limit: ExposureLimit | None, converts: bool) -> list[DataUsed]:
    facts = used(component, "molar_mass") if converts else []
    if limit is not None:
        named = " ".join(part for part in (limit.body, limit.edition, limit.kind.value) if part)
        facts.append(
            DataUsed(
                component.name, f"limit: {named}", limit.value, limit.unit.value, limit.source, limit.grade
            )
        )
    return facts


def _about(sentence: str) -> Invalid:
    return Invalid(sentence, {"measured": sentence})
