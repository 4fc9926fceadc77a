"""Why a class is there: the rule, its paragraph, the sum, the limit, and which ingredients brought it.

Doors: core/hazards/classify.py and every family beside it; web/api/calc_classify.py.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.core.hazards.classes import Hazard
from service.core.sources import Provenance

# Quotients such as 1/3 + 2/3 fall short of 1 by a digit in the 28th place: never on the mild side of a limit.
NEARLY = Decimal("1e-18")


@dataclass(frozen=True)
class Because:
    """One comparison with a limit. ``sum`` and ``limit`` are in ``unit``; None where no figure is
    compared.
    """

    rule: str
    paragraph: str
    sum: Decimal | None
    limit: Decimal | None
    ingredients: tuple[str, ...]
    unit: str = "%"
    provenance: Provenance = Provenance.READ
    reached: bool = True


@dataclass(frozen=True)
class Reached:
    """A hazard class of the mix and one reason for it."""

    hazard: Hazard
    because: Because


def shown(number: Decimal | None) -> Decimal | None:
    """A figure short enough to read: six significant figures, no trailing zeros.

    >>> shown(Decimal("1880.1096"))
    Decimal('1880.11')
    """
    if number is None:
        return None
    if number == 0:
        return Decimal(0)
    places = max(5 - number.adjusted(), 0)
    rounded = round(number, places)
    return rounded.normalize() if rounded != rounded.to_integral() else Decimal(int(rounded))
