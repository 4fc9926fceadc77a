"""A powder weighed by the level spoon: the shop's own loose density, which beats any table.

Doors: records/materials.py, actions/weigh_spoons.py, web/pages/material_facts.py.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

from service.core.bench_writing import read_written
from service.core.findings import Invalid
from service.core.materials import Basis, Form
from service.core.quantities import Quantity, UnitSystem, decimal_of

LOOSEST: Final = Decimal("0.02")
HEAVIEST: Final = Decimal(8)
"""g/ml; loose powders lie between fumed silica and red lead (common practice, no source)."""
_NUMBERS: Final = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "fifteen": 15, "twenty": 20,
}  # fmt: skip
_WEIGHED: Final = re.compile(r"\s*(?:\b(?:weighed|weighs|weigh|weighing)\b|=)\s*", re.IGNORECASE)
_LEVEL: Final = re.compile(r"\b(?:level|levelled|leveled|flat|loose|of powder)\b", re.IGNORECASE)
_SAYS: Final = "Write it like: ten level teaspoons weighed 23 g."


@dataclass(frozen=True)
class Weighing:
    """So many microlitres of loose powder weighed so many milligrams."""

    volume_ul: int
    mass_mg: int

    @property
    def g_ml(self) -> Decimal:
        """The loose density to four places.

        >>> Weighing(49_289, 23_000).g_ml
        Decimal('0.4666')
        """
        return decimal_of(Fraction(self.mass_mg, self.volume_ul), 4)


def read_weighing(text: str, *, system: UnitSystem | None = None) -> Weighing:
    """What a line such as "ten level teaspoons weighed 23 g" says.

    Raises Invalid for a text without both, for figures outside 0.02 to 8 g/ml, and Ambiguous for a cup or an
    ounce that can be two things.

    >>> read_weighing("ten level teaspoons weighed 23 g", system=UnitSystem.US)
    Weighing(volume_ul=49289, mass_mg=23000)
    """
    parts = _WEIGHED.split(text.strip())
    if len(parts) != 2:
        raise Invalid(_SAYS)
    volume = _one(_spoons(parts[0]), Basis.VOLUME, system)
    mass = _one(parts[1], Basis.MASS, system)
    found = Weighing(round(volume.smallest), round(mass.smallest))
    if found.volume_ul <= 0 or found.mass_mg <= 0:
        raise Invalid(_SAYS)
    if not LOOSEST <= found.g_ml <= HEAVIEST:
        raise Invalid(f"That would be {found.g_ml:f} g/ml, which no loose powder weighs. Check both figures.")
    return found


def _spoons(text: str) -> str:
    words = _LEVEL.sub(" ", text).split()
    if words and words[0].lower() in _NUMBERS:
        words[0] = str(_NUMBERS[words[0].lower()])
    return " ".join(words)


def _one(text: str, basis: Basis, system: UnitSystem | None) -> Quantity:
    written = read_written(text, form=Form.POWDER, system=system)
    low, high = written.low, written.high
    if low is None or high is None or low != high or written.about or high.basis is not basis:
        raise Invalid(_SAYS)
    return high
