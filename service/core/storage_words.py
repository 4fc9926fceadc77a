"""Figures and places of storage rows in words that never read milder than they are.

Doors: core/storage_areas.py, core/storage_limits.py, web/store_view.py.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import ceil, floor
from typing import Final

from service.core.storage_rules import Measure

_MOST_PLACES: Final = 6
_OUR_OWN: Final = ("the ", "storey ", "all rooms as one ", "all storeys as one ")


def shown(value: Fraction, *, up: bool) -> str:
    """A figure for a sentence, to four signs, or whole: what is counted is rounded ``up``, a limit down.

    So nothing reads milder than it is, and what is over a limit never reads as the limit itself.

    >>> [shown(Fraction(one), up=True) for one in ("54.43549", "60.000001", "60", "13200.5")]
    ['54.44', '60.01', '60', '13201']
    >>> shown(Fraction("2.641720"), up=False), shown(Fraction(1, 4), up=False)
    ('2.641', '0.25')
    """
    places, part = 0, abs(value)
    while part and part < 1000 and places < _MOST_PLACES:
        places, part = places + 1, part * 10
    tens = 10**places
    whole = ceil(value * tens) if up else floor(value * tens)
    text = f"{Decimal(whole) / tens:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def told(value: Fraction, unit: Measure, *, up: bool) -> str:
    """A figure with its unit; what is counted by the piece is one or several.

    >>> told(Fraction(5), Measure.GALLON, up=True), told(Fraction(1), Measure.CONTROL_AREAS, up=False)
    ('5 gal', '1 control area')
    """
    return f"{shown(value, up=up)} {unit_words(value, unit)}"


def unit_words(value: Fraction, unit: Measure) -> str:
    """The unit beside a figure: "cabinet" with one, "cabinets" with any other number."""
    counted = unit in (Measure.CABINETS, Measure.CONTROL_AREAS)
    return unit.value.removesuffix("s") if counted and value == 1 else unit.value


def begins(name: str) -> str:
    """A place at the beginning of a sentence; what people call it stays as they wrote it.

    >>> begins("the building"), begins("storey 1"), begins("annex")
    ('The building', 'Storey 1', 'annex')
    """
    return name[0].upper() + name[1:] if name.startswith(_OUR_OWN) else name
