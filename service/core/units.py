"""The closed list of units, each with one exact size, and how a figure is rounded and written.

Doors: core/quantities.py (which hands these names on), core/bench_units.py, core/conversion.py.

Sizes are in the smallest unit of a basis: milligrams, microlitres or pieces. The US and the imperial measures
are different units and never mixed. Avoirdupois pound 453.59237 g, US gallon 231 cubic inches, imperial
gallon 4.54609 l (NIST Handbook 44, Appendix C; NIST SP 811, Appendix B; figures from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal, Inexact
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import Final

from service.core.materials import Basis

EXACT: Final = Context(prec=160, traps=[Inexact])
"""Decimal arithmetic that fails rather than round."""


class UnitSystem(StrEnum):
    """Whose pints and gallons are meant."""

    US = "us"
    IMPERIAL = "imperial"


@dataclass(frozen=True)
class Unit:
    """One unit: ``factor`` is its exact size in mg, microlitres or pieces.

    ``convention`` is a sentence where the size is an agreement rather than law; ``rough`` marks a measure
    (a drop) that no bench repeats well, so nothing reckoned from it is called exact.
    """

    key: str
    singular: str
    plural: str
    basis: Basis
    factor: Decimal
    convention: str = ""
    rough: bool = False


_SPOON: Final = "a metric measuring spoon: tsp 5 ml, tbsp 15 ml, as sold where the imperial pint is used"


def _listed() -> dict[str, Unit]:
    m, v = Basis.MASS, Basis.VOLUME
    rows = [
        Unit("mg", "mg", "mg", m, Decimal(1)),
        Unit("g", "g", "g", m, Decimal(1000)),
        Unit("kg", "kg", "kg", m, Decimal(1_000_000)),
        Unit("oz", "oz by weight", "oz by weight", m, Decimal("28349.523125")),
        Unit("lb", "lb", "lb", m, Decimal("453592.37")),
        Unit("ml", "ml", "ml", v, Decimal(1000)),
        Unit("l", "l", "l", v, Decimal(1_000_000)),
        Unit("drop", "drop", "drops", v, Decimal(50), "20 drops to the millilitre; drops differ", rough=True),
        Unit("us-tsp", "US tsp", "US tsp", v, Decimal("4928.92159375")),
        Unit("us-tbsp", "US tbsp", "US tbsp", v, Decimal("14786.76478125")),
        Unit("us-fl-oz", "US fl oz", "US fl oz", v, Decimal("29573.5295625")),
        Unit("us-cup", "US cup", "US cups", v, Decimal("236588.2365")),
        Unit("us-pint", "US pint", "US pints", v, Decimal("473176.473")),
        Unit("us-quart", "US quart", "US quarts", v, Decimal("946352.946")),
        Unit("us-gal", "US gal", "US gal", v, Decimal("3785411.784")),
        Unit("metric-tsp", "metric tsp", "metric tsp", v, Decimal(5000), _SPOON),
        Unit("metric-tbsp", "metric tbsp", "metric tbsp", v, Decimal(15000), _SPOON),
        Unit("imp-fl-oz", "imperial fl oz", "imperial fl oz", v, Decimal("28413.0625")),
        Unit("imp-cup", "imperial cup", "imperial cups", v, Decimal("284130.625"), "half an imperial pint"),
        Unit("imp-pint", "imperial pint", "imperial pints", v, Decimal("568261.25")),
        Unit("imp-quart", "imperial quart", "imperial quarts", v, Decimal("1136522.5")),
        Unit("imp-gal", "imperial gal", "imperial gal", v, Decimal(4_546_090)),
        Unit("piece", "piece", "pieces", Basis.PIECES, Decimal(1)),
    ]
    return {unit.key: unit for unit in rows}


UNITS: Final[Mapping[str, Unit]] = MappingProxyType(_listed())
"""The closed list of units, by key."""


def decimal_of(value: Fraction, places: int) -> Decimal:
    """The fraction as a Decimal, rounded half to even at so many decimals, trailing zeros gone.

    >>> decimal_of(Fraction(1, 3), 4), decimal_of(Fraction(250), 4)
    (Decimal('0.3333'), Decimal('250'))
    """
    scaled = round(value * 10**places)
    while places and scaled % 10 == 0:
        scaled, places = scaled // 10, places - 1
    return Decimal(scaled).scaleb(-places, EXACT)


def plain(value: Decimal) -> str:
    """The number as people write it: no exponent, no trailing zeros, never minus nothing.

    >>> plain(Decimal("1E+3")), plain(Decimal("0.500")), plain(Decimal("-0.0"))
    ('1000', '0.5', '0')
    """
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
