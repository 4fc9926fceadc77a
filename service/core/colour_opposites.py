"""Which colour kills which: the opposite of a colour takes it back towards brown or grey.

Doors: web/pages/opposites.py.

The hue of a pigment is read from its Colour Index generic name (PR = pigment red, NG = natural green, …).
That red and green kill each other to brown is common practice, no source; the other two pairs are the
painters' circle of the same trade. How strongly is judged on the board, never worked out here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from service.core.written_numbers import ci_names


class Hue(StrEnum):
    """The hue letters of a Colour Index generic name that stand opposite to another."""

    RED = "red"
    ORANGE = "orange"
    YELLOW = "yellow"
    GREEN = "green"
    BLUE = "blue"
    VIOLET = "violet"


@dataclass(frozen=True)
class Opposite:
    """What takes a hue back, what the two make together, and what to watch."""

    hue: Hue
    makes: str


OPPOSITES: Final = {
    Hue.RED: Opposite(Hue.GREEN, "brown"),
    Hue.GREEN: Opposite(Hue.RED, "brown"),
    Hue.BLUE: Opposite(Hue.ORANGE, "a dull brown or grey"),
    Hue.ORANGE: Opposite(Hue.BLUE, "a dull brown or grey"),
    Hue.YELLOW: Opposite(Hue.VIOLET, "a dull brown"),
    Hue.VIOLET: Opposite(Hue.YELLOW, "a dull brown"),
}
SOURCE: Final = "common practice, no source"

_NAME: Final = re.compile(r"\b[PNSA](?P<hue>Bk|Br|[ROYGBVWM])\d+", re.IGNORECASE)
_LETTERS: Final = {
    "r": Hue.RED, "o": Hue.ORANGE, "y": Hue.YELLOW, "g": Hue.GREEN, "b": Hue.BLUE, "v": Hue.VIOLET,
}  # fmt: skip


def hue_of(generic_names: str) -> Hue | None:
    """The hue that all Colour Index names of a material share; None for brown, black, white, none, or mixed.

    >>> hue_of("PR101; PR102"), hue_of("PBr7"), hue_of("PBr7; PY43"), hue_of("")
    (<Hue.RED: 'red'>, None, None, None)
    >>> hue_of("C.I. Pigment Red 101"), hue_of("pr 101")
    (<Hue.RED: 'red'>, <Hue.RED: 'red'>)
    """
    written = (generic_names, *ci_names(generic_names))
    letters = {found["hue"].casefold() for text in written for found in _NAME.finditer(text)}
    return _LETTERS.get(letters.pop()) if len(letters) == 1 else None


def opposite_of(hue: Hue) -> Opposite:
    """What kills a hue.

    >>> opposite_of(Hue.RED).hue.value, opposite_of(Hue.RED).makes
    ('green', 'brown')
    """
    return OPPOSITES[hue]
