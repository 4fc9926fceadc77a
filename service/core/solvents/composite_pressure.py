"""Composite vapour pressure of the VOC in a mix at 20 C, as US rules on cleaning solvents ask for it.

Doors: web/api/calc_voc.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from service.core.solvents.properties import Component
from service.core.solvents.shares import missing_share, readings
from service.core.solvents.voc_parts import Part, part_of
from service.core.solvents.voc_rules import ExemptList

AT_C: Final = 20.0


def composite_pressure(
    components: Sequence[Component], exempt: ExemptList
) -> tuple[float | None, tuple[str, ...]]:
    """Pressure in kPa, the worst reading's, and what it lacks where it is ``None``.

    ``sum(n p) / (n water + n exempt + n VOC)``, n in moles; what stays in the film is left out.
    Source: EPA aerospace calculation sheet (read); COMAR 26.11.19.02 (read). An ideal mixture by definition.
    """
    lacks = [f"{name}: {what}" for name, what in _missing(components, exempt)]
    if missing_share(components):
        lacks.append("the part of the mix that is not told")
    worst: float | None = None
    for amounts in () if lacks else readings(components):
        moles, pressure = 0.0, 0.0
        for one in amounts:
            part = part_of(one.component, exempt).local
            if part is Part.FILM:
                continue
            if one.moles is None:
                return None, (f"{one.component.name}: a density",)
            moles += one.moles
            if part not in (Part.WATER, Part.EXEMPT):
                pressure += one.moles * (_pressure(one.component) or 0.0)
        if moles > 0:
            worst = max(worst or 0.0, pressure / moles)
    return worst, tuple(lacks)


def _missing(components: Sequence[Component], exempt: ExemptList) -> list[tuple[str, str]]:
    found: list[tuple[str, str]] = []
    for one in components:
        part = part_of(one, exempt).local
        if part is Part.OPEN:
            found.append((one.name, "whether it evaporates"))
        elif part is not Part.FILM:
            if one.molar_mass is None:
                found.append((one.name, "a molar mass"))
            if part not in (Part.WATER, Part.EXEMPT) and _pressure(one) is None:
                found.append((one.name, "a vapour pressure at 20 °C"))
    return found


def _pressure(one: Component) -> float | None:
    """In kPa at 20 C: a point there, else the curve."""
    points = [known.value for known, at in one.vapour_pressures if at == AT_C]
    if points:
        return max(points)
    return one.curve.kpa(AT_C) if one.curve is not None else None
