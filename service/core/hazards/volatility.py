"""How readily a liquid goes into the air: low, medium or high, by boiling point and by vapour pressure.

Doors: core/hazards/ventilation_class.py.

Source: two lines of the schemes, high from ``BP <= 2 OT + 10``, low above ``5 OT + 50`` (C), and two bounds
of vapour pressure at the operating temperature, 0.5 and 25 kPa; from memory, found to agree with each other
at 20 C for 30 liquids. Not for liquids above their boiling point (HSE 2017, paragraph 5, read).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.hazards.ventilation_reasons import HSE, OURS, About, Reason
from service.core.solvents.properties import Component, DataUsed, Known
from service.core.solvents.vapour_pressure import ATMOSPHERE_KPA
from service.core.sources import Provenance

LOW_BELOW_KPA: Final = 0.5
HIGH_ABOVE_KPA: Final = 25.0
# A figure that lies on a line counts as the higher band, also where its arithmetic misses by a last digit.
_ON_THE_LINE: Final = 1e-9
_SAME_C: Final = 0.01
_MOST_KPA: Final = 10 * ATMOSPHERE_KPA


class Volatility(StrEnum):
    """``NOT_APPLICABLE``: at or above its boiling point, outside the scheme."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"
    NOT_APPLICABLE = "not_applicable"


_ORDER: Final = list(Volatility)


@dataclass(frozen=True)
class VolatilityFound:
    """``band`` None: no figure settles it. ``at_least`` is what is known of it then."""

    name: str
    band: Volatility | None
    at_least: Volatility
    because: tuple[Reason, ...]
    used: tuple[DataUsed, ...]


def worse_volatility(*bands: Volatility) -> Volatility:
    """The more volatile of several.

    >>> worse_volatility(Volatility.LOW, Volatility.HIGH).value
    'high'
    """
    return max(bands, key=_ORDER.index)


def by_boiling_point(boiling_c: float, operating_c: float) -> Volatility:
    """The band by the two lines; on a line the higher.

    >>> by_boiling_point(150, 20).value, by_boiling_point(56.1, 25).value, by_boiling_point(39.8, 40).value
    ('medium', 'high', 'not_applicable')
    """
    if operating_c >= boiling_c - _ON_THE_LINE:
        return Volatility.NOT_APPLICABLE
    if boiling_c <= 2 * operating_c + 10 + _ON_THE_LINE:
        return Volatility.HIGH
    if boiling_c > 5 * operating_c + 50 + _ON_THE_LINE:
        return Volatility.LOW
    return Volatility.MEDIUM


def by_pressure(kpa: float) -> Volatility:
    """The band by vapour pressure at the operating temperature.

    >>> by_pressure(0.49).value, by_pressure(0.5).value, by_pressure(25).value, by_pressure(25.1).value
    ('low', 'medium', 'medium', 'high')
    """
    if kpa >= ATMOSPHERE_KPA:
        return Volatility.NOT_APPLICABLE
    if kpa > HIGH_ABOVE_KPA:
        return Volatility.HIGH
    return Volatility.LOW if kpa < LOW_BELOW_KPA else Volatility.MEDIUM


def volatility_of(liquid: Component, operating_c: float) -> VolatilityFound:
    """Every criterion for which there is a figure, and the worst of them.

    Args:
        operating_c: at which it is used, in C.
    """
    settled: list[tuple[Volatility, Reason]] = []
    hinted: list[tuple[Volatility, Reason]] = []
    used: list[DataUsed] = []
    if liquid.boiling_point is not None:
        settled.append(_by_line(liquid, liquid.boiling_point, operating_c))
        used.append(_data(liquid, "boiling_point", liquid.boiling_point))
    pressure = _pressure(liquid, operating_c)
    if pressure is not None:
        (settled if pressure.settles else hinted).append(_by_kpa(liquid, pressure, operating_c))
        used.append(
            DataUsed(liquid.name, "vapour_pressure", pressure.kpa, "kPa", pressure.source, pressure.grade)
        )
    if not settled and not hinted and liquid.volatile is False:
        words = f"{liquid.name} does not evaporate: it stays in the film."
        settled.append(
            (Volatility.LOW, Reason(About.VOLATILITY, words, OURS, Provenance.DERIVED, "", liquid.name))
        )
    least = worse_volatility(Volatility.LOW, *(band for band, _ in (*settled, *hinted)))
    if settled or least is Volatility.NOT_APPLICABLE:
        reasons = tuple(reason for _, reason in (*settled, *hinted))
        return VolatilityFound(liquid.name, least, least, reasons, tuple(used))
    words = (
        f"It is not known how volatile {liquid.name} is: it counts as high. Give its boiling point, "
        "from section 9 of its sheet."
    )
    reason = Reason(About.VOLATILITY, words, OURS, Provenance.DERIVED, component=liquid.name)
    return VolatilityFound(liquid.name, None, least, (reason, *(r for _, r in hinted)), tuple(used))


