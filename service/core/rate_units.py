"""Units of rates: strength, coverage, air, vapour, gravity and degrees, with their exact sizes.

Doors: core/conversion.py.

Pound 453.59237 g, foot 0.3048 m, US gallon 3.785411784 l, imperial gallon 4.54609 l (NIST Handbook 44,
Appendix C; NIST SP 811, Appendix B; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from service.core.bench_writing import Ambiguous
from service.core.findings import Reading
from service.core.quantities import UnitSystem


@dataclass(frozen=True)
class Rate:
    """A unit of a rate: its name, what it measures, and its exact size in the first unit of that family."""

    key: str
    family: str
    factor: Fraction
    spellings: tuple[str, ...]


_LB_G: Final = Fraction("453.59237")
_GALLON_L: Final = {"US": Fraction("3.785411784"), "imperial": Fraction("4.54609")}
_FT: Final = Fraction("0.3048")


def _listed() -> tuple[Rate, ...]:
    rates = [
        Rate("g/l", "strength", Fraction(1), ("g/l", "g per l", "grams per litre", "g per litre")),
        Rate("°C", "temperature", Fraction(1), ("°c", "c", "deg c", "degc", "celsius", "degrees celsius")),
        Rate(
            "°F", "temperature", Fraction(1), ("°f", "f", "deg f", "degf", "fahrenheit", "degrees fahrenheit")
        ),
        Rate("m²/l", "coverage", Fraction(1), ("m2/l", "sq m/l", "m2 per l", "m2 per litre")),
        Rate("m³/h", "air", Fraction(1), ("m3/h", "m3/hr", "m3 per h", "m3 per hour")),
        Rate("cfm", "air", _FT**3 * 60, ("cfm", "ft3/min", "cu ft/min", "cubic feet per minute")),
        Rate("ppm", "vapour", Fraction(1), ("ppm", "parts per million")),
        Rate("vol%", "vapour", Fraction(10_000), ("vol%", "vol %", "% vol", "% by volume", "volume %")),
        Rate("mg/m³", "vapour", Fraction(1), ("mg/m3", "mg per m3")),
        Rate("SG", "gravity", Fraction(1), ("sg", "sg 60/60", "specific gravity")),
        Rate("°API", "gravity", Fraction(1), ("°api", "api", "deg api", "degapi", "degrees api")),
    ]
    for name, litres in _GALLON_L.items():
        words = (
            ("us gal", "us gallon")
            if name == "US"
            else ("imp gal", "imperial gal", "imperial gallon", "uk gal")
        )
        per = [sign + word for word in words for sign in ("/", " per ")]
        rates.append(Rate(f"lb/{name} gal", "strength", _LB_G / litres, tuple("lb" + end for end in per)))
        area = tuple(foot + end for foot in ("ft2", "sq ft", "sqft") for end in per)
        rates.append(Rate(f"ft²/{name} gal", "coverage", _FT**2 / litres, area))
    return tuple(rates)


_RATES: Final = {spelling: rate for rate in _listed() for spelling in rate.spellings}
_GALLONLESS: Final = {
    start + end: kind
    for kind, starts in (("lb", ("lb",)), ("ft²", ("ft2", "sq ft", "sqft")))
    for start in starts
    for end in ("/gal", "/gallon", " per gal", " per gallon")
}
BY_LENGTH: Final = sorted([*_RATES, *_GALLONLESS], key=len, reverse=True)
"""Every spelling, the longest first."""


def rate_for(spelling: str, system: UnitSystem | None, figures: str) -> Rate | None:
    """The rate unit so spelt. "lb/gal" without a system is asked; ``figures`` go into the readings.

    >>> rate_for("lb/gal", UnitSystem.US, "").key
    'lb/US gal'
    """
    if kind := _GALLONLESS.get(spelling):
        if system is None:
            raise _which_gallon(f"{figures} {kind}".strip())
        return _RATES[f"{'lb' if kind == 'lb' else 'ft2'}/{'us' if system is UnitSystem.US else 'imp'} gal"]
    return _RATES.get(spelling)


def _which_gallon(start: str) -> Ambiguous:
    readings = (
        Reading(f"{start}/US gal", "the US gallon of 3.785 l"),
        Reading(f"{start}/imperial gal", "the imperial gallon of 4.546 l"),
    )
    kept = {readings[0].text: {"gal": "us-gal"}, readings[1].text: {"gal": "imp-gal"}}
    return Ambiguous("Say which gallon is meant: the US or the imperial one.", readings, kept)
