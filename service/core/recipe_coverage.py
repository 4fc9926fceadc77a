"""How far a litre of a mix goes, and how much of it an area takes; of a range the low end counts.

Doors: core/recipe_amounts.py, actions/write_recipe.py, actions/meet_amount.py, web/pages/recipes.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.bench_writing import read_figure
from service.core.findings import Invalid
from service.core.quantities import UnitSystem, plain
from service.core.rate_units import BY_LENGTH, rate_for

LEAST_M2_L: Final = Decimal("0.01")
MOST_M2_L: Final = Decimal(1000)
MOST_M2: Final = 1_000_000
MOST_COATS: Final = 20
_PLACES: Final = 6
_FOOT_M: Final = Fraction("0.3048")
_AREA_UNITS: Final = {
    "m2": Fraction(1), "sq m": Fraction(1), "square metre": Fraction(1), "square metres": Fraction(1),
    "square meter": Fraction(1), "square meters": Fraction(1),
    "ft2": _FOOT_M**2, "sq ft": _FOOT_M**2, "sqft": _FOOT_M**2, "square foot": _FOOT_M**2,
    "square feet": _FOOT_M**2,
}  # fmt: skip
_UNITS: Final = "|".join(sorted(map(re.escape, _AREA_UNITS), key=len, reverse=True))
_AREA: Final = re.compile(
    rf"(?P<figure>\S.*?)\s*(?P<unit>{_UNITS})\s*(?:[,;x×]?\s*(?P<coats>[0-9]{{1,3}})\s*coats?)?"
)


@dataclass(frozen=True)
class Coverage:
    """As written, and in square metres per litre from ``low`` to ``high``, for one coat."""

    written: str
    low: Decimal
    high: Decimal


@dataclass(frozen=True)
class Area:
    """As written, in square metres, and in how many coats."""

    written: str
    m2: Fraction
    coats: int = 1


def read_coverage(text: str, *, system: UnitSystem | None = None) -> Coverage | None:
    """ "5 to 9.8 m2/l" or "200 to 400 ft2/gal"; None for an empty text.

    Feet to the gallon are rounded down at six places. Raises Invalid (field ``coverage``) for what is no
    coverage or lies outside 0.01 to 1000 m²/l, and Ambiguous for a gallon that may be two.

    >>> read_coverage("5 to 9.8 m2/l")
    Coverage(written='5 to 9.8 m²/l', low=Decimal('5'), high=Decimal('9.8'))
    """
    bare = _bare(text)
    if not bare:
        return None
    try:
        return _coverage(bare, system)
    except Invalid as wrong:
        wrong.errors.setdefault("coverage", wrong.sentence)
        raise


def _coverage(bare: str, system: UnitSystem | None) -> Coverage:
    spelling = next((one for one in BY_LENGTH if bare.endswith(one)), "")
    figures = bare.removesuffix(spelling).strip()
    rate = rate_for(spelling, system, figures) if figures else None
    if rate is None or rate.family != "coverage":
        raise Invalid("Write how far a litre goes, such as 5 to 9.8 m2/l or 200 to 400 ft2/US gal.")
    low, high = read_figure(figures)
    in_metres = [_rounded(Fraction(end) * rate.factor) for end in (low, high)]
    if not LEAST_M2_L <= in_metres[0] <= in_metres[1] <= MOST_M2_L:
        raise Invalid("How far a litre goes lies between 0.01 and 1000 m2/l. Check figure and unit.")
    span = plain(low) if low == high else f"{plain(low)} to {plain(high)}"
    return Coverage(f"{span} {rate.key}", in_metres[0], in_metres[1])


def read_area(text: str) -> Area | None:
    """ "12 m2" or "40 ft2, 2 coats"; None for a text that is no area at all. Of a range the upper end counts.

    Raises Invalid for nothing, for more than a million square metres, and for more than 20 coats.

    >>> read_area("40 ft2, 2 coats").coats, read_area("500 ml")
    (2, None)
    """
    found = _AREA.fullmatch(_bare(text))
    if found is None:
        return None
    _, figure = read_figure(found["figure"])
    coats = int(found["coats"] or 1)
    size = Fraction(figure) * _AREA_UNITS[found["unit"]]
    if not 0 < size <= MOST_M2:
        raise Invalid(f"Write an area above nothing and of at most {MOST_M2} m2.")
    if not 1 <= coats <= MOST_COATS:
        raise Invalid(f"Write 1 to {MOST_COATS} coats.")
    unit = "m2" if _AREA_UNITS[found["unit"]] == 1 else "ft2"
    more = f", {coats} coats" if coats > 1 else ""
    return Area(f"{plain(figure)} {unit}{more}", size, coats)


def microlitres_for(area: Area, coverage: Coverage) -> tuple[int, int]:
    """What an area takes, least and most, in whole microlitres, rounded up; the most is what is made.

    >>> microlitres_for(Area("10 m2", Fraction(10), 2), Coverage("", Decimal(5), Decimal(10)))
    (2000000, 4000000)
    """
    whole = area.m2 * area.coats * 1_000_000
    return ceil(whole / Fraction(coverage.high)), ceil(whole / Fraction(coverage.low))


def _rounded(value: Fraction) -> Decimal:
    return Decimal(floor(value * 10**_PLACES)).scaleb(-_PLACES).normalize() + 0


def _bare(text: str) -> str:
    return " ".join(text.replace("²", "2").casefold().split())