@dataclass(frozen=True)
class _Pressure:
    kpa: float
    source: str
    grade: str
    how: str = ""
    settles: bool = True


def _by_line(liquid: Component, boiling: Known, operating_c: float) -> tuple[Volatility, Reason]:
    found = by_boiling_point(boiling.value, operating_c)
    low, high = 5 * operating_c + 50, 2 * operating_c + 10
    where = {
        Volatility.NOT_APPLICABLE: "is used at or above it: outside the scheme",
        Volatility.HIGH: f"at most 2 × {operating_c:g} + 10 = {high:g} °C: high",
        Volatility.MEDIUM: f"above {high:g} °C and at most 5 × {operating_c:g} + 50 = {low:g} °C: medium",
        Volatility.LOW: f"above 5 × {operating_c:g} + 50 = {low:g} °C: low",
    }[found]
    joint = ", and it " if found is Volatility.NOT_APPLICABLE else ", "
    words = f"{liquid.name} boils at {boiling.value:g} °C{joint}{where}."
    grade = Provenance.READ if found is Volatility.NOT_APPLICABLE else Provenance.MEMORY
    return found, Reason(
        About.VOLATILITY, words, HSE, grade, "", liquid.name, "boiling_point", boiling.value, "C"
    )


def _by_kpa(liquid: Component, pressure: _Pressure, operating_c: float) -> tuple[Volatility, Reason]:
    found = by_pressure(pressure.kpa)
    if pressure.how and pressure.settles and found is Volatility.NOT_APPLICABLE:
        # The pressure of a warmer liquid only bounds this one; that does not make it boil here.
        found = Volatility.HIGH
    at = pressure.how or f"at {operating_c:g} °C"
    words = f"Vapour pressure of {liquid.name} {at} is {pressure.kpa:.3g} kPa: "
    words += "it boils" if found is Volatility.NOT_APPLICABLE else found.value
    words += " (low below 0.5, high above 25 kPa)."
    return found, Reason(
        About.VOLATILITY,
        words,
        HSE,
        Provenance.MEMORY,
        "",
        liquid.name,
        "vapour_pressure",
        pressure.kpa,
        "kPa",
    )


def _pressure(liquid: Component, operating_c: float) -> _Pressure | None:
    """At the operating temperature: as told for it, by the curve, by one told for a warmer liquid (an upper
    bound), last by one told for a colder liquid (which settles nothing)."""
    points = sorted(((at, known) for known, at in liquid.vapour_pressures), key=lambda one: one[0])
    here = [known for at, known in points if abs(at - operating_c) <= _SAME_C]
    if here:
        worst = max(here, key=lambda known: known.value)
        return _Pressure(worst.value, worst.source, worst.grade)
    if liquid.curve is not None and (kpa := _on_curve(liquid, operating_c)) is not None:
        within = liquid.curve.covers(operating_c)
        beyond = "" if within else f"at {operating_c:g} °C, beyond its source's range,"
        return _Pressure(kpa, liquid.curve.source, liquid.curve.grade, beyond, not beyond)
    warmer = [(at, known) for at, known in points if at > operating_c]
    if warmer:
        at, known = warmer[0]
        return _Pressure(known.value, known.source, known.grade, f"at {at:g} °C, which is warmer,")
    colder = [(at, known) for at, known in points if at < operating_c]
    if colder:
        at, known = colder[-1]
        how = f"at {at:g} °C, which is colder than the task,"
        return _Pressure(known.value, known.source, known.grade, how, settles=False)
    return None


def _on_curve(liquid: Component, operating_c: float) -> float | None:
    assert liquid.curve is not None
    try:
        # Through odd points a curve runs away; far above boiling more says no more.
        return min(liquid.curve.kpa(operating_c), _MOST_KPA)
    except OverflowError:
        return _MOST_KPA
    except (ValueError, ZeroDivisionError):
        return None


def _data(liquid: Component, name: str, known: Known) -> DataUsed:
    return DataUsed(liquid.name, name, known.value, known.unit, known.source, known.grade)
