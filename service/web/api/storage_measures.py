"""Temperatures, volumes, masses, areas and lengths of a storage question, in the units it is written in."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Annotated, Any, Final

from pydantic import BeforeValidator, Field

from service.core.storage_ladders import Temperature
from service.core.storage_pairs import METRES_PER_FOOT
from service.core.storage_rules import KG_PER_POUND, LITRES_PER_GALLON
from service.web.api_model import ApiModel

Size = Annotated[Decimal, Field(ge=0, le=1_000_000_000)]


class TemperatureUnit(StrEnum):
    """Degrees Fahrenheit or Celsius."""

    F = "F"
    C = "C"


class VolumeUnit(StrEnum):
    """US gallons, quarts and pints; litres, millilitres."""

    GALLON = "gal"
    QUART = "qt"
    PINT = "pt"
    LITRE = "l"
    MILLILITRE = "ml"


class MassUnit(StrEnum):
    """Pounds, kilograms, grams."""

    POUND = "lb"
    KILOGRAM = "kg"
    GRAM = "g"


class AreaUnit(StrEnum):
    """Square feet or metres."""

    FEET = "ft2"
    METRES = "m2"


class LengthUnit(StrEnum):
    """Feet; metres, centimetres, millimetres: the fire code prints 6,096 mm."""

    FEET = "ft"
    METRES = "m"
    CENTIMETRES = "cm"
    MILLIMETRES = "mm"


_ALSO_WRITTEN: Final = {
    "°f": "F", "°c": "C", "us-gal": "gal", "gallon": "gal", "gallons": "gal", "quart": "qt", "pint": "pt",
    "litre": "l", "litres": "l", "liter": "l", "liters": "l", "lbs": "lb", "pounds": "lb", "sqft": "ft2",
    "sq-ft": "ft2", "ft²": "ft2", "sqm": "m2", "sq-m": "m2", "m²": "m2", "feet": "ft",
}  # fmt: skip
_LITRES: Final = {
    VolumeUnit.GALLON: LITRES_PER_GALLON,
    VolumeUnit.QUART: LITRES_PER_GALLON / 4,
    VolumeUnit.PINT: LITRES_PER_GALLON / 8,
    VolumeUnit.LITRE: Fraction(1),
    VolumeUnit.MILLILITRE: Fraction(1, 1000),
}
_FEET: Final = {
    LengthUnit.FEET: Fraction(1),
    LengthUnit.METRES: 1 / METRES_PER_FOOT,
    LengthUnit.CENTIMETRES: 1 / METRES_PER_FOOT / 100,
    LengthUnit.MILLIMETRES: 1 / METRES_PER_FOOT / 1000,
}
_KILOGRAMS: Final = {
    MassUnit.POUND: KG_PER_POUND,
    MassUnit.KILOGRAM: Fraction(1),
    MassUnit.GRAM: Fraction(1, 1000),
}


def _unit(value: Any) -> Any:
    """A unit by another of its names. A gallon is the US gallon here."""
    if not isinstance(value, str):
        return value
    word = value[:20].strip().lower().replace("_", "-").replace(" ", "-")
    return _ALSO_WRITTEN.get(word, value)


class TemperatureIn(ApiModel):
    value: Annotated[Decimal, Field(ge=-500, le=5000)]
    unit: Annotated[TemperatureUnit, BeforeValidator(_unit)]

    def known(self) -> Temperature:
        return Temperature(Fraction(self.value), self.unit.value)


class VolumeIn(ApiModel):
    value: Size
    unit: Annotated[VolumeUnit, BeforeValidator(_unit)]

    def litres(self) -> Fraction:
        return Fraction(self.value) * _LITRES[self.unit]


class MassIn(ApiModel):
    value: Size
    unit: Annotated[MassUnit, BeforeValidator(_unit)]

    def kilograms(self) -> Fraction:
        return Fraction(self.value) * _KILOGRAMS[self.unit]


class AreaIn(ApiModel):
    value: Size
    unit: Annotated[AreaUnit, BeforeValidator(_unit)]

    def square_feet(self) -> Fraction:
        return Fraction(self.value) / (METRES_PER_FOOT**2 if self.unit is AreaUnit.METRES else 1)


class LengthIn(ApiModel):
    value: Size
    unit: Annotated[LengthUnit, BeforeValidator(_unit)]

    def feet(self) -> Fraction:
        return Fraction(self.value) * _FEET[self.unit]
