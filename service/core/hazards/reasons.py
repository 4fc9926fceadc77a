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
# A sentence that rounds up to one of these would say more than is so.
_EDGES = (Decimal(1), Decimal(100))


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


def in_words(number: Decimal, *edges: Decimal) -> str:
    """A figure for a sentence: three significant figures, and never rounded onto 1, 100 or one of ``edges``.

    >>> in_words(Decimal("69.3704")), in_words(Decimal("0.55032138")), in_words(Decimal("99.97"))
    ('69.4', '0.55', '99.97')
    >>> in_words(Decimal("9.9996"), Decimal(10))
    '9.9996'
    """
    if number == 0:
        return "0"
    rounded = number
    for figures in (3, 4, 5, 6):
        rounded = round(number, max(figures - 1 - number.adjusted(), 0))
        if not any((number < edge <= rounded) or (rounded <= edge < number) for edge in (*_EDGES, *edges)):
            break
    else:
        rounded = number
    whole = rounded == rounded.to_integral()
    return f"{rounded.to_integral() if whole else rounded.normalize():f}"
